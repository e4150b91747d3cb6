"""Tests of the odds: every question against `enumerated`, which lists all outcomes without the engine."""
