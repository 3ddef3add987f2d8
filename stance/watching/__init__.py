"""The one pass over a clip: follow everybody, look closely where somebody waits."""
