"""Figures taken from published sources, the scripts that took them, and the tests that hold them together."""
