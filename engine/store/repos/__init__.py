"""Repositories: they build statements and speak through the unit of work's link; none of them ever commits."""
