"""From a pose to angles, distances, classes and their probabilities."""
