"""Clips in and videos out; the only package that knows PyAV."""
