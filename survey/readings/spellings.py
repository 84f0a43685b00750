"""Words and names spelled in several ways: counted, taken as one where sure, else asked about.

Everything here works on the distinct spellings and how often each stands in the round, so that
a long round costs no more than a short one, and a round read in batches, whose counts are added
up, ends in the same names and the same words as one that is read whole.
"""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from survey.columns import INPUT_NAMES
from survey.readings.limits import MAX_NAME_CHARACTERS
from survey.readings.words import slip_of

NAMED = ("area", "station")
"""Columns of names that many rows share; what differs in a tag is another device."""
MOST_NAMES = 2000
"""Different names past which a column is no list of places that people choose from."""
_RARE_ROWS, _RARE_SHARE, _TIMES_AS_OFTEN = 2, 0.01, 3
_SHORTEST = 4
_TOLD = 8
_WORD = re.compile(r"[^\W\d_]+|\d+|\+|(?:(?<=\s)|^)[-−](?=\d)")

Counts = Mapping[str, int]
Renames = Mapping[str, Mapping[str, str]]


@dataclass(frozen=True)
class Spellings:
    """How often each spelling stands in some rows, by column.

    Parameters
    ----------
    unknown
        Words of choices that no choice stands for.
    slips
        Words of choices that were taken for a known one within one typing slip.
    names
        Names of places; a column of more than `MOST_NAMES` has None.
    """

    unknown: Mapping[str, Counts]
    slips: Mapping[str, Counts]
    names: Mapping[str, Counts | None]

    def as_typed(self, renames: Renames) -> list[str]:
        """Return the columns to keep as typed too: their cells were not taken as they stand."""
        return [n for n in INPUT_NAMES if n in {*self.unknown, *self.slips, *renames}]

    def renames(self, stations: Collection[str] = ()) -> Renames:
        """Return, by column, each name that is another spelling, and the one that stands for it.

        The commonest spelling stands, of equals the first by letters; but for a station that
        the site's file names (``stations``), it is the file's. Names that the file itself tells
        apart are never taken as one.
        """
        found = {}
        for column, names in self.names.items():
            known = stations if column == "station" else ()
            renamed = _renamed(names or {}, known)
            if renamed:
                found[column] = renamed
        return found

    def notes(self, stations: Collection[str] = ()) -> list[str]:
        """Say what was taken as missing, what was taken as one, and what to look at."""
        notes = [_unknown_words(name, self.unknown[name]) for name in _of(self.unknown)]
        notes += [_taken_words(name, self.slips[name]) for name in _of(self.slips)]
        renames = self.renames(stations)
        for column in _of(self.names):
            names = self.names[column] or {}
            renamed = renames.get(column, {})
            notes += _taken_as_one(column, names, renamed)
            notes += _asked(column, names, renamed, stations if column == "station" else ())
        return notes


def spellings_of(names: Mapping[str, Any], unknown: Mapping[str, Counts],
                 slips: Mapping[str, Counts]) -> Spellings:  # fmt: skip
    """Count the names of a table.

    Parameters
    ----------
    names
        Arrow string arrays by column, (n,) each.
    """
    import pyarrow.compute as pc

    counts: dict[str, Counts | None] = {}
    for column, cells in names.items():
        found = pc.value_counts(cells)
        few = len(found) <= MOST_NAMES + 1  # a missing name counts as one there
        each = zip(*(found.field(at).to_pylist() for at in (0, 1)), strict=True) if few else ()
        named = {name: count for name, count in each if name is not None}
        counts[column] = named if few and len(named) <= MOST_NAMES else None
    return Spellings(unknown, slips, counts)


def added_up(several: Iterable[Spellings]) -> Spellings:
    """Return the spellings of all rows, from those of some rows at a time."""
    unknown: dict[str, Counter[str]] = {}
    slips: dict[str, Counter[str]] = {}
    names: dict[str, Counts | None] = {}
    for one in several:
        for into, counts in ((unknown, one.unknown), (slips, one.slips)):
            for column, words in counts.items():
                into.setdefault(column, Counter()).update(words)
        for column, some in one.names.items():
            before = names.get(column, {})
            if before is None or some is None:
                names[column] = None
                continue
            both = Counter(before)
            both.update(some)
            names[column] = both if len(both) <= MOST_NAMES else None
    return Spellings(unknown, slips, names)


def with_names(table: pd.DataFrame, renames: Renames) -> pd.DataFrame:
    """Return a table with names that are other spellings replaced."""
    for column, renamed in renames.items():
        names = table[column]
        other = names.isin(list(renamed))
        if other.any():
            table = table.assign(**{column: names.mask(other, names.map(renamed)).astype("str")})
    return table


def _of(counts: Mapping[str, Any]) -> Iterator[str]:
    return (name for name in INPUT_NAMES if counts.get(name))


def _words(name: str) -> list[str]:
    """Return a name's words and numbers; a sign before a number, as of a basement, is kept."""
    return _WORD.findall(unicodedata.normalize("NFKC", name).casefold().replace("&", " and "))


def _key(name: str) -> str:
    """Return what names that differ only in case, spacing or punctuation have in common.

    Between two numbers a break means something: 'Bay 1-2' is not 'Bay 12'. So it does between
    single letters: 'A/B' is two places.
    """
    key, before = "", ""
    for word in _words(name):
        apart = before.isdecimal() and word.isdecimal()
        apart |= len(before) == len(word) == 1 and (before + word).isalpha()
        key += f" {word}" if apart else word
        before = word
    return key or name


def _renamed(names: Counts, known: Collection[str]) -> dict[str, str]:
    of_file: dict[str, set[str]] = {}
    for name in known:
        of_file.setdefault(_key(name), set()).add(name)
    renamed = {}
    for key, group in _groups(names).items():
        given = of_file.get(key, set())
        if len(given) > 1:
            continue
        stands = next(iter(given)) if given else min(group, key=lambda n: (-names[n], n))
        renamed.update({name: stands for name in group if name != stands})
    return renamed


def _groups(names: Counts) -> dict[str, list[str]]:
    groups: dict[str, list[str]] = {}
    for name in names:
        groups.setdefault(_key(name), []).append(name)
    return groups


def _taken_as_one(column: str, names: Counts, renamed: Mapping[str, str]) -> list[str]:
    others: dict[str, list[str]] = {}
    for name in sorted(renamed, key=lambda n: (-names[n], n)):
        others.setdefault(renamed[name], []).append(name)
    if not others:
        return []
    told = [
        f"{_counted(stands, names.get(stands, 0))} for "
        + ", ".join(_counted(name, names[name]) for name in spelled)
        for stands, spelled in sorted(others.items())
    ]
    return [
        f"{column}: names that differ only in case, spacing or punctuation were taken as one: "
        f"{_listed(told)}"
    ]


def _asked(
    column: str, names: Counts, renamed: Mapping[str, str], known: Collection[str]
) -> list[str]:
    total: Counter[str] = Counter()
    for name, count in names.items():
        total[renamed.get(name, name)] += count
    told = [
        f"{_counted(rare, total[rare])} may be {_counted(usual, total[usual])}"
        for rare, usual in _alike(total, known)
    ]
    if not told:
        return []
    return [
        f"{column}: {_listed(told)}; they were kept apart: if one is a typing slip, correct it "
        "in the file and read it again"
    ]


def _alike(names: Counts, known: Collection[str]) -> list[tuple[str, str]]:
    """Pair each rare name with the commonest that is one slip away."""
    # Rows with longer names are set aside, and to compare two of them could take minutes.
    every = sorted(
        name for name in names
        if len(name) <= MAX_NAME_CHARACTERS and len(_key(name)) >= _SHORTEST - 1
    )  # fmt: skip
    highest = max((names[name] for name in every), default=0)
    most = max(_RARE_ROWS, _RARE_SHARE * highest)
    rare = [name for name in every if names[name] <= most and name not in known]
    if not rare or len(every) < 2:
        return []
    from rapidfuzz.distance import OSA
    from rapidfuzz.process import cdist

    keys = [[_key(name) for name in some] for some in (rare, every)]
    near = cdist(*keys, scorer=OSA.distance, score_cutoff=1, dtype=np.uint8) == 1
    pairs = []
    for name, row in zip(rare, near, strict=True):
        usual = [
            every[at] for at in np.flatnonzero(row)
            if len(keys[1][at]) >= _SHORTEST
            and _slip_between(name, every[at])
            and names[every[at]] >= _TIMES_AS_OFTEN * names[name]
            and names[name] <= max(_RARE_ROWS, _RARE_SHARE * names[every[at]])
        ]  # fmt: skip
        if usual:
            pairs.append((name, min(usual, key=lambda n: (-names[n], n))))
    return pairs


def _slip_between(one: str, other: str) -> bool:
    """Tell a slip in a word from what tells places apart: a number, or a single letter."""
    words = _words(one), _words(other)
    if len(words[0]) != len(words[1]):
        return False
    differ = [pair for pair in zip(*words, strict=True) if pair[0] != pair[1]]
    return all(word.isalpha() and len(word) >= _SHORTEST - 1 for pair in differ for word in pair)


def _unknown_words(column: str, words: Counts) -> str:
    return (
        f"{column}: {sum(words.values()):,} cells with words it does not know were taken as "
        f"missing: {_told_words(words)}"
    )


def _taken_words(column: str, words: Counts) -> str:
    taken = [f"{_counted(word, words[word])} as {slip_of(word, column)!r}" for word in _most(words)]
    return f"{column}: words with a typing slip were taken for the known one: {_listed(taken)}"


def _told_words(words: Counts) -> str:
    return ", ".join(_counted(word, words[word]) for word in _most(words)[:_TOLD])


def _most(words: Counts) -> list[str]:
    return sorted(words, key=lambda word: (-words[word], word))


def _counted(name: str, count: int) -> str:
    return f"{name[:40]!r} ({count:,})"


def _listed(told: list[str]) -> str:
    more = len(told) - _TOLD
    return "; ".join([*told[:_TOLD], f"and {more:,} more"] if more > 0 else told)
