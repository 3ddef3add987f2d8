"""Who is in the picture: poses, players, each followed through the clip."""
