"""What is told of headers: units taken for granted, readings that are not used."""

from __future__ import annotations

from collections.abc import Sequence

from survey.columns import FINDING_NAMES
from survey.readings.headers import Claim, match_headers, readings_of
from survey.readings.units import is_of_a_reading

DEVICES_UNUSED = "so every device was taken for a steam trap"
LEVELS_UNUSED = "so no device was judged by how loud it is"


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


def levels_passed_over(claims: Sequence[Claim]) -> list[str]:
    """Warn of a second background where no level of the devices was found: it may be that."""
    filled = {claim.match.column: claim.match.header for claim in claims}
    if "background_db" not in filled or "sound_db" in filled:
        return []
    return [
        f"{claim.match.header!r} and {filled['background_db']!r} both look like background_db, "
        f"{LEVELS_UNUSED}: set the one that is its level to 'sound_db' with a header map"
        for claim in claims
        if claim.match.column is None and claim.match.how != "set by map"
        and match_headers([claim.match.header], {})[0][0].match.column == "background_db"
    ]  # fmt: skip


def seems_a_reading(header: str) -> bool:
    """Say whether a header that no column was found for names a temperature, pressure or level."""
    (claim,), _ = match_headers([header], {})
    if header.strip() in FINDING_NAMES or claim.match.column:
        return False
    return any(name and is_of_a_reading(unit) for name, unit in readings_of(header))
