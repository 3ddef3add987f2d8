"""The one pass over a clip: track everybody, observe closely where somebody waits."""
