"""The result of one clip and its files."""
