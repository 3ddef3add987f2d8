"""Many clips: a roster screened for players who stand over-side-on as a habit."""
