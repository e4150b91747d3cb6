"""The commands of `buildmoot` that work on files and need no server: one module each."""
