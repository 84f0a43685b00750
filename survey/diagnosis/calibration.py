"""The round tells what its instruments do: fitting the model to a round, by weighing.

Start at the priors, weigh the round, let the chances move the model, and again, a fixed number
of times. The rows come sorted by tag, and large rounds as a sample (`sampling`), so the result
depends on neither the order of rows nor how they are batched.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from survey.columns import DEVICES, PATTERNS
from survey.diagnosis import learning
from survey.diagnosis.companion_looks import LOOKS_BY_DEVICE
from survey.diagnosis.companions import DeviceModel
from survey.diagnosis.flows import NO_FLOW, looks_backed_up
from survey.diagnosis.gaps import Gaps
from survey.diagnosis.heaters import BY_WAY, STATES_BY_VENT, left_by_trap, left_lifeless
from survey.diagnosis.holding_up import listed_by_service
from survey.diagnosis.hypotheses import HOT_LOOKS, INDEX, LOOKS, LOSING_LOOKS, by_look
from survey.diagnosis.instruments import INFRARED, Instruments, outlets_by_own_inlet
from survey.diagnosis.learning_devices import learn_device
from survey.diagnosis.learning_instruments import HeldShares, learn_shares, learn_surfaces
from survey.diagnosis.learning_sound import learn_sound
from survey.diagnosis.learning_temperatures import learn_temperatures
from survey.diagnosis.likelihood import log_sum
from survey.diagnosis.model import UPSTREAM, Model
from survey.diagnosis.rows import MISSING, Conditions, Rows, conditions
from survey.diagnosis.weighing import Round, Weighed, weigh_round
from survey.physics.saturation import saturation_psia
from survey.site import Site

PASSES = 14
PASSES_BEFORE_GAUGES = 3
PASSES_BEFORE_OUTLETS = 7
"""Passes in which outlets do not say which traps teach where leaking and blown ones' outlets stand:
a prior that is off for a plant would else choose the traps that bear it out."""
MOST_UNHEARD = 0.5
"""Share of a round's traps without a sound level from which nothing but outlets can tell those two
apart."""
BACKGROUND_DB = 28.0
"""Usual background of a meter that has none read; meters have references of their own, so this
stands in only where few sounds were read. Common practice, no source."""
BACKGROUND_WEIGHT = 10.0
"""Sounds of units that do not hiss without a pause from which they alone hint at the background."""
LEAST_BACKGROUNDS = 3
"""Background readings from which their own spread is taken."""
LOG_ODDS_CONTACT = 3.0
"""How much better infrared must explain a round that names no thermometer, natural log."""


@dataclass(frozen=True)
class Calibration:
    """What a round was found to do: its model, its instruments, its gaps."""

    model: Model
    kinds: dict[str, DeviceModel]
    instruments: Instruments
    gaps: Gaps
    unnamed_thermometer: int = MISSING
    """Which thermometer the round was found to be read with, where it names none at all."""

    def as_held(self, rows: Rows) -> Rows:
        """Return the rows with the thermometer that was found, where none is named."""
        named = rows.thermometer >= 0
        if named.any() or self.unnamed_thermometer == MISSING:
            return rows
        return replace(rows, thermometer=np.full_like(rows.thermometer, self.unnamed_thermometer))


def calibrate(rows: Rows, *, equipment_count: int, gaps: Gaps, site: Site) -> Calibration:
    """Fit the model to a round's readings.

    Parameters
    ----------
    rows
        The devices to learn from, with station and equipment codes that are never missing.

    Notes
    -----
    A round that names no thermometer is fitted as read with each, and the one that explains
    its traps better stands, contact unless infrared is clearly better.
    """
    first, told = _fit(rows, equipment_count=equipment_count, gaps=gaps, site=site)
    if (rows.thermometer >= 0).any():
        return first
    guess = replace(rows, thermometer=np.full_like(rows.thermometer, INFRARED))
    other, better = _fit(guess, equipment_count=equipment_count, gaps=gaps, site=site)
    if better > told + LOG_ODDS_CONTACT:
        return replace(other, unnamed_thermometer=INFRARED)
    return first


def _fit(rows: Rows, *, equipment_count: int, gaps: Gaps, site: Site) -> tuple[Calibration, float]:
    """Fit the model as the thermometers are given; and how well the last pass explains traps."""
    model, instruments = Model(), Instruments.prior(len(gaps.stations))
    model.listed = {device: listed_by_service(rows, device) for device in UPSTREAM}
    kinds = {device: DeviceModel.prior(device) for device in LOOKS_BY_DEVICE}
    anchor_db = _start_background(model, rows)
    as_read = conditions(rows, gauge_shift_psi=np.zeros(len(rows)), site=site)
    traps = np.flatnonzero(rows.device == DEVICES.index("trap"))
    stations = len(instruments.share)
    held = HeldShares.of(rows.take(traps), as_read.take(traps), stations=stations)
    told = 0.0
    for turn in range(PASSES):
        shift = instruments.gauge_shift_psi[rows.station]
        state = conditions(rows, gauge_shift_psi=shift, site=site)
        whole = Round(rows, state, equipment_count, gaps.listed, gaps.off)
        told = _one_pass(model, kinds, instruments, whole, as_read, held, turn, anchor_db)
    return Calibration(model, kinds, instruments, gaps), told


def _start_background(model: Model, rows: Rows) -> float:
    """Set the round's usual background before anything is weighed, and return it.

    Those that were read tell it, be there one. Else units that do not hiss without a pause hint
    at it from above, the more of them the better; a round of hissing traps alone hints at
    nothing: its loudest leaks are no background.
    """
    read = rows.background_db[~np.isnan(rows.background_db)]
    if len(read):
        model.background_db = float(np.median(read))
    if len(read) >= LEAST_BACKGROUNDS:
        model.background_spread_db = float(np.clip(np.std(read), 1.5, 10.0))
    if not len(read):
        hissing = rows.pattern == PATTERNS.index("continuous")
        heard = rows.sound_db[~np.isnan(rows.sound_db) & ~hissing]
        hint = float(np.quantile(heard, 0.15)) if len(heard) else BACKGROUND_DB
        weight = min(len(heard) / BACKGROUND_WEIGHT, 1.0)
        model.background_db = BACKGROUND_DB + weight * (hint - BACKGROUND_DB)
    return model.background_db


def _one_pass(
    model: Model,
    kinds: dict[str, DeviceModel],
    instruments: Instruments,
    whole: Round,
    as_read: Conditions,
    held: HeldShares,
    turn: int,
    anchor_db: float,
) -> float:
    traps = whole.kind("trap")
    rows, state = whole.part(traps)
    weighed = weigh_round(model, kinds, instruments, whole)
    looks = by_look(weighed.joint.trap)
    at = as_read.take(traps)
    apart = _without_temperatures(weighed)
    learn_shares(instruments, held, apart)
    learn_surfaces(model, instruments, rows, state, apart)
    if turn >= PASSES_BEFORE_GAUGES:
        instruments.gauge_shift_psi = _gauge_shifts(instruments, rows, at)
    usual = weighed.joint.trap.sum(axis=0) / max(len(traps), 1)
    told = log_sum(weighed.logs.total + np.log(usual + 1e-9)).sum()
    heard = np.isnan(rows.sound_db).sum() < MOST_UNHEARD * len(traps)
    by_sound = heard and turn < PASSES_BEFORE_OUTLETS
    teaching = _losing_by_sound(weighed, looks) if by_sound else looks
    _learn(model, kinds, instruments, whole, weighed, looks, teaching, anchor_db)
    return float(told)


def _learn(
    model: Model,
    kinds: dict[str, DeviceModel],
    instruments: Instruments,
    whole: Round,
    weighed: Weighed,
    looks: np.ndarray,
    teaching: np.ndarray,
    anchor_db: float,
) -> None:
    """Move all of the model by one pass.

    Parameters
    ----------
    looks, teaching
        Chance of each trap's looks, and as temperatures are learnt from them, (traps, looks) each.
    """
    rows, state = whole.part(weighed.traps)
    typed = rows.trap_type >= 0
    known = np.flatnonzero(typed)
    _learn_temperatures(model, instruments, rows.take(known), state.take(known), teaching[known])
    openings = np.concatenate(
        [
            weighed.logs.leaking * looks[:, LOOKS.index("leaking"), None],
            weighed.logs.opened * looks[:, LOOKS.index("failed_open"), None],
        ],
        axis=1,
    )
    learn_sound(
        model,
        rows.take(known),
        weighed.logs.flow_lb_per_h[known],
        looks[known],
        openings[known],
        anchor_db,
    )
    learning.learn_words(model, rows.take(known), looks[known])
    lit = ~whole.off[rows.station]
    looks_backed = looks_backed_up(weighed.logs.total)
    learning.learn_rates(
        model, rows, weighed.joint, weighed.lifts, looks_backed, rows.equipment, lit
    )
    of = weighed.joint.trap, rows.equipment, whole.equipment_count
    heater, still = left_by_trap(*of, BY_WAY), left_by_trap(*of, [NO_FLOW])
    for name, (index, chance, _) in weighed.devices.items():
        part, part_state = whole.part(index)
        kind, before = kinds[name], weighed.lifeless[name][part.equipment]
        left = (heater if name in STATES_BY_VENT else still)[part.equipment]
        gone = left_lifeless(chance, weighed.stands[name], before, kind.cooled)
        true = instruments.corrected(part)
        learn_device(kind, model, chance, before, left, gone, true, part_state)


def _without_temperatures(weighed: Weighed) -> np.ndarray:
    """Chance of each look from everything but the temperatures, (n, looks)."""
    said = weighed.logs.factors["inlet"] + weighed.logs.factors["outlet"]
    logs = np.log(weighed.joint.trap + 1e-300) - said
    chance = np.exp(logs - logs.max(axis=1, keepdims=True))
    looks = by_look(chance)
    result: np.ndarray = looks / looks.sum(axis=1, keepdims=True)
    return result


def _learn_temperatures(
    model: Model, instruments: Instruments, rows: Rows, state: Conditions, looks: np.ndarray
) -> None:
    """Move what temperatures are expected by those of known thermometers and surfaces.

    Where a surface is known only by a hot inlet, what its outlet shows of hot traps counts.
    """
    steady = instruments.steady_share(rows)
    true = instruments.corrected(rows)
    outlet_f = outlets_by_own_inlet(model, instruments, rows, state)
    by_inlet = ~steady & ~np.isnan(outlet_f)
    true = replace(
        true,
        inlet_f=np.where(by_inlet, np.nan, true.inlet_f),
        outlet_f=np.where(by_inlet, outlet_f, true.outlet_f),
    )
    looks = looks.copy()
    looks[by_inlet, HOT_LOOKS:] = 0.0
    told = np.flatnonzero(steady | by_inlet)
    learn_temperatures(model, true.take(told), state.take(told), looks[told])


def _losing_by_sound(weighed: Weighed, looks: np.ndarray) -> np.ndarray:
    """Return chances of looks, leaking and blown open told apart by all but the outlet."""
    leaking, opened = LOSING_LOOKS
    outlet = weighed.logs.factors["outlet"]
    chance = looks[:, LOSING_LOOKS] + 1e-300
    odds = np.log(chance[:, 1] / chance[:, 0])
    odds -= outlet[:, INDEX["failed_open"]] - outlet[:, INDEX["leaking"]]
    result = looks.copy()
    result[:, opened] = chance.sum(axis=1) / (1.0 + np.exp(np.clip(-odds, -50.0, 50.0)))
    result[:, leaking] = chance.sum(axis=1) - result[:, opened]
    return result


def _gauge_shifts(instruments: Instruments, rows: Rows, as_read: Conditions) -> np.ndarray:
    """Return what to add to each station's gauge, psi, (S,), by its hot units' temperature."""
    ratio = instruments.gauge_ratio[rows.station]
    true_f = rows.ambient_f + ratio * as_read.span_f
    shift = saturation_psia(temperature_f=true_f) - as_read.supply_psia
    result = np.zeros(len(instruments.share))
    for station in np.flatnonzero(instruments.gauge_ratio != 1.0):
        mine = shift[(rows.station == station) & ~np.isnan(shift)]
        if len(mine):
            result[station] = np.median(mine)
    return result
