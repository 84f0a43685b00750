"""Numbers, money and days as the current manner writes them; plain English form without Babel."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from functools import lru_cache
from typing import TYPE_CHECKING

from survey.reports import manner

if TYPE_CHECKING:
    from babel import Locale
    from babel.numbers import NumberPattern


def grouped(value: float, places: int = 0) -> str:
    """Return a finite number to so many decimals, its thousands set off."""
    chosen = manner.current()
    if chosen.plain:
        return f"{value:z,.{places}f}"  # z: nothing is written -0
    locale = _locale(chosen.locale)
    # Rounded once and here, so that every locale shows the same digits.
    rounded = Decimal(f"{value:z.{places}f}")
    return str(_pattern(chosen.locale, places, False).apply(rounded, locale))


def decimal_mark(locale: str = "") -> str:
    """Return ',' or '.', as the current or the given locale sets off decimals.

    Raises
    ------
    UsageError
        There is no such locale.
    """
    name = locale or manner.current().locale
    if name == manner.DEFAULT_LOCALE:
        return "."
    return "," if _locale(name).number_symbols["latn"]["decimal"] == "," else "."


def priced(value: float, currency: str, places: int = 0) -> str:
    """Return a finite amount of money, to its whole unit at first: 'USD 12,400', '12.400 €'."""
    chosen = manner.current()
    amount = grouped(value, places)
    if chosen.plain or not _is_currency(currency):
        return f"{currency} {amount}".strip()
    rounded = Decimal(f"{value:.{places}f}")
    return str(_pattern(chosen.locale, places, True).apply(
        rounded, _locale(chosen.locale), currency=currency.upper(), currency_digits=False
    ))


def day(when: date) -> str:
    """Return a day: '25 November 2026', or as the locale writes it."""
    chosen = manner.current()
    if chosen.plain:
        return f"{when.day} {when:%B %Y}"
    from babel.dates import format_date

    # Beside English words a foreign month name reads oddly; its short form is mostly figures.
    length = "long" if chosen.locale.lower().startswith("en") else "medium"
    return format_date(when, length, _locale(chosen.locale))


def short_day(when: date) -> str:
    """Return a day in short: '2026-11-25', or as the locale writes it."""
    return when.isoformat() if manner.current().plain else day(when)


def moment(text: str) -> datetime | None:
    """Return the moment that ISO text names, by the clock where it was read; None for none."""
    try:
        return datetime.fromisoformat(text.strip()).replace(tzinfo=None)
    except ValueError:
        return None


def read_at(text: str) -> str:
    """Return when something was read, its day as the locale writes it: '04.11.2025 08:02'."""
    when = moment(text)
    if when is None:
        return text
    return short_moment(when) if (when.hour, when.minute) != (0, 0) else short_day(when.date())


def short_moment(when: datetime) -> str:
    """Return a day and the clock of that day: '2026-11-25 14:30', or as the locale writes it."""
    return f"{short_day(when.date())} {when:%H:%M}"


def _is_currency(name: str) -> bool:
    from babel.numbers import is_currency

    return is_currency(name.upper())


@lru_cache(maxsize=8)
def _locale(name: str) -> Locale:
    return manner.locale_data(name)


@lru_cache(maxsize=64)
def _pattern(name: str, places: int, money: bool) -> NumberPattern:
    """Return how a locale groups its digits, with so many decimals."""
    from babel.numbers import parse_pattern

    formats = _locale(name).currency_formats if money else _locale(name).decimal_formats
    pattern = parse_pattern(formats["standard" if money else None].pattern)
    pattern.frac_prec = (places, places)
    return pattern
