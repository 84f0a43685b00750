"""No property is judged by a clock: a machine shared by many is slow now and then.

Under continuous integration (the variable CI) the examples are the same at every run, so that a
change is judged by what it changed; everywhere else each run draws new ones.
"""

from __future__ import annotations

import os

from hypothesis import settings

from tests.chromium import browser

__all__ = ["browser"]  # the fixture

settings.register_profile("everyone", deadline=None)
settings.register_profile("same_every_time", deadline=None, derandomize=True)
settings.load_profile("same_every_time" if os.environ.get("CI") else "everyone")
