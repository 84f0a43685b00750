"""Checking a step: a round read at the new pressure, held against the one before it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from survey.columns import NORMAL_90
from survey.physics.saturation import saturation_f
from survey.plant.heating import SPARE_SHARE
from survey.plant.lift import Needs, flood_chance, needs
from survey.plant.limits import LEAST_LIFT_FT, drain_kinds, limits
from survey.plant.standing import apart_words, pressures_apart_psig
from survey.plant.units import Units, site_atmosphere_psia, units_of
from survey.plant.wording import counted, listed, place_words
from survey.site import Site

OUTCOMES = ("held", "flooded", "not_yet_warm", "cannot_tell", "in_trouble_before")
OUTCOME_WORDS = {
    "held": "held",
    "flooded": "flooded",
    "not_yet_warm": "not yet warm",
    "cannot_tell": "cannot tell",
    "in_trouble_before": "in trouble before the step",
}
NEEDING_WORDS = {"trap": "its trap", "return": "its return"}
UNSETTLED = {"go back": "go_back", "wait": "wait"}
"""What a check may say that keeps a station from going on, as its plan's standing."""
SURE_ENOUGH = 0.5
READ_AGAIN = "open its test valve and read it again; if it stays so, go back"
TO_BE_SEEN_CHANCE = 0.05
"""A unit with this chance of having flooded has to be seen before the next step."""
SAME_PRESSURE_PSI = 1.5
UNITS_TO_COMPARE = 4
"""So many hot units of a station tell what a step, or another instrument, does to all of them."""
FALLEN_F = 15.0
FALLEN_SPREADS = 3.0
"""Further under steam than before by this much is more than two readings of one pipe differ by,
common practice, no source; or by so many spreads of the station's other units."""


@dataclass(frozen=True)
class UnitChecked:
    """One unit after a step.

    Parameters
    ----------
    outcome
        One of `OUTCOMES`.
    foreseen
        Chance of flooding that the round before gave it at the new pressure; NaN where not known.
    words
        Why, and for a unit that has not held the pressure that the round before had it need.
    read_again
        Whether the second round has it.
    """

    tag: str
    where: str
    outcome: str
    foreseen: float
    words: str
    read_again: bool


@dataclass(frozen=True)
class StationChecked:
    """One station after a step.

    Parameters
    ----------
    go_on
        'go on', 'wait', 'go back' or 'no step': its pressure is as it was.
    expected
        How many were foreseen to flood, by the round before.
    """

    station: str
    before_psig: float
    after_psig: float
    go_on: str
    words: str
    counts: dict[str, int]
    expected: float
    units: tuple[UnitChecked, ...]


def check_step(
    before: pd.DataFrame, after: pd.DataFrame, *, site: Site
) -> tuple[StationChecked, ...]:
    """Hold a round against the one before it, station by station.

    Parameters
    ----------
    before, after
        Tables of findings of two rounds; devices are told by their tags. A unit of the first
        round that is not in the second counts as one of which it cannot be told.
    """
    old, new = units_of(before, site), units_of(after, site)
    position = {tag: i for i, tag in enumerate(new.tag)}
    found = np.array([position.get(tag, -1) for tag in old.tag], dtype=np.int64)
    air = site_atmosphere_psia(site)
    return tuple(
        _station(old.take(mine), new, found[mine], air)
        for name in sorted(set(old.station))
        if len(mine := np.flatnonzero(old.station == name))
    )


def _station(old: Units, new: Units, found: np.ndarray, air: float) -> StationChecked:
    here = new.take(found[found >= 0])
    was, now = _middle(old.supply_psia), _middle(here.supply_psia)
    # Where a unit was not read again, it has the station's new pressure, as far from its middle
    # as before.
    supply = old.supply_psia + now - was
    supply[found >= 0] = here.supply_psia
    need = needs(old)
    chance = flood_chance(old, need, supply_psia=supply)
    limited = _limit_words(old, need, air)
    fallen = np.full(len(old), "", dtype=object)
    fallen[found >= 0] = _fallen_words(old.take(np.flatnonzero(found >= 0)), here)
    units = [
        _unit(
            old.take(np.array([i])), new.take(found[[i]]) if found[i] >= 0 else None, chance[i],
            limited[i], fallen[i],
        )
        for i in range(len(old))
    ]  # fmt: skip
    counts = {name: sum(unit.outcome == name for unit in units) for name in OUTCOMES}
    sound_before = np.array([unit.outcome != "in_trouble_before" for unit in units])
    expected = float(np.nansum(chance[sound_before]))
    go_on, words = _go_on(units, was, now, expected)
    apart = pressures_apart_psig(here, air_psia=air) or pressures_apart_psig(old, air_psia=air)
    if apart is not None and go_on != "go back":
        go_on, words, was, now = "wait", apart_words(apart), float("nan"), float("nan")
    return StationChecked(
        str(old.station[0]), was - air, now - air, go_on,
        words, counts, expected, tuple(units),
    )  # fmt: skip


def _middle(values: np.ndarray) -> float:
    known = values[~np.isnan(values)]
    return float(np.median(known)) if len(known) else float("nan")


def _under_steam_f(units: Units) -> np.ndarray:
    return np.asarray(saturation_f(pressure_psia=units.supply_psia) - units.inlet_f)


def _fallen_words(old: Units, new: Units) -> np.ndarray:
    """Say of units read in both rounds which went under their band at the step; '' of others.

    A unit is held against itself, so that a cold pipe or a surface that reads low is none; and
    against the others of its station, so that another thermometer is none.
    """
    further = _under_steam_f(new) - _under_steam_f(old)
    sound = (old.hot >= SURE_ENOUGH) & (new.hot >= SURE_ENOUGH) & ~np.isnan(further)
    usual, spread = 0.0, 0.0
    if sound.sum() >= UNITS_TO_COMPARE:
        usual = float(np.median(further[sound]))
        spread = 1.4826 * float(np.median(np.abs(further[sound] - usual)))
    band = new.subcooling_f + NORMAL_90 * new.subcooling_spread_f
    # NaN, where one of them was not read, is never over.
    fell = further - usual > max(FALLEN_F, FALLEN_SPREADS * spread)
    fell &= _under_steam_f(new) - max(usual, 0.0) > band
    expected = new.inlet_f + further - usual
    return np.array([
        f"its inlet is at about {new.inlet_f[i]:.0f} °F, where as it stood before the step about "
        f"{expected[i]:.0f} °F was to be expected" if fell[i] else ""
        for i in range(len(new))
    ], dtype=object)  # fmt: skip


def _limit_words(old: Units, need: Needs, air: float) -> list[str]:
    """Return what the round before had each unit need to drain; '' where that was not known."""
    bounds = limits(old, need, spare_share=SPARE_SHARE)  # how much to spare moves heat alone
    kinds, psig = drain_kinds(old, need, bounds), bounds.drain_psia - air
    return [
        f"By the round before, {_needing(kinds[i], old.lift_ft[i])} needs {psig[i]:.1f} psig"
        if np.isfinite(psig[i]) else ""
        for i in range(len(old))
    ]  # fmt: skip


def _needing(kind: str, lift_ft: float) -> str:
    lifts = lift_ft > LEAST_LIFT_FT
    if kind == "lift_as_written":  # without a lift, only its load can ask for so much
        return f"its lift of {lift_ft:.0f} ft as written" if lifts else "its load as written"
    return f"its lift of {lift_ft:.0f} ft" if kind == "lift" else NEEDING_WORDS[kind]


def _unit(
    old: Units, new: Units | None, foreseen: float, limited: str, fallen: str
) -> UnitChecked:
    outcome, words = _outcome(old, new, foreseen, fallen)
    if limited and outcome != "held":
        words = f"{words}. {limited}"
    return UnitChecked(
        str(old.tag[0]), place_words(old.area[0], old.equipment[0]), outcome, float(foreseen),
        words, new is not None,
    )  # fmt: skip


def _outcome(
    old: Units, new: Units | None, foreseen: float, fallen: str
) -> tuple[str, str]:
    sound_before = old.hot[0] >= SURE_ENOUGH
    if new is None:
        if not sound_before:
            return "in_trouble_before", "not read again"
        return "cannot_tell", "not read again: read it"
    state = str(new.state[0]).replace("_", " ")
    if new.hot[0] >= SURE_ENOUGH and sound_before and fallen:
        return "cannot_tell", f"judged {state}, but {fallen}: {READ_AGAIN}"
    if new.hot[0] >= SURE_ENOUGH:
        since = "" if sound_before else ", and it was not before the step"
        return "held", f"hot and draining{since}"
    if not sound_before:
        return "in_trouble_before", f"{state} now, and not sound before the step"
    if new.backed[0] >= SURE_ENOUGH:
        return "flooded", "condensate stands back, and it did not before the step"
    if new.cold[0] >= SURE_ENOUGH:
        return "not_yet_warm", "no steam has reached it yet: wait, look at its valve, read again"
    # What stands back and what is stuck shut look much alike: chance foreseen leans it.
    cool = new.hot[0] < 1.0 - SURE_ENOUGH
    if cool and np.nan_to_num(foreseen) >= TO_BE_SEEN_CHANCE and new.backed[0] > new.cold[0]:
        return "flooded", f"cool ({state}), and it was likely to stand back at this pressure"
    # Full of condensate either way, and sound before the pressure went down.
    if new.backed[0] + new.stuck_shut[0] >= SURE_ENOUGH:
        return "flooded", (
            f"condensate most likely stands in it (judged {state}), and it did not before the "
            "step; open its test valve: where the pressure is not why, its trap is"
        )
    also = f"; {fallen}" if fallen else ""
    return "cannot_tell", f"judged {state}, and it was sound before the step{also}: {READ_AGAIN}"


def _go_on(
    units: list[UnitChecked], was: float, now: float, expected: float
) -> tuple[str, str]:
    by = {name: [u.tag for u in units if u.outcome == name] for name in OUTCOMES}
    if np.isnan(now) or np.isnan(was):
        return "wait", "its pressure is not known in both rounds: read it before going on."
    if abs(now - was) < SAME_PRESSURE_PSI and not by["flooded"]:
        return "no step", f"its pressure is as it was, within {SAME_PRESSURE_PSI:g} psi."
    if by["flooded"]:
        more = ", more than was foreseen" if len(by["flooded"]) > expected + 1 else ""
        return "go back", (
            f"{counted(len(by['flooded']), 'unit')} flooded ({listed(by['flooded'])}); "
            f"{expected:.1f} were foreseen{more}. Go back to the pressure before, or free them "
            "first; do not go on."
        )
    # What was read and is no longer sound has changed at the step, however unlikely that was.
    worse = [u.tag for u in units if u.outcome == "cannot_tell" and u.read_again]
    unseen = [
        u.tag for u in units
        if u.outcome == "cannot_tell" and not u.read_again
        and not np.nan_to_num(u.foreseen, nan=1.0) < TO_BE_SEEN_CHANCE
    ]  # fmt: skip
    if by["not_yet_warm"] or worse or unseen:
        parts = []
        if by["not_yet_warm"]:
            parts.append(f"{listed(by['not_yet_warm'])} not yet warm")
        if worse:
            parts.append(f"{listed(worse)}: sound before the step, and no longer for sure")
        if unseen:
            parts.append(f"{listed(unseen)} cannot be told of, and might stand back")
        return "wait", f"{'; '.join(parts)}. Stay at this pressure and read them again."
    rest = f" {counted(len(by['cannot_tell']), 'unit')} of little risk unread." * bool(
        by["cannot_tell"]
    )
    return "go on", f"every unit that had to be seen has held ({len(by['held']):,}).{rest}"
