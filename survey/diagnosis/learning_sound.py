"""How one look at the round moves what its meter is expected to hear."""

from __future__ import annotations

import numpy as np

from survey.columns import TRAP_TYPES
from survey.diagnosis import priors
from survey.diagnosis.hypotheses import HOT_LOOKS, LOOKS_INDEX
from survey.diagnosis.learning import robust
from survey.diagnosis.model import Model
from survey.diagnosis.rows import Rows
from survey.diagnosis.sound_levels import (
    OPENINGS,
    background_of,
    bore_decades,
    pressure_decades,
    sources_db,
)
from survey.physics.sound import add_two_levels_db

_PRIOR = Model()


def learn_sound(
    model: Model,
    rows: Rows,
    flow: np.ndarray,
    looks: np.ndarray,
    openings: np.ndarray,
    anchor_db: float,
) -> None:
    """Move source levels, background and spreads by one damped Gauss-Newton step.

    Parameters
    ----------
    openings
        Chance of each opening, leaking and blown open together, (n, openings).
    anchor_db
        The round's usual background before the step, dB.
    """
    heard = ~np.isnan(rows.sound_db)
    background, known = background_of(model, rows)
    sources = sources_db(model, rows, flow)
    expected = add_two_levels_db(
        level_db=background[:, None], other_db=sources + model.background_db
    )
    residual = rows.sound_db[:, None] - expected
    silent = looks[:, HOT_LOOKS:].sum(axis=1) + looks[:, LOOKS_INDEX["idle"]]
    chance = (
        np.concatenate([silent[:, None], looks[:, [LOOKS_INDEX["working"]]], openings], axis=1)
        * heard[:, None]
    )
    kinds = np.array([0, 1] + [2] * len(OPENINGS))
    spread = model.sound_spread_db[kinds]
    slope = 1.0 - 10.0 ** ((background[:, None] - expected) / 10.0)
    weight = np.nan_to_num(chance * robust(residual, spread) / spread**2)
    residual = np.nan_to_num(residual)
    _step_working(model, rows, weight[:, 1], slope[:, 1], residual[:, 1])
    _step_jet(model, rows, flow, weight[:, 2:], slope[:, 2:], residual[:, 2:])
    _step_background(model, weight, 1.0 - slope, residual, ~known, anchor_db)
    _sound_spreads(model, residual, chance, kinds)


def _step_working(
    model: Model, rows: Rows, weight: np.ndarray, slope: np.ndarray, residual: np.ndarray
) -> None:
    centres = _PRIOR.working_db
    common = float(np.mean(model.working_db - centres))
    for code, name in enumerate(TRAP_TYPES):
        wide = priors.SOURCE_WORKING_DB[name][1]
        mine = rows.trap_type == code
        grade = (weight * slope * residual)[mine].sum()
        curve = (weight * slope * slope)[mine].sum()
        # Types move together by the meter's own level, and apart by less.
        target = centres[code] + common * 0.9
        grade -= (model.working_db[code] - target) / wide**2
        model.working_db[code] += grade / (curve + 1.0 / wide**2)
    tilts = (
        ("working_db_per_decade", priors.WORKING_DB_PER_DECADE, pressure_decades(rows)),
        ("working_db_per_bore_decade", priors.WORKING_DB_PER_BORE_DECADE, bore_decades(rows)),
    )
    for tilt, (usual, wide), decades in tilts:
        grade = (weight * slope * residual * decades).sum()
        grade += (usual - getattr(model, tilt)) / wide**2
        curve = (weight * (slope * decades) ** 2).sum() + 1.0 / wide**2
        setattr(model, tilt, getattr(model, tilt) + float(np.clip(grade / curve, -3.0, 3.0)))
    most = priors.WORKING_DB_PER_BORE_DECADE_MOST
    model.working_db_per_bore_decade = float(np.clip(model.working_db_per_bore_decade, 0.0, most))


def _usual_working_db(model: Model, rows: Rows) -> float:
    """Return the level of working traps at the round's own pressures, over background."""
    at = float(np.median(pressure_decades(rows))) if len(rows) else 0.0
    return float(np.mean(model.working_db)) + model.working_db_per_decade * at


def _step_jet(
    model: Model,
    rows: Rows,
    flow: np.ndarray,
    weight: np.ndarray,
    slope: np.ndarray,
    residual: np.ndarray,
) -> None:
    flow = np.where(np.isfinite(flow) & (flow > 0.01), flow, 20.0)
    decades = np.log10(flow[:, None] * OPENINGS / 10.0)
    pressure = pressure_decades(rows)[:, None]
    centre, wide = priors.SOURCE_JET_DB
    tilt, tilt_wide = priors.JET_DB_PER_DECADE
    faster, faster_wide = priors.JET_DB_PER_PSI_DECADE
    over, over_wide = priors.JET_OVER_WORKING_DB
    working = _usual_working_db(model, rows)
    pull = np.array(
        [
            (centre - model.jet_db) / wide**2 + (working + over - model.jet_db) / over_wide**2,
            (tilt - model.jet_db_per_decade) / tilt_wide**2,
            (faster - model.jet_db_per_psi_decade) / faster_wide**2,
        ]
    )
    missed = weight * slope * residual
    steep = weight * slope * slope
    # Traps tell how much louder more flow is by their bores and pressures: openings were themselves
    # told by the level, and would bear out any tilt.
    told_by = np.stack([np.ones(len(flow)), np.log10(flow / 10.0), pressure[:, 0]])
    moved_by = (np.ones_like(decades), decades, np.broadcast_to(pressure, decades.shape))
    grade = told_by @ missed.sum(axis=1)
    curve = np.stack([told_by @ (steep * each).sum(axis=1) for each in moved_by], axis=1)
    curve += np.diag([1.0 / wide**2 + 1.0 / over_wide**2, 1.0 / tilt_wide**2, 1.0 / faster_wide**2])
    step = np.linalg.solve(curve, grade + pull)
    moved = model.jet_db + float(np.clip(step[0], -6.0, 6.0))
    model.jet_db = max(moved, working + priors.JET_LEAST_OVER_WORKING_DB)
    model.jet_db_per_decade = float(np.clip(model.jet_db_per_decade + step[1], 6.0, 15.0))
    model.jet_db_per_psi_decade = float(np.clip(model.jet_db_per_psi_decade + step[2], -2.0, 14.0))


def _step_background(
    model: Model,
    weight: np.ndarray,
    slope: np.ndarray,
    residual: np.ndarray,
    unread: np.ndarray,
    anchor_db: float,
) -> None:
    weight = weight * unread[:, None]
    # The anchor is the middle of the backgrounds that were read, and as sure as they are many.
    sure = (1.0 + (~unread).sum()) / 4.0**2
    grade = (weight * slope * residual).sum() + sure * (anchor_db - model.background_db)
    curve = (weight * slope * slope).sum() + sure
    step = float(np.clip(grade / curve, -3.0, 3.0))
    model.background_db += step
    # Source levels are held over the background: a jet stays as loud when that moves.
    model.jet_db -= step
    model.working_db -= step


def _sound_spreads(
    model: Model, residual: np.ndarray, chance: np.ndarray, kinds: np.ndarray
) -> None:
    for kind, name in enumerate(("silent", "working", "jet")):
        prior = priors.SOUND_SPREAD_DB[name]
        mine = kinds == kind
        weight = chance[:, mine] * robust(residual[:, mine], model.sound_spread_db[kind])
        square = (weight * residual[:, mine] ** 2).sum() + priors.SOUND_WEIGHT * prior**2
        count = chance[:, mine].sum() + priors.SOUND_WEIGHT
        model.sound_spread_db[kind] = np.clip(
            np.sqrt(square / count),
            priors.SOUND_SPREAD_LEAST[name] * prior,
            priors.SOUND_SPREAD_MOST[name] * prior,
        )
