"""From what was seen of the players to measured, classed ready positions and notices."""
