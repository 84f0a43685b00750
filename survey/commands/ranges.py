"""Numbers on the command line that must be numbers."""

from __future__ import annotations

import math
from typing import Any

import click


class FiniteRange(click.FloatRange):
    """A range that 'nan' is outside of: click's own lets it through every bound."""

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Return the number; fails as click does for one that is not finite or out of range."""
        number = float(super().convert(value, param, ctx))
        if not math.isfinite(number):
            self.fail(f"{value!r} is not a number.", param, ctx)
        return number
