"""A round's verdicts: state, cause, confidence, evidence, action and flags of every device."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from survey.columns import CAUSES, TRAP_STATES, UNDECIDED
from survey.diagnosis import priors
from survey.diagnosis.actions import CONFIRM_UNDER, trap_action
from survey.diagnosis.calibration import Calibration, calibrate
from survey.diagnosis.flagging import flags_of
from survey.diagnosis.hypotheses import CAUSE_OF, HYPOTHESES, STATE_OF, by_state
from survey.diagnosis.intake import Intake, take_in
from survey.diagnosis.joint import lift_short_psi
from survey.diagnosis.likelihood import OPENINGS, background_of
from survey.diagnosis.rows import Conditions, conditions
from survey.diagnosis.sampling import calibration_rows
from survey.diagnosis.settle import most_telling
from survey.diagnosis.speech import (
    HYPOTHESIS_WORDS,
    Told,
    decided,
    trap_clause,
    upstream_words,
)
from survey.diagnosis.trap_logs import FACTORS
from survey.diagnosis.verdict_devices import TRAP_USUAL_FROM, fill_devices, named
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
        Spread of that flow's natural log: bore and coefficient, (n,).
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
    intake = take_in(table, site, calibration.gaps if calibration else None)
    if calibration is None:
        rows, equipment = calibration_rows(intake, np.argsort(table["tag"].to_numpy(dtype=object)))
        calibration = calibrate(rows, equipment_count=equipment, gaps=intake.gaps, site=site)
    intake = replace(intake, rows=calibration.as_held(intake.rows))
    shift = calibration.instruments.gauge_shift_psi[intake.rows.station]
    state = conditions(intake.rows, gauge_shift_psi=shift, site=site)
    whole = Round(intake.rows, state, intake.equipment_count, intake.gaps.listed)
    traps, at = whole.part(whole.kind("trap"))
    short = lift_short_psi(traps, at)
    weighed = weigh_round(
        calibration.model, calibration.kinds, calibration.instruments, whole, short
    )
    verdicts = _blank(len(table))
    told = _told(calibration, intake, state)
    _fill_traps(verdicts, calibration, whole, weighed, told, short)
    fill_devices(verdicts, weighed, told)
    _fill_context(verdicts, told, intake, calibration)
    return _with_flows(verdicts, calibration, intake, whole, weighed)


def _blank(count: int) -> pd.DataFrame:
    columns: dict[str, object] = {
        "state": np.full(count, UNDECIDED, dtype=object),
        "confidence": np.zeros(count),
        **{f"p_{name}": np.full(count, np.nan) for name in TRAP_STATES},
        "cause": np.full(count, "none", dtype=object),
        "action": np.full(count, "", dtype=object),
        "evidence": np.full(count, "", dtype=object),
    }
    return pd.DataFrame(columns)


def _told(calibration: Calibration, intake: Intake, state: Conditions) -> Told:
    background, known = background_of(calibration.model, intake.rows)
    corrected = calibration.instruments.corrected(intake.rows)
    return Told(intake.rows, corrected, state, background, known)


def _fill_traps(
    verdicts: pd.DataFrame,
    calibration: Calibration,
    whole: Round,
    weighed: Weighed,
    told: Told,
    short: np.ndarray,
) -> None:
    index, trap = weighed.traps, weighed.joint.trap
    if not len(index):
        return
    states = by_state(trap)
    best = states.argmax(axis=1)
    confidence = states.max(axis=1)
    decided_at = named(confidence, weighed.logs.total, usual_from=TRAP_USUAL_FROM)
    first = np.where(best[:, None] == STATE_OF, trap, -1.0).argmax(axis=1)
    second = np.where(best[:, None] != STATE_OF, trap, -1.0).argmax(axis=1)
    telling = np.full(len(index), "", dtype=object)
    unsure = np.flatnonzero((confidence < CONFIRM_UNDER) | ~decided_at)
    part, at = whole.part(index[unsure])
    telling[unsure], _ = most_telling(
        calibration.model, part, at, weighed.logs.flow_lb_per_h[unsure], trap[unsure]
    )
    names = np.array(TRAP_STATES, dtype=object)
    place = verdicts.index[index]
    verdicts.loc[place, "state"] = np.where(decided_at, names[best], UNDECIDED)
    verdicts.loc[place, "confidence"] = confidence
    for position, name in enumerate(TRAP_STATES):
        verdicts.loc[place, f"p_{name}"] = states[:, position]
    causes = np.array(CAUSES, dtype=object)[CAUSE_OF[first]]
    verdicts.loc[place, "cause"] = np.where(decided_at, causes, "unknown")
    verdicts.loc[place, "evidence"] = _trap_evidence(weighed, told, first, second, short)
    verdicts.loc[place, "action"] = np.array(
        [
            trap_action(
                HYPOTHESES[first[i]].name if decided_at[i] else UNDECIDED,
                HYPOTHESES[second[i]].name,
                HYPOTHESES[first[i]].name,
                telling[i],
                confidence[i],
            )
            for i in range(len(index))
        ],
        dtype=object,
    )


def _trap_evidence(
    weighed: Weighed, told: Told, first: np.ndarray, second: np.ndarray, short: np.ndarray
) -> np.ndarray:
    each = np.arange(len(first))
    parts = {
        name: weighed.logs.factors[name][each, first] - weighed.logs.factors[name][each, second]
        for name in FACTORS
    }
    trap = np.log(np.maximum(weighed.joint.trap, 1e-12))
    parts["upstream"] = trap[each, first] - trap[each, second] - sum(parts.values())
    seat = told.rows.equipment[weighed.traps]
    shut = weighed.joint.shut[seat]
    stuck = 1.0 - weighed.joint.check[seat, 0]
    words = np.empty(len(first), dtype=object)
    for i, row in enumerate(weighed.traps):
        upstream = upstream_words(first[i], shut=shut[i], stuck=stuck[i], short_psi=short[i])
        words[i] = decided(
            {name: float(values[i]) for name, values in parts.items()},
            trap_clause(told, int(row), upstream),
            HYPOTHESIS_WORDS[HYPOTHESES[first[i]].name],
            HYPOTHESIS_WORDS[HYPOTHESES[second[i]].name],
        )
    return words


def _fill_context(
    verdicts: pd.DataFrame, told: Told, intake: Intake, calibration: Calibration
) -> None:
    rows, state = told.rows, told.state
    verdicts["saturation_f"] = state.saturation_f
    verdicts["return_saturation_f"] = state.return_saturation_f
    verdicts["subcooling_f"] = state.saturation_f - told.corrected.inlet_f
    verdicts["sound_over_background_db"] = rows.sound_db - rows.background_db
    verdicts["flags"] = flags_of(told, intake, calibration)


def _with_flows(
    verdicts: pd.DataFrame,
    calibration: Calibration,
    intake: Intake,
    whole: Round,
    weighed: Weighed,
) -> Diagnosis:
    count = len(verdicts)
    passing, flow = np.zeros((count, len(OPENINGS))), np.full(count, np.nan)
    states = by_state(weighed.joint.trap)
    leaking, opened = TRAP_STATES.index("leaking"), TRAP_STATES.index("failed_open")
    passing[weighed.traps] = np.concatenate(
        [
            weighed.logs.leaking * states[:, leaking, None],
            weighed.logs.opened * states[:, opened, None],
        ],
        axis=1,
    )
    flow[weighed.traps] = weighed.logs.flow_lb_per_h * priors.DRY_SHARE
    bore = np.where(intake.bore_given, priors.BORE_LOG_SPREAD, priors.BORE_UNKNOWN_LOG_SPREAD)
    spread = np.hypot(bore, priors.COEFFICIENT_LOG_SPREAD)
    return Diagnosis(verdicts, passing, flow, spread, whole.state.supply_psia, calibration, intake)
