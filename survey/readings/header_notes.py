"""What is told of units that were taken for granted."""

from __future__ import annotations

from collections.abc import Sequence

from survey.readings.headers import Claim


def assumed_unit_notes(claims: Sequence[Claim]) -> list[str]:
    """Say which units were taken for granted: neither header, units row nor map names one."""
    assumed = [c for c in claims if c.match.how == "unit assumed" and c.match.unit]
    if not assumed:
        return []
    named = ", ".join(f"{c.match.header!r} as {c.match.unit}" for c in assumed)
    return [
        f"no unit is given, so it was assumed: {named}; where that is wrong, set it with a "
        "header map"
    ]


def assumed_gauge_notes(claims: Sequence[Claim]) -> list[str]:
    """Say which pressures were taken as gauge because their unit does not tell."""
    return [
        f"{c.match.header!r} was taken as gauge pressure, not absolute"
        for c in claims
        if c.unit and c.unit.assumed_gauge and c.match.how != "exact"
    ]
