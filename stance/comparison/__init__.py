"""Before and after: what changed in a player's stances, and how sure that is."""
