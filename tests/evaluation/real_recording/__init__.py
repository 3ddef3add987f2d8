"""A real person in front of four calibrated cameras: what one camera alone makes of him.

The recording is the demo data of Pose2Sim (BSD-3-Clause; D. Pagnon, M. Domalain, L. Reveret:
"Pose2Sim: an end-to-end workflow for 3D markerless sports kinematics", Sensors 21(19), 2021,
and "Pose2Sim: an open-source Python package for multiview markerless kinematics", Journal of
Open Source Software 7(77), 2022). It is read out of the published wheel and not copied here.

The reference of the hips is two reflecting markers on his pelvis, triangulated from the two
cameras that see both (`markers`), so no pose model takes part in it. That of shoulders and feet is
triangulated from all four cameras, with the landmarks of the heavy model, so it shares no camera's
depth estimate. What they are worth is printed beside the figures.
"""
