"""What the tool makes of people rendered in another way (`tests/rendering/path_traced`).

Each still is read as a clip's frame is: pose model, rectified crops, orientation network, measures
with their standard errors, with the true camera. No network has learned from these pictures; the
weights of the feet's standard errors were fitted on the tune part.
"""
