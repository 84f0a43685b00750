"""A round's verdicts: state, cause, confidence, evidence, action and flags of every device."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from survey.columns import DEVICES, TRAP_STATES
from survey.diagnosis import priors
from survey.diagnosis.calibration import Calibration, calibrate
from survey.diagnosis.equipment import PlaceNames, equipment_codes
from survey.diagnosis.flagging import flags_of
from survey.diagnosis.flow_spread import flow_log_spread
from survey.diagnosis.gaps import Gaps
from survey.diagnosis.hypotheses import by_state
from survey.diagnosis.intake import Intake, take_in
from survey.diagnosis.phrases import NOTHING, Pieces, column
from survey.diagnosis.rows import Conditions, conditions
from survey.diagnosis.sampling import sampled
from survey.diagnosis.sound_levels import LEAKING_GRID, OPEN_GRID, OPENINGS, background_of
from survey.diagnosis.speech import Told
from survey.diagnosis.spoken import Spoken
from survey.diagnosis.verdict_devices import device_verdicts
from survey.diagnosis.verdict_traps import trap_verdicts
from survey.diagnosis.weighing import Round, Weighed, weigh_round
from survey.site import Site


@dataclass(frozen=True)
class Diagnosis:
    """Verdicts of n devices, in the order of the table they were made from.

    Parameters
    ----------
    verdicts
        Columns state, confidence, p_*, cause, action, evidence, saturation_f,
        return_saturation_f, subcooling_f, sound_over_background_db, flags.
    passing
        Chance of each opening of `OPENINGS` of each device's seat, (n, openings).
    flow_lb_per_h
        Dry steam through each device's whole bore, lb/h, (n,); NaN where unknown.
    log_spread
        Spread of that flow's natural log: bore, coefficient and water in the way, (n,).
    supply_psia
        Absolute supply pressure each was judged at, (n,).
    """

    verdicts: pd.DataFrame
    passing: np.ndarray
    flow_lb_per_h: np.ndarray
    log_spread: np.ndarray
    supply_psia: np.ndarray
    calibration: Calibration
    intake: Intake


def diagnose(
    table: pd.DataFrame, *, site: Site, calibration: Calibration | None = None
) -> Diagnosis:
    """Judge a tidy table.

    Parameters
    ----------
    table
        All columns of `columns.INPUT_COLUMNS`, contract units.
    calibration
        Found before, on this round; by default the round calibrates itself.
    """
    if calibration is None:
        intake, calibration = calibrate_round(table, site=site)
    else:
        intake = take_in(table, site, calibration.gaps)
    return judge(intake, site=site, calibration=calibration)


def calibrate_round(table: pd.DataFrame, *, site: Site) -> tuple[Intake, Calibration]:
    """Return a tidy table as it is judged, and what its round as a whole tells."""
    names = PlaceNames.of(table)
    intake = take_in(table, site, None, equipment_codes(names))
    chosen = sampled(key=names.keys(), station=intake.rows.station)
    return intake, calibrate_on(table[chosen], site, intake.gaps)


def calibrate_on(table: pd.DataFrame, site: Site, gaps: Gaps) -> Calibration:
    """Calibrate on some devices of a round, whole equipment of it.

    Parameters
    ----------
    table
        The devices, a tidy table. They are taken in order of tag: sums over the same rows in
        another order differ in their last digits.
    """
    order = np.argsort(table["tag"].to_numpy(dtype=object), kind="stable")
    intake = take_in(table.iloc[order], site, gaps)
    return calibrate(intake.rows, equipment_count=intake.equipment_count, gaps=gaps, site=site)


def judge(intake: Intake, *, site: Site, calibration: Calibration) -> Diagnosis:
    """Judge a round, or whole equipment of one, by its calibration."""
    intake = replace(intake, rows=calibration.as_held(intake.rows))
    shift = calibration.instruments.gauge_shift_psi[intake.rows.station]
    state = conditions(intake.rows, gauge_shift_psi=shift, site=site)
    whole = Round(intake.rows, state, intake.equipment_count, intake.gaps.listed, intake.gaps.off)
    weighed = weigh_round(calibration.model, calibration.kinds, calibration.instruments, whole)
    told = _told(calibration, intake, state)
    pieces = Pieces()
    spoken = [trap_verdicts(pieces, calibration, whole, weighed, told)]
    spoken += device_verdicts(pieces, weighed, told)
    columns = _assembled(len(intake.rows), pieces, spoken, weighed)
    columns |= _context(told, intake, calibration)
    verdicts = pd.DataFrame(columns, copy=False)
    return _with_flows(verdicts, calibration, intake, whole, weighed)


def _assembled(
    count: int, pieces: Pieces, spoken: list[Spoken], weighed: Weighed
) -> dict[str, Any]:
    """Put the verdicts of every kind of device at their rows."""
    confidence = np.zeros(count)
    states = np.full((count, len(TRAP_STATES)), np.nan)
    states[weighed.traps] = by_state(weighed.joint.trap)
    for each in spoken:
        confidence[each.index] = each.confidence
    return {
        "state": column(pieces.texts(_placed(count, spoken, "state"))),
        "confidence": confidence,
        **{f"p_{name}": states[:, position] for position, name in enumerate(TRAP_STATES)},
        "cause": column(pieces.texts(_placed(count, spoken, "cause"))),
        "action": column(pieces.texts(_placed(count, spoken, "action"))),
        "evidence": column(pieces.joined(_placed(count, spoken, "evidence"))),
    }


def _placed(count: int, spoken: list[Spoken], name: str) -> np.ndarray:
    """Return the numbers of a column's words, of every kind of device, at their rows."""
    first = getattr(spoken[0], name)
    result = np.full((count, *first.shape[1:]), NOTHING, dtype=np.int32)
    for each in spoken:
        result[each.index] = getattr(each, name)
    return result


def _told(calibration: Calibration, intake: Intake, state: Conditions) -> Told:
    background, known = background_of(calibration.model, intake.rows)
    corrected = calibration.instruments.corrected(intake.rows)
    return Told(intake.rows, corrected, state, background, known)


def _context(told: Told, intake: Intake, calibration: Calibration) -> dict[str, Any]:
    """Return what the verdicts were weighed against, and the doubts about it."""
    rows, state = told.rows, told.state
    lent = rows.by_shared_pipe & (rows.device == DEVICES.index("check_valve"))
    return {
        "saturation_f": state.saturation_f,
        "return_saturation_f": state.return_saturation_f,
        "subcooling_f": np.where(lent, np.nan, state.saturation_f - told.corrected.inlet_f),
        "sound_over_background_db": rows.sound_db - rows.background_db,
        "flags": flags_of(told, intake, calibration),
    }


def _with_flows(
    verdicts: pd.DataFrame,
    calibration: Calibration,
    intake: Intake,
    whole: Round,
    weighed: Weighed,
) -> Diagnosis:
    count = len(verdicts)
    passing, flow = np.zeros((count, len(OPENINGS)), order="F"), np.full(count, np.nan)
    states = by_state(weighed.joint.trap)
    leaking, opened = TRAP_STATES.index("leaking"), TRAP_STATES.index("failed_open")
    passing[weighed.traps, LEAKING_GRID] = weighed.logs.leaking * states[:, leaking, None]
    passing[weighed.traps, OPEN_GRID] = weighed.logs.opened * states[:, opened, None]
    flow[weighed.traps] = weighed.logs.flow_lb_per_h * priors.DRY_SHARE
    spread = flow_log_spread(intake.bore_given)
    return Diagnosis(verdicts, passing, flow, spread, whole.state.supply_psia, calibration, intake)
