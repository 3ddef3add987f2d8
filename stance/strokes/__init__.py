"""Strokes: when each side strikes, from both sides' motion and the sound."""
