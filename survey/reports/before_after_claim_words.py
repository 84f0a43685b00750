"""What may be claimed as saved between two rounds: by what was mended, by the rest, by all."""

from __future__ import annotations

from survey.reports import measures
from survey.reports.before_after_words import amount, not_alike_words
from survey.reports.words import counted, money
from survey.rounds.compare import Comparison
from survey.rounds.savings import claim
from survey.rounds.uncertain import Figure

NO_UNIT = "No unit was read and decided in both rounds, so no saving can be told."
NONE_COUNTS = "No unit counts in both rounds, so no saving can be told."
NONE_MENDED = "No unit was mended."
NO_MENDED_COUNTS = "No unit that was mended can be counted."


def claim_words(comparison: Comparison, *, show_money: bool) -> list[str]:
    """Return what may be claimed as saved: the mended units first, then the rest, then all.

    What was mended is what was paid for, and its saving is often sure where that of the whole
    plant is not. Each part is claimed by its own range only. Which units are left out for the
    hole that is noted of them comes last, where there are any.
    """
    saved = comparison.saved
    said = [not_alike_words(comparison)]
    if not saved.units:
        return [NONE_COUNTS if said[0] else NO_UNIT, *filter(None, said)]
    mended = (saved.mended_lb_per_h, saved.by_outcome["mended"])
    rest = (saved.rest_lb_per_h, saved.rest_cost)
    others = saved.units - saved.mended_units
    if not saved.mended_units:
        first = NO_MENDED_COUNTS if comparison.counts["mended"] else NONE_MENDED
        parts = [first, _all(comparison, show_money)]
    elif not others:
        parts = [_mended(comparison, mended, show_money)]
    else:
        parts = [
            _mended(comparison, mended, show_money),
            f"{_rest(comparison, rest, others, show_money)} {_all(comparison, show_money)}",
        ]
    return [*parts, *filter(None, said)]


def _mended(comparison: Comparison, both: tuple[Figure, Figure], show_money: bool) -> str:
    kind, shown = _kind(both, show_money)
    start = f"Mended: {counted(comparison.saved.mended_units, 'unit')}"
    if kind == "saved":
        return f"{start}, saving {amount(shown, comparison, show_money)}."
    if kind == "lost_more":
        return f"{start}, losing {amount(_turned(shown), comparison, show_money)} more than before."
    if kind == "nothing":
        return f"{start}, with no steam lost before or after."
    return f"{start}, but no saving by that is shown: {_anything(shown, comparison, show_money)}."


def _rest(
    comparison: Comparison, both: tuple[Figure, Figure], others: int, show_money: bool
) -> str:
    kind, shown = _kind(both, show_money)
    one = others == 1
    start = "The other unit" if one else f"The other {counted(others, 'unit')}"
    if kind == "saved":
        loses, less = "loses" if one else "lose", amount(shown, comparison, show_money)
        return f"{start} {loses} less than before: {less}."
    if kind == "lost_more":
        loses, more = "loses" if one else "lose", amount(_turned(shown), comparison, show_money)
        return f"{start} {loses} more than before: {more}."
    if kind == "nothing":
        return f"{start} lost nothing before and {'loses' if one else 'lose'} nothing now."
    shows = "shows" if one else "show"
    return f"{start} {shows} no sure change: {_anything(shown, comparison, show_money)}."


def _all(comparison: Comparison, show_money: bool) -> str:
    saved = comparison.saved
    kind, shown = _kind((saved.steam_lb_per_h, saved.annual_cost), show_money)
    over = f"{counted(saved.units, 'unit')} read and decided in both rounds"
    if kind == "saved":
        return f"All together, saved: {amount(shown, comparison, show_money)} by {over}."
    if kind == "lost_more":
        more = amount(_turned(shown), comparison, show_money)
        return f"All together, more is lost than before: {more} by {over}."
    if kind == "nothing":
        return f"All together, nothing is lost, before or after, by {over}."
    low, high = (_side(end, comparison, show_money) for end in (shown.low, shown.high))
    return (
        f"All together, these readings do not show a saving. The expected difference, over {over}, "
        f"is {_plain(shown.expected, comparison, show_money)}, but it may be anything from "
        f"{low} to {high} (10 % to 90 % range)."
    )


def _kind(both: tuple[Figure, Figure], show_money: bool) -> tuple[str, Figure]:
    """Return what steam and cost support together, and the figure of the two that is shown.

    Both are weighed: prices that differ from unit to unit can turn one and not the other.
    """
    steam, cost = both
    kinds = {claim(steam), *([claim(cost)] if show_money else [])}
    return kinds.pop() if len(kinds) == 1 else "cannot_tell", cost if show_money else steam


def _turned(shown: Figure) -> Figure:
    return Figure(-shown.expected, -shown.high, -shown.low)


def _anything(shown: Figure, comparison: Comparison, show_money: bool) -> str:
    low, high = (_side(end, comparison, show_money) for end in (shown.low, shown.high))
    return (
        f"{_side(shown.expected, comparison, show_money)}, but it may be anything from {low} to "
        f"{high}"
    )


def _plain(value: float, comparison: Comparison, show_money: bool) -> str:
    sign = "-" if value < 0 else ""
    if show_money:
        return f"{sign}{money(abs(value), comparison.currency)} a year"
    return f"{sign}{measures.figured(measures.FLOW, abs(value))}"


def _side(value: float, comparison: Comparison, show_money: bool) -> str:
    what = _plain(abs(value), comparison, show_money)
    if not any(digit in what for digit in "123456789"):  # nothing, or so little
        return "nothing"
    return f"{what} {'saved' if value > 0 else 'lost more'}"
