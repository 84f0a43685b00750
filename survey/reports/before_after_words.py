"""What is said of two rounds: outcomes, what is left out, how it was verified."""

from __future__ import annotations

import math
from collections.abc import Sequence

from survey.reports import measures, numerals
from survey.reports.words import (
    capital,
    coins,
    counted,
    ends,
    figure,
    listed,
    money,
    percent,
    tidy,
    word,
)
from survey.rounds.compare import Comparison, UnitCompared
from survey.rounds.outcomes import PAIRED
from survey.rounds.savings import Adjustment
from survey.rounds.uncertain import Figure

OUTCOME_HEADS = {
    "mended": "mended: works now",
    "got_worse": "got worse",
    "still_failing": "still failing",
    "newly_failed": "newly failed",
    "still_working": "still working",
    "no_steam": "no steam on it, so nothing is shown",
    "not_heard": "not listened to again, so not shown to be mended",
    "undecided": "undecided in either round",
    "not_read": "not read this time",
    "new": "new this time",
    "unreadable_now": "not readable this time",
    "unreadable_before": "not readable last time",
}
PRACTICE = (
    "This follows option A (retrofit isolation, key parameter measured) of the International "
    "Performance Measurement and Verification Protocol, from memory: hold it against the protocol "
    "before it goes into a contract. The key parameter, the steam each unit loses, is judged from "
    "readings in both periods; hours and prices are the site's, not measured."
)
FORMULA = (
    "Saved = baseline + adjustments - reporting period, unit by unit, summed over the units that "
    "were read and decided in both rounds; of those that fail, or work, in both, the ones whose "
    "bore and trap type are noted alike, or of which a repair is noted."
)
UNCERTAINTY = (
    "The range holds the truth 8 times in 10. It carries both rounds: what a unit's opening and "
    "state are not sure to be is each round's own; its bore is the same hole in both, but for a "
    "unit with a repair and another bore noted, which has a hole of its own in each; the discharge "
    "coefficient is one number for all. So what both rounds share makes a saving larger "
    "or smaller, and never one out of nothing."
)
NOT_IN_RANGE = (
    "Not in the range: an error of the meter or of a gauge that is common to all units of one "
    "round, hours and prices that are not as the site says, and a verdict's own calibration."
)
NOT_ALIKE_TO_DO = (
    "A unit that fails, or works, in both rounds, and whose bore or trap type is noted otherwise "
    "with no repair noted, is left out of the saving. If it was replaced, note the repair and it "
    "counts; if not, put the note right."
)
REPAIRS_NOT_AT_HAND = "Repairs that may have been noted were not at hand, so none is shown here."
NOT_NOTED = "not noted"
NOT_DATED = "the day it was read is not noted"
MOST_TAGS = 12
_ADJUSTED = {"pressure": "Steam pressure", "hours": "Hours under steam", "price": "Price of steam"}
_SAME_SHARE = 0.005
_NOT_SHOWN = {
    "no_steam": "with no steam on it in one of the rounds, so nothing is shown: a cold trap "
    "neither leaks nor proves that it would not",
    "not_heard": "found passing by sound or by what was seen, and neither listened to nor watched "
    "in the later round, so not shown to be mended",
}


def amount(shown: Figure, comparison: Comparison, show_money: bool) -> str:
    """Return a figure with its range: 'USD 10,600 (7,900 to 14,000) a year'."""
    if show_money:
        low_high = (shown.low, shown.high)
        return f"{money(shown.expected, comparison.currency, *low_high)} a year"
    return ranged_figure(shown, measures.FLOW, measures.unit(measures.FLOW))


def ranged_figure(shown: Figure, name: str = "", unit: str = "") -> str:
    """Return a figure of a column as it is shown, with a unit and its range in brackets."""
    shown = Figure(*(
        measures.value(name, end) for end in (shown.expected, shown.low, shown.high)
    ))  # fmt: skip
    return " ".join(part for part in (figure(shown.expected), unit, _range(shown)) if part)


def ranged_coins(shown: Figure) -> str:
    """Return money without its currency, with its range in brackets."""
    if max(abs(shown.low), abs(shown.high)) < 0.5:
        return "0"
    low, high = ends(shown.expected, shown.low, shown.high, coins)
    return f"{coins(shown.expected)} ({low} to {high})".replace("-0 ", "0 ").replace("-0)", "0)")


def outcome_words(comparison: Comparison) -> str:
    """Return the counts of every outcome that there is, in one sentence."""
    said = [
        f"{numerals.grouped(count)} {OUTCOME_HEADS[name].partition(':')[0]}"
        for name, count in comparison.counts.items()
        if count
    ]
    return f"{capital(', '.join(said))}."


def adjusted_words(one: Adjustment, comparison: Comparison) -> str:
    """Return what was the same, or was brought to one value and what that did."""
    name = _ADJUSTED[one.what]
    before, after, unit = _adjusted(one)
    if not one.units:
        return f"{name}: not known in both rounds, so nothing is adjusted for."
    whole = abs(comparison.saved.baseline_cost.expected)
    steady = abs(one.after - one.before) <= _SAME_SHARE * abs(one.before)
    if steady and abs(one.cost_a_year) <= _SAME_SHARE * whole:
        return f"{name}: the same in both rounds ({figure(after)} {unit}, middle unit)."
    changed = "baseline" if comparison.at == "after" else "reporting period"
    sign = "-" if one.cost_a_year < 0 else "+"
    cost = money(abs(one.cost_a_year), comparison.currency)
    return (
        f"{name}: {figure(before)} before, {figure(after)} after ({unit}, middle unit; "
        f"known for {counted(one.units, 'unit')}); {sign}{cost} a year on the {changed}."
    )


def _adjusted(one: Adjustment) -> tuple[float, float, str]:
    """Return what was before and after, and the unit of both."""
    both = (one.before, one.after)
    if one.what == "pressure" and math.isfinite(one.air_psia):
        before, after = (measures.value(measures.GAUGE, end - one.air_psia) for end in both)
        return before, after, measures.unit_in_text(measures.GAUGE)
    if one.what == "pressure":  # no gauge was read, so nothing tells what one would show
        before, after = (measures.value(measures.PRESSURE, end) for end in both)
        return before, after, f"{measures.unit('pressure_psi')} absolute"
    if one.what == "price":  # per mass: the larger the unit, the dearer
        before, after = (end / measures.value(measures.MASS, 1.0) for end in both)
        return before, after, f"per {measures.unit(measures.MASS)}"
    return *both, "h a year"


def left_out_words(comparison: Comparison, *, show_money: bool) -> list[str]:
    """Return what is in no figure of the saving, and what changed besides hours and prices."""
    counts, saved = comparison.counts, comparison.saved
    said = [
        f"{counted(counts[name], 'unit')} {words}: left out."
        for name, words in _NOT_SHOWN.items()
        if counts[name]
    ]
    if counts["undecided"]:
        add = amount(saved.undecided_cost, comparison, show_money) if show_money else ""
        said.append(
            f"{counted(counts['undecided'], 'unit')} undecided in either round: left out"
            + (f"; they would add {add}." if add else ".")
        )
    for name in ("unreadable_now", "unreadable_before"):
        if counts[name]:
            said.append(
                f"{counted(counts[name], 'unit')} {OUTCOME_HEADS[name]}: left out; "
                f"{'its row' if counts[name] == 1 else 'their rows'} could not be used in that "
                "round."
            )
    if comparison.aside_in_both:
        tags = comparison.aside_in_both
        said.append(
            f"{counted(len(tags), 'device')} whose row was set aside in both rounds: left out "
            f"({_tags(tags)})."
        )
    for name, lost, when in (
        ("not_read", saved.not_read_lb_per_h, "lost before, now not known"),
        ("new", saved.new_lb_per_h, "lost now, before not known"),
    ):
        if counts[name]:
            said.append(
                f"{counted(counts[name], 'unit')} {OUTCOME_HEADS[name]}: left out; "
                f"{ranged_figure(lost, measures.FLOW, measures.unit(measures.FLOW))} {when}."
            )
    if saved.not_estimated:
        said.append(
            f"{counted(saved.not_estimated, 'unit')} whose loss could not be estimated in one of "
            "the rounds: left out."
        )
    if comparison.not_alike:
        said.append(NOT_ALIKE_TO_DO)
    left_out = {unit.tag for unit in comparison.not_alike}
    fitted = [tag for tag in comparison.refitted if tag not in left_out]
    if fitted:
        said.append(f"Trap type or bore is not noted as before at {_tags(fitted)}: each round "
                    "counts with its own.")  # fmt: skip
    bases = {side.basis for side in (comparison.before, comparison.after)} - {""}
    if len(bases) > 1:
        said.append("The two rounds count a pound of loss differently: as found, they do not "
                    "compare. Brought to one price, they do.")  # fmt: skip
    return said or ["No unit is left out, and no trap is noted with another type or bore."]


def repairs_words(comparison: Comparison, *, show_money: bool) -> str:
    """Return how many repairs are noted between the rounds, and what they cost."""
    if not comparison.repairs_known:
        return REPAIRS_NOT_AT_HAND
    done = sum(one.cost or 0.0 for one in comparison.repairs)
    cost = f", cost {money(done, comparison.currency)}" if show_money and done else ""
    count = numerals.grouped(len(comparison.repairs))
    return f"Repairs noted between the rounds: {count}{cost}."


def not_alike_words(comparison: Comparison) -> str:
    """Return which units are in no saving for the hole noted, in one sentence; '' for none.

    Those that work in both rounds are counted only: there may be hundreds whose bore was filled in.
    """
    apart = comparison.not_alike
    named = [unit.tag for unit in apart if unit.outcome != "still_working"]
    working = len(apart) - len(named)
    said = _tags(named) if named else ""
    if working:
        them = f"{counted(working, 'unit')} that {'works' if working == 1 else 'work'} in both"
        said = f"{said}, and {them}" if said else them
    if not said:
        return ""
    one = len(apart) == 1
    why = (
        f"no repair of {'it' if one else 'them'} is noted" if comparison.repairs_known
        else "noted repairs are not at hand"
    )
    return (
        f"{capital(said)} {'is' if one else 'are'} left out of these figures: "
        f"{'its' if one else 'their'} bore or trap type is not noted alike in both rounds, and "
        f"{why}."
    )


def hole_words(unit: UnitCompared) -> str:
    """Return how the bore or the trap type of a unit is noted in the two rounds."""
    said = []
    was, now = (
        measures.said(measures.BORE, bore) if math.isfinite(bore) else "not"
        for bore in unit.bores_in
    )
    if was != now:
        said.append(f"bore noted {was} before, {now} now")
    if all(unit.trap_types) and unit.trap_types[0] != unit.trap_types[1]:
        kinds = [word(kind) for kind in unit.trap_types]
        said.append(f"type noted {kinds[0]} before, {kinds[1]} now")
    return "; ".join(said)


def _tags(tags: Sequence[str]) -> str:
    named = [tidy(tag, 30) for tag in tags[:MOST_TAGS]]
    more = len(tags) - len(named)
    return listed([*named, *([f"{numerals.grouped(more)} more"] * bool(more))])


def unit_words(unit: UnitCompared, *, repairs_known: bool = True) -> str:
    """Return how sure a change is and what is noted of it, in words."""
    said = []
    if unit.tag_before and unit.tag != unit.tag_before:
        said.append(f"was {tidy(unit.tag_before)}")
    if unit.outcome != "still_working" and math.isfinite(unit.sure):
        said.append(f"{percent(unit.sure)} sure")
    if not unit.counts and unit.outcome in PAIRED:
        said.append(f"{hole_words(unit)}: left out of the saving")
    if unit.outcome == "mended" and not unit.repairs and repairs_known:
        said.append("no repair noted")
    said += [
        f"{numerals.short_day(one.done_on)}: {tidy(one.what, 80) or 'repaired'}"
        for one in unit.repairs
    ]
    return "; ".join(said)


def _range(shown: Figure) -> str:
    if shown.low == shown.high:
        return ""
    low, high = ends(shown.expected, shown.low, shown.high)
    return f"({low} to {high})"
