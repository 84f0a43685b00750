"""No property is judged by a clock: a machine shared by many is slow now and then."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("no_deadline", deadline=None)
settings.load_profile("no_deadline")
