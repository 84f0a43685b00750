"""How figures are written: in which units, and with whose decimals, dates and money.

A setting of the work at hand, as a decimal context is: whoever makes a paper opens `using`, and
everything in this package obeys it. Without one, figures are US units in plain English form.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import TYPE_CHECKING

from survey.errors import UsageError

if TYPE_CHECKING:
    from babel import Locale

UNIT_SYSTEMS = ("us", "si")
DEFAULT_LOCALE = "en"


@dataclass(frozen=True)
class Manner:
    """One way to write figures.

    Parameters
    ----------
    units
        One of `UNIT_SYSTEMS`.
    locale
        A language, or a language and a country: en, en_US, de_DE. Figures, dates and money
        follow it; the words stay as they are.

    Raises
    ------
    UsageError
        Either is not known.
    """

    units: str = "us"
    locale: str = DEFAULT_LOCALE

    def __post_init__(self) -> None:
        if self.units not in UNIT_SYSTEMS:
            raise UsageError(
                "Units to write figures in were expected", found=str(self.units)[:40],
                do=f"choose from: {', '.join(UNIT_SYSTEMS)}",
            )
        if self.locale != DEFAULT_LOCALE:
            locale_data(self.locale)

    @property
    def plain(self) -> bool:
        """Tell whether figures take their plain English form, which needs no tables of Babel."""
        return self.locale == DEFAULT_LOCALE


_current: ContextVar[Manner] = ContextVar("manner")
_PLAIN = Manner()


def current() -> Manner:
    """Return how figures are written just now."""
    return _current.get(_PLAIN)


@contextmanager
def using(*, units: str = "us", locale: str = DEFAULT_LOCALE) -> Iterator[Manner]:
    """Write figures in this manner until the block ends; raises UsageError as `Manner` does.

    Make what is to be shown inside the block: a generator that outlives it is written plainly.
    """
    chosen = Manner(units, locale)
    before = _current.set(chosen)
    try:
        yield chosen
    finally:
        _current.reset(before)


def locale_data(name: str) -> Locale:
    """Return what Babel knows of a locale, 'de-DE' as well as 'de_DE'; raises UsageError."""
    from babel import Locale, UnknownLocaleError

    try:
        return Locale.parse(name.replace("-", "_"))
    except (UnknownLocaleError, ValueError, TypeError):
        raise UsageError(
            "A locale to write figures for was expected", found=str(name)[:40],
            do="give a language, or a language and a country: en, en_US, de_DE",
        ) from None
