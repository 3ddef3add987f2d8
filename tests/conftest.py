"""Settings shared by all tests."""

import os

from hypothesis import settings

# Tests read English, whatever language their reader has.
os.environ["LANGUAGE"] = "en"

# Machines differ in speed; a slow one must not fail a property.
settings.register_profile("stance", deadline=None)
settings.load_profile("stance")
