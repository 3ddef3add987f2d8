"""Finds the court's lines in a still picture, and the camera that saw them."""
