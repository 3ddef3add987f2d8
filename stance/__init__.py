"""Measure how a badminton defender waits for the smash, from one phone clip."""

__version__ = "0.2.0"
