"""Headers to columns: by the contract's own names, by a map, else by phrase and unit.

Never greedy: a header that may mean two things, or carries a unit that the table does not
have, is kept as it is, and a note asks for a decision.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from survey.columns import FINDING_NAMES, INPUT_BY_NAME
from survey.readings.header_cells import (
    by_cells,
    may_be,
    none_reads,
    seem_units,
    types_and_devices,
    unit_in_cells,
)
from survey.readings.limits import MAX_HEADER_CHARACTERS
from survey.readings.model import HeaderMap, HeaderMatch, How
from survey.readings.names import (
    COLUMNS_BESIDE_A_UNIT,
    COLUMNS_BY_PHRASE,
    LAST_PHRASES,
    WEAK_PHRASES,
    column_by_first_words,
    phrase,
)
from survey.readings.units import CONTRACT_UNIT, VARIANTS, Unit, find_unit, is_of_a_reading, is_unit

_BRACKETED = re.compile(r"^(.*?)\s*[(\[{]\s*(.*?)\s*[)\]}]+\s*$", re.S)
_AFTER_MARK = re.compile(r"^(.*\S)\s*[,;:|/–—-]\s*(\S+(?: \S+)?)$", re.S)
_UNIT_SIGN = re.compile(r"[\"”″'’′%‰°º℃℉$€£]")
_PARTNERS = {"inlet": "outlet", "outlet": "inlet"}
_WEAKEST = 9
_ASK = "kept as it is: say which column it is with a header map"


@dataclass(frozen=True)
class Claim:
    """One header's claim on a column; the lowest strength wins, then the first in the file."""

    match: HeaderMatch
    unit: Unit | None = None
    strength: int = _WEAKEST
    note: str = ""


def match_headers(
    headers: Sequence[str],
    samples: Mapping[str, Sequence[str]],
    *,
    units: Mapping[str, str] | None = None,
    header_map: HeaderMap | None = None,
) -> tuple[list[Claim], list[str]]:
    """Understand a table's headers.

    Parameters
    ----------
    headers
        Unique, in file order.
    samples
        Some cells of each header as text; they decide between columns of unlike kind.
    units
        Units from a row under the header, by header.
    header_map
        Header as written to contract column, variant, or '' to keep it as it is.

    Returns
    -------
    claims, notes
        One claim per header, in order: at most one per column; and what to tell a person.
    """
    named = {_squeeze(key): value for key, value in (header_map or {}).items()}
    claims = []
    for header in headers:
        cells = samples.get(header, ())
        claim = _claim(header, cells, (units or {}).get(header, ""), named)
        shown = next((cell for cell in cells if cell.strip()), "")[:80]
        claims.append(replace(claim, match=replace(claim.match, sample=shown)))
    claims = _pair_ends(claims)
    claims, clashes = _one_per_column(claims)
    return claims, [claim.note for claim in claims if claim.note] + clashes


def recognised(header: str, header_map: HeaderMap | None = None) -> bool:
    """Say whether a cell could be a header of a round: by name, map or phrase."""
    if len(header) > MAX_HEADER_CHARACTERS:
        return False
    named = {_squeeze(key) for key in header_map or ()}
    squeezed = header = _squeeze(header)
    if squeezed in named or squeezed in INPUT_BY_NAME or squeezed in VARIANTS:
        return True
    bracketed = _BRACKETED.match(header)
    return any(
        (name in COLUMNS_BY_PHRASE and (not unit or is_unit(unit) or bool(bracketed)))
        or bool(_beside_a_unit(name, unit, ()))
        for name, unit in readings_of(header)
        if name
    )


def _squeeze(text: str) -> str:
    return " ".join(text.split())


def _kept(header: str, note: str = "") -> Claim:
    return Claim(HeaderMatch(header, None, "", "kept as it is"), note=note)


def _taken(header: str, column: str, unit: Unit | None, how: How, strength: int) -> Claim:
    name = unit.name if unit else ""
    return Claim(HeaderMatch(header, column, name, how), unit, strength)


def _claim(header: str, cells: Sequence[str], under: str, named: Mapping[str, str]) -> Claim:
    squeezed = _squeeze(header)
    if squeezed in named:
        return _by_map(header, named[squeezed], under)
    if squeezed in INPUT_BY_NAME:
        return _contradicted(_by_name(header, squeezed, CONTRACT_UNIT.get(squeezed), 1), under)
    if squeezed in VARIANTS:
        return _contradicted(_by_name(header, *VARIANTS[squeezed], 2), under)
    return _by_phrase(header, cells, under)


def _by_name(header: str, column: str, unit: Unit | None, strength: int) -> Claim:
    return _taken(header, column, unit, "exact", strength)


def _by_map(header: str, column: str, under: str) -> Claim:
    if not column:
        return Claim(HeaderMatch(header, None, "", "set by map"))
    if column in VARIANTS:
        return _taken(header, *VARIANTS[column], "set by map", 0)
    # The map says what it is; its unit is still the one written beside it, if there is one.
    written = [unit for _, unit in readings_of(header) if unit] + [under]
    units = (find_unit(text, column) for text in written)
    unit = next((unit for unit in units if unit), CONTRACT_UNIT.get(column))
    return _taken(header, column, unit, "set by map", 0)


def _contradicted(claim: Claim, under: str) -> Claim:
    column, header = claim.match.column or "", claim.match.header
    if not under or claim.unit is None or not is_unit(under):
        return claim
    below = find_unit(under, column)
    if below is not None and below.name == claim.unit.name:
        return claim
    return _kept(
        header, f"{header!r} has the unit {under!r} under it, which contradicts its name; {_ASK}"
    )


def readings_of(header: str) -> list[tuple[str, str]]:
    """List the ways to part a header into phrase and unit, the surest first."""
    # A phrase drops signs; one that is a unit, or could be, must not be lost in it.
    ways = [] if _UNIT_SIGN.search(header) else [(phrase(header), "")]
    if found := _BRACKETED.match(header):
        ways.append((phrase(found[1]), found[2]))
    if found := _AFTER_MARK.match(header):
        ways.append((phrase(found[1]), found[2]))
    words = header.replace("_", " ").split()
    for count in (1, 2, 3):
        # What no sign sets apart is a unit only if it is spelt as one.
        if len(words) >= count and is_unit(last := " ".join(words[-count:])):
            ways.append((phrase(" ".join(words[:-count])), last))
    # 'In' before a word is the inlet, not an inch.
    if len(words) > 1 and is_of_a_reading(words[0]):
        ways.append((phrase(" ".join(words[1:])), words[0]))
    return ways


def _beside_a_unit(name: str, unit_text: str, cells: Sequence[str]) -> list[str]:
    """List the columns that a phrase too short to mean one means by the unit beside it."""
    columns = COLUMNS_BESIDE_A_UNIT.get(name, ())
    return [c for c in columns if find_unit(unit_text, c) and may_be(c, cells)]


def _by_phrase(header: str, cells: Sequence[str], under: str) -> Claim:
    if _squeeze(header) in FINDING_NAMES:
        return _kept(header)
    unknown = ""
    marked = bool(_BRACKETED.match(header) or _AFTER_MARK.match(header))
    ways = readings_of(header)
    for name, unit_text in ways:
        columns = COLUMNS_BY_PHRASE.get(name)
        if columns is None or (not name and not _is_bare_unit(unit_text)):
            continue
        numeric = [column for column in columns if column in CONTRACT_UNIT]
        if unit_text and not any(find_unit(unit_text, column) for column in numeric):
            if numeric:
                unknown = unknown or unit_text
                continue
            if len(unit_text) > 1 and is_unit(unit_text):
                continue
        elif not numeric and _beside_a_unit(name, under, cells):
            continue
        return _choose(header, name, columns, unit_text or under, cells)
    for name, unit_text in ways:
        if beside := _beside_a_unit(name, unit_text or under, cells):
            claim = _choose(header, name, beside, unit_text or under, cells)
            return replace(claim, strength=_WEAKEST)
    if column := column_by_first_words(phrase(header)):
        claim = _taken(header, column, None, "by name and unit", _WEAKEST)
        return replace(claim, note=f"{header!r} was taken as {column}, by its first words")
    if unknown and marked:
        return _kept(
            header,
            f"{header!r} has {unknown!r} where a unit was expected, "
            f"which is not in the table of units; {_ASK}",
        )
    return _kept(header)


def _is_bare_unit(text: str) -> bool:
    # 'c' or 'm' alone is a letter; '°C' or 'psig' alone is a unit.
    return is_unit(text) and not (len(text) == 1 and text.isalpha())


def _choose(
    header: str, name: str, columns: Sequence[str], unit_text: str, cells: Sequence[str]
) -> Claim:
    if unit_text:
        fitting = [column for column in columns if find_unit(unit_text, column)]
        if not fitting and any(column in CONTRACT_UNIT for column in columns):
            return _kept(
                header, f"{header!r} has the unit {unit_text!r}, which it cannot be read in; {_ASK}"
            )
        columns = fitting or columns
    if len(columns) > 1:
        columns = types_and_devices(columns, cells) or by_cells(columns, cells)
    if len(columns) != 1:
        words = " or ".join(columns)
        return _kept(header, f"{header!r} may be {words}; {_ASK}")
    if name == "unit" and seem_units(cells):
        return _kept(header)  # a column of units names no equipment
    if not unit_text and none_reads(columns[0], cells):
        return _kept(
            header, f"{header!r} looks like {columns[0]}, but nothing under it reads so; {_ASK}"
        )
    return _phrase_claim(header, name, columns[0], unit_text, cells)


def _phrase_claim(
    header: str, name: str, column: str, unit_text: str, cells: Sequence[str]
) -> Claim:
    usual = CONTRACT_UNIT.get(column)
    given = find_unit(unit_text, column) or (unit_in_cells(column, cells) if usual else None)
    unit = given or usual
    one_unit = column in ("hours_per_year", "sound_db", "background_db")
    sure = unit is None or bool(given) or one_unit
    strength = 3 + 2 * (name in WEAK_PHRASES) + 4 * (name in LAST_PHRASES) + (not sure)
    return _taken(header, column, unit, "by name and unit" if sure else "unit assumed", strength)


def _pair_ends(claims: list[Claim]) -> list[Claim]:
    """Let a bare 'Upstream' or 'Downstream' follow its partner, if that one is a temperature."""
    taken = {claim.match.column for claim in claims}
    result = []
    for claim in claims:
        name, header = phrase(claim.match.header), claim.match.header
        partner = f"{_PARTNERS.get(name, '')}_temp_f"
        own = f"{name}_temp_f"
        if name in _PARTNERS and claim.note and partner in taken and own not in taken:
            unit = next(c.unit for c in claims if c.match.column == partner)
            note = f"{header!r} was taken as {own}, like its partner"
            claim = replace(_taken(header, own, unit, "unit assumed", 6), note=note)
        result.append(claim)
    return result


def _one_per_column(claims: list[Claim]) -> tuple[list[Claim], list[str]]:
    winners: dict[str, int] = {}
    for position, claim in enumerate(claims):
        column = claim.match.column
        if column is None:
            continue
        best = winners.get(column)
        if best is None or claim.strength < claims[best].strength:
            winners[column] = position
    result, notes = [], []
    for position, claim in enumerate(claims):
        column = claim.match.column
        if column is not None and winners[column] != position:
            first = claims[winners[column]].match.header
            notes.append(
                f"{claim.match.header!r} also looks like {column}, which "
                f"{first!r} fills; it was kept as it is"
            )
            claim = _kept(claim.match.header)
        result.append(claim)
    return result, notes
