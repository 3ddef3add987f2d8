"""Many clips: a roster screened for players who wait over-side-on as a habit."""
