"""Pieces of the front end without a subject of their own."""
