"""Training of the correction: rendered stills, what the pose models see in them, and the fit."""
