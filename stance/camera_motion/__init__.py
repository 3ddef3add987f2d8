"""How the camera moved: sway taken out, knocks cut, the still background."""
