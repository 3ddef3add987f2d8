"""Settings shared by all tests."""

import os
import signal

from hypothesis import settings

# Tests read English, whatever language their reader has.
os.environ["LANGUAGE"] = "en"

# Whoever runs the tests in the background may ignore Ctrl-C.
signal.signal(signal.SIGINT, signal.default_int_handler)

# Machines differ in speed; a slow one must not fail a property.
settings.register_profile("stance", deadline=None)
settings.load_profile("stance")
