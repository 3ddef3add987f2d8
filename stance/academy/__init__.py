"""Many clips: roster in, each clip analysed once over several workers, habits and flags out."""
