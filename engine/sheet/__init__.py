"""Numbers of a build at a level, each with its reasons."""
