"""Numbers that following players is tuned by."""

# Doubles: a half court holds two players.
MOST_PLAYERS = 2
