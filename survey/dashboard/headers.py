"""What a file's headers were taken for, what of it needs a person, and the corrections."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable

from survey.columns import INPUT_BY_NAME, INPUT_NAMES, READING_NAMES
from survey.dashboard.judging import Upload, on_disk
from survey.dashboard.wording import opening_words
from survey.readings import HeaderMatch, Understanding, load_header_map, understand
from survey.readings.units import CONTRACT_UNIT, VARIANTS, find_unit, is_unit

NOTHING_READ = Understanding((), ())
KEPT = ""
_BETWEEN = re.compile(r"[\s,;:()\[\]]+")
_NUMBER = re.compile(r"[<>~≈-]?\s*\d[\d.,]*\s*\S{0,6}$")


def headers_of(upload: Upload, header_map: dict[str, str] | None = None) -> Understanding:
    """Read the headers of an upload; raises SurveyError."""
    with on_disk(upload) as path:
        return understand(path, header_map=header_map or None)


def targets() -> list[str]:
    """Return what a header can be set to: nothing, or a column in any unit that is read."""
    by_column = {name: [name] for name in INPUT_NAMES}
    for variant, (column, _) in VARIANTS.items():
        by_column[column].append(variant)
    return [KEPT, *(target for names in by_column.values() for target in names)]


def targets_for(match: HeaderMatch) -> list[str]:
    """Return what a header can be set to, first what is read in the unit that it names."""
    spelled = _units_in(match.header)
    fits = {target for target in targets() if any(_reads(target, unit) for unit in spelled)}
    return sorted(targets(), key=lambda target: (target != KEPT, target not in fits))


def _units_in(header: str) -> list[str]:
    """Return the units that a header names after its first word."""
    parts = [part for part in _BETWEEN.split(header) if part]
    said = [(" ".join(parts[at:]), parts[at]) for at in range(1, len(parts))]
    return [unit for pair in said for unit in dict.fromkeys(pair) if is_unit(unit)]


def _reads(target: str, unit: str) -> bool:
    column, its = VARIANTS.get(target, (target, CONTRACT_UNIT.get(target)))
    return its is not None and find_unit(unit, column) == its


def target_in_words(target: str) -> str:
    """Return a target as a person reads it: what the column holds, and in which unit."""
    if target == KEPT:
        return opening_words.NOT_USED
    column = VARIANTS[target][0] if target in VARIANTS else target
    known = INPUT_BY_NAME[column]
    unit = VARIANTS[target][1] if target in VARIANTS else None
    said = unit_in_words(unit.name if unit else known.unit)
    meaning = known.meaning
    if unit is not None and unit.absolute:
        # The column is gauge, and so is its meaning; this is another unit that it is read from.
        meaning = meaning.replace(opening_words.GAUGE, opening_words.ABSOLUTE)
    whole = opening_words.TARGET_IN_UNIT if said else opening_words.TARGET
    return whole.format(column=column_in_words(column), unit=said, meaning=meaning)


def column_in_words(column: str) -> str:
    """Return a column's name without its unit, which is said beside it."""
    suffix = _SUFFIX_OF_UNIT.get(INPUT_BY_NAME[column].unit, "")
    return column.removesuffix(suffix).replace("_", " ")


def taken_for(match: HeaderMatch) -> str:
    """Return what a header was taken for, with its unit: 'supply, bar gauge (as you set it)'."""
    taken = opening_words.NOT_USED
    if match.column is not None:
        taken, unit = column_in_words(match.column), unit_in_words(match.unit)
        if unit:
            taken = opening_words.TAKEN_IN_UNIT.format(column=taken, unit=unit)
    how = opening_words.TAKEN_HOW.get(match.how)
    return how.format(taken=taken) if how else taken


def unit_in_words(unit: str) -> str:
    """Return a unit with gauge or absolute said outright."""
    return opening_words.GAUGE_OR_ABSOLUTE.get(unit, unit)


_SUFFIX_OF_UNIT = {"°F": "_f", "psig": "_psig", "in": "_in", "ft": "_ft", "dB": "_db"}


def target_of(match: HeaderMatch) -> str:
    """Return the target that says the same as a match, as far as a name in a map can."""
    if match.column is None:
        return KEPT
    for variant, (column, unit) in VARIANTS.items():
        if column == match.column and unit.name == match.unit:
            return variant
    return match.column


def doubtful(match: HeaderMatch, notes: Iterable[str] = ()) -> bool:
    """Tell whether a person should look: a unit was assumed, a reading not used, a note asks."""
    if match.column is not None:
        return match.how == "unit assumed"
    return _asked(match, notes) or (match.how == "kept as it is" and _is_a_reading(match))


def _is_a_reading(match: HeaderMatch) -> bool:
    """Tell whether a header names a unit over numbers: whoever wrote it meant a reading."""
    return bool(_units_in(match.header) and _NUMBER.match(match.sample.strip()))


def _asked(match: HeaderMatch, notes: Iterable[str]) -> bool:
    return any(note.startswith(repr(match.header)) and "header map" in note for note in notes)


def to_decide(understood: Understanding, decided: Collection[str] = ()) -> list[str]:
    """Return, in words, what stands in the way of judging at once; empty where nothing does.

    ``decided`` are headers that a person has settled.
    """
    columns = {match.column for match in understood.matches}
    words = []
    if "tag" not in columns:
        words.append(opening_words.NO_TAG)
    if not columns & set(READING_NAMES):
        words.append(opening_words.NO_READING)
    assumed = sum(match.how == "unit assumed" for match in understood.matches)
    if assumed:
        words.append(
            opening_words.ONE_ASSUMED
            if assumed == 1
            else opening_words.MORE_ASSUMED.format(count=assumed)
        )
    unused = [m for m in understood.matches if m.column is None and m.header not in decided]
    asked = [m for m in unused if doubtful(m, understood.notes)]
    words += [opening_words.NOT_CLEAR.format(header=repr(match.header)) for match in asked]
    return words


def plain_to_see(understood: Understanding) -> bool:
    """Tell whether the round can be judged at once: every header used is a column's own name."""
    return not to_decide(understood) and all(
        match.how in ("exact", "kept as it is") for match in understood.matches
    )


def map_in(upload: Upload) -> dict[str, str]:
    """Return the corrections in a map file; raises MapError."""
    with on_disk(upload) as path:
        return load_header_map(path)
