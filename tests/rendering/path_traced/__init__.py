"""A second way of rendering: path traced, with shoes, clothes, halls and pictures of its own.

What the tool makes of people must not depend on how the first renderer draws them. Bodies and
their posing are the first one's (`body`, `kinematics`); whatever else is seen is made otherwise:
shoes of other soles, heels and outlines, loose and folded cloth, light that bounces, sun through
windows, a glossy floor that mirrors, another camera's curve. Every picture is a function of its
seed and part.

Blender's Python module `bpy` traces the rays. It needs a Python and a NumPy of its own, so it runs
as a program of its own (`tracer`) over files that `scenes` writes; nothing else knows it.
"""
