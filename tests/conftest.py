"""Settings shared by all tests."""

from hypothesis import settings

# Machines differ in speed; a slow one must not fail a property.
settings.register_profile("stance", deadline=None)
settings.load_profile("stance")
