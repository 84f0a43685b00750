"""What was given, as given: names that clash with nothing, columns kept beside the table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pandas as pd

from survey.columns import FINDING_NAMES, INPUT_NAMES, REJECT_NAMES
from survey.readings.headers import Claim
from survey.readings.texts import as_text
from survey.readings.tidy import text_series

_RESERVED = frozenset((*INPUT_NAMES, *FINDING_NAMES, *REJECT_NAMES))


def kept_names(claims: Sequence[Claim]) -> dict[str, str]:
    """Map each header to the name it is kept under: its own, or led by ``input_`` if taken.

    A header that is exactly the contract's column, and fills it, keeps its name.
    """
    taken = {c.match.header for c in claims if c.match.header not in _RESERVED}
    names: dict[str, str] = {}
    for claim in claims:
        header = claim.match.header
        name = header
        if header in _RESERVED and claim.match.column != header:
            name = f"input_{header}"
            while name in taken or name in _RESERVED:
                name = f"input_{name}"
            taken.add(name)
        names[header] = name
    return names


def name_notes(names: dict[str, str]) -> list[str]:
    """Say which headers had to be kept under another name."""
    pairs = [f"{header!r} as {name!r}" for header, name in names.items() if header != name]
    if not pairs:
        return []
    more = f" and {len(pairs) - 8} more" if len(pairs) > 8 else ""
    return [f"kept under another name, since the findings use theirs: {', '.join(pairs[:8])}{more}"]


def is_canonical(claim: Claim) -> bool:
    """Say whether a header is exactly the name of the column that it fills."""
    return claim.match.column is not None and claim.match.column == claim.match.header


def none_as_given(claims: Sequence[Claim], as_typed: Sequence[str]) -> bool:
    """Say whether `originals` has no column: the tidy table holds all that was given."""
    return all(is_canonical(claim) and claim.match.header not in as_typed for claim in claims)


def originals(
    cells: Any, claims: Sequence[Claim], names: dict[str, str], as_typed: Sequence[str]
) -> pd.DataFrame:
    """Return the columns kept as given: all but those with a contract name.

    A contract column whose cells were not all taken as they stand (`as_typed`) is kept too: with
    words that no choice stands for, slips, or names that were taken for another.
    """
    kept = {}
    for claim in claims:
        header = claim.match.header
        if not is_canonical(claim):
            kept[names[header]] = text_series(as_text(cells.column(header)))
        elif header in as_typed:
            kept[f"input_{header}"] = text_series(as_text(cells.column(header)))
    return pd.DataFrame(kept, index=pd.RangeIndex(len(cells)))


def as_given(cells: Any, claims: Sequence[Claim], names: dict[str, str]) -> pd.DataFrame:
    """Return every input column as text, for rows that are set aside."""
    kept = {}
    for claim in claims:
        name = names[claim.match.header]
        name = f"input_{name}" if name in REJECT_NAMES else name
        kept[name] = text_series(as_text(cells.column(claim.match.header)))
    return pd.DataFrame(kept, index=pd.RangeIndex(len(cells)))
