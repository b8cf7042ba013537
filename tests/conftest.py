"""Settings for the whole suite."""

from __future__ import annotations

import os

from hypothesis import settings

# The first call may import lmfit, which alone takes longer than the usual deadline.
settings.register_profile("local", deadline=None)
# On a build machine the same examples every time: a red run means a change.
settings.register_profile("ci", deadline=None, derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "local")
