"""What all tests share."""

import os

from hypothesis import settings

# Time per example depends on the machine; in CI the examples are the same in every run.
settings.register_profile("here", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "here")
