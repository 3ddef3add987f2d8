"""Shares, intervals and tests for ready positions that resemble each other."""
