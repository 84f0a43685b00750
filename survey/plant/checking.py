"""Checking a step: a round read at the new pressure, held against the one before it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from survey.columns import NORMAL_90
from survey.physics.saturation import saturation_f
from survey.plant.going_on import OUTCOMES, TO_BE_SEEN_CHANCE, UnitChecked, go_on
from survey.plant.heating import SPARE_SHARE
from survey.plant.lift import Needs, flood_chance, needs
from survey.plant.limits import LEAST_LIFT_FT, drain_kinds, limits
from survey.plant.shared_return import SMALL_RISE_PSI
from survey.plant.standing import apart_words, pressures_apart_psig
from survey.plant.steps import step_psi
from survey.plant.units import Units, site_atmosphere_psia, units_of
from survey.plant.wording import listed, place_words
from survey.site import Site

NEEDING_WORDS = {"trap": "its trap", "return": "its return"}
UNSETTLED = {"go back": "go_back", "wait": "wait"}
"""What a check may say that keeps a station from going on, as its plan's standing."""
TOGETHER = (
    "{names} went down between the same two rounds: where they share a return, what either did to "
    "it cannot be told apart."
)
SURE_ENOUGH = 0.5
READ_AGAIN = "open its test valve and read it again; if it stays so, go back"
GAUGE_AS_IT_WAS = (
    "Its gauge shows what it did; what moved is what the second round makes of that gauge."
)
RETURN_ROSE = (
    "its units have held, but its return stands {psi:.1f} psi higher than before the step, where "
    "less flash should have let it fall: find what feeds it, a blown trap or another station, "
    "before going on."
)
SAME_PRESSURE_PSI = 1.5
SAME_SHARE_OF_STEP = 0.4
"""A pressure that moved by less than both, some of a step as it is planned there, is as it was; so
is one whose gauge shows what it did."""
UNITS_TO_COMPARE = 4
"""So many hot units of a station tell what a step, or another instrument, does to all of them."""
FALLEN_F = 15.0
FALLEN_SPREADS = 3.0
"""Further under steam than before by this much is more than two readings of one pipe differ by,
common practice, no source; or by so many spreads of the station's other units."""


@dataclass(frozen=True)
class StationChecked:
    """One station after a step.

    Parameters
    ----------
    go_on
        'go on', 'wait', 'go back' or 'no step': its pressure is as it was, or higher.
    stepped
        Whether its pressure went down.
    expected
        How many were foreseen to flood, by the round before.
    """

    station: str
    before_psig: float
    after_psig: float
    go_on: str
    stepped: bool
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
    stations = tuple(
        _station(old.take(mine), new, found[mine], air)
        for name in sorted(set(old.station))
        if len(mine := np.flatnonzero(old.station == name))
    )
    stepped = [one.station for one in stations if one.stepped]
    if len(stepped) < 2:
        return stations
    said = TOGETHER.format(names=listed(stepped))
    return tuple(
        replace(one, words=f"{one.words} {said}") if one.station in stepped else one
        for one in stations
    )


def with_unread(new: Units, old: Units) -> tuple[Units, tuple[str, ...]]:
    """Return a round's units and those of the round before that it left out, and the tags of these.

    A station that was not read again at all is left out whole.
    """
    left = ~np.isin(old.tag, new.tag) & np.isin(old.station, new.station)
    supply = old.supply_psia.copy()
    for name in sorted(set(old.station[left])):
        there = old.station == name
        supply[there] = _moved_to(supply[there], _middle(new.supply_psia[new.station == name]))
    unread = replace(old, supply_psia=supply).take(np.flatnonzero(left))
    return new.and_more(unread), tuple(map(str, unread.tag))


def _station(old: Units, new: Units, found: np.ndarray, air: float) -> StationChecked:
    here = new.take(found[found >= 0])
    was, now = _middle(old.supply_psia), _middle(here.supply_psia)
    supply = _moved_to(old.supply_psia, now)
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
    moved = _moved_psi(old, new, found)
    if np.isnan(moved):
        moved = now - was
    same = min(SAME_PRESSURE_PSI, SAME_SHARE_OF_STEP * step_psi(today_psig=was - air))
    said, words = go_on(units, moved, same, expected)
    if abs(moved) < same <= abs(now - was):
        words = f"{words} {GAUGE_AS_IT_WAS}"
    if said == "go on" and (rose := _return_rose_psi(old, new, found)) > SMALL_RISE_PSI:
        said, words = "wait", RETURN_ROSE.format(psi=rose)
    apart = pressures_apart_psig(here, air_psia=air) or pressures_apart_psig(old, air_psia=air)
    if apart is not None and said != "go back":
        said, words, was, now = "wait", apart_words(apart), float("nan"), float("nan")
    return StationChecked(
        str(old.station[0]), was - air, now - air, said, moved <= -same,
        words, counts, expected, tuple(units),
    )  # fmt: skip


def _moved_psi(old: Units, new: Units, found: np.ndarray) -> float:
    """Return how far the gauges of units read in both rounds moved; NaN where none was read."""
    both = found >= 0
    return _middle(new.gauge_psig[found[both]] - old.gauge_psig[both])


def _return_rose_psi(old: Units, new: Units, found: np.ndarray) -> float:
    """Return how far the return of units read in both rounds rose; 0 where none was read."""
    both = found >= 0
    both[both] &= old.return_given[both] & new.return_given[found[both]]
    return float(np.nan_to_num(_middle(new.return_psia[found[both]] - old.return_psia[both])))


def _moved_to(supply: np.ndarray, now: float) -> np.ndarray:
    """Return the pressures of units of a station that has another, as far from its middle."""
    return supply + now - _middle(supply)


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
