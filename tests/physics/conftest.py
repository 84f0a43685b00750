"""The first call of a reference library loads its tables, which no deadline should judge."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("no_deadline", deadline=None)
settings.load_profile("no_deadline")
