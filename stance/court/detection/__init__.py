"""Finds the court's lines in a still picture, and the camera that saw them.

In the order of the work, begun in `detect`: `stripes` are pairs of edges of one colour; `axes` are
the two directions in which they run; `families` are the lines of one direction, and which painted
lines they may be; a reading (`readings`, compared by `scoring`) is a hypothesis which painted line
each stripe is; `fitting` fits a camera to it, in the end by the lines' `edges`; `judging` measures
what it explains, the `net_tape` included; `deciding` chooses one and says how sure it is. `feet`
tells where people stand, so that of several courts the one that is played on is taken.
"""
