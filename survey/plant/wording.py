"""Small words that every sentence of this package is made of."""

from __future__ import annotations

from collections.abc import Sequence

from survey.columns import DEVICES

NO_STATION = ""
DEVICE_WORDS = {name: name.replace("_", " ") for name in DEVICES}
MOST_NAMED = 6


def counted(number: int, noun: str, plural: str = "") -> str:
    """Return a count with its noun: '1 trap', '1,204 traps'."""
    return f"{number:,} {noun_for(number, noun, plural)}"


def noun_for(number: int, noun: str, plural: str = "") -> str:
    """Return a noun as it follows a number: '1 trap' but '2 traps'."""
    return noun if number == 1 else plural or noun + "s"


def listed(items: Sequence[str], *, most: int = MOST_NAMED) -> str:
    """Return names as a phrase, the rest counted: 'a, b and c', 'a, b and 7 more'."""
    shown = list(items[:most])
    if len(items) > most:
        shown.append(f"{len(items) - most:,} more")
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}" * bool(shown)


def station_words(name: str) -> str:
    """Return a station as it is spoken of."""
    return f"station {name}" if name else "the rows that name no station"


def place_words(area: str, equipment: str) -> str:
    """Return where something is: 'Hall 2, UH-017'; empty where nothing is known."""
    return ", ".join(part for part in (area, equipment) if part)


def capital(text: str) -> str:
    """Return text with its first letter large and the rest as it was."""
    return text[:1].upper() + text[1:]
