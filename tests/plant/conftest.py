from __future__ import annotations

from tests.apps import packages_looked_through_once

__all__ = ["packages_looked_through_once"]  # the fixture
