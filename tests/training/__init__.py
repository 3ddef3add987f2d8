"""Training of the networks in `models/`: rendered pictures with their truth, and the fits."""
