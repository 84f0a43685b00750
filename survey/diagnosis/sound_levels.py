"""How likely a sound level is under each look, and which opening it speaks for.

As in `likelihood`: natural logs, up to a constant that is the same for all looks of a row.
"""

from __future__ import annotations

import numpy as np

from survey.diagnosis import priors
from survey.diagnosis.hypotheses import LOOKS, LOOKS_INDEX
from survey.diagnosis.likelihood import student
from survey.diagnosis.model import Model
from survey.diagnosis.rows import Conditions, Rows
from survey.diagnosis.rowwise import row_max, row_sum, table
from survey.physics.orifice import DISCHARGE_COEFFICIENT_MEAN, steam_flow_lb_per_h
from survey.physics.sound import decibels, share_of_power

LOUDEST_LESS_DB = 1.7
"""How far under the loudest jet's middle level a level is as loud as any: over that, the odds
of lost steam would fall again."""
OPENINGS = np.concatenate([priors.OPENING_LEAKING, priors.OPENING_OPEN])
LEAKING_GRID = slice(0, len(priors.OPENING_LEAKING))
OPEN_GRID = slice(len(priors.OPENING_LEAKING), len(OPENINGS))


def jet_flow_lb_per_h(rows: Rows, state: Conditions) -> np.ndarray:
    """Flow of dry steam through the whole bore, lb/h, (n,); NaN where no pressure is known."""
    return steam_flow_lb_per_h(
        bore_in=rows.orifice_in,
        upstream_psia=state.supply_psia,
        downstream_psia=state.return_psia,
        discharge_coefficient=DISCHARGE_COEFFICIENT_MEAN,
    )


def pressure_decades(rows: Rows) -> np.ndarray:
    """Decades of pressure difference over `priors.WORKING_AT_PSI`, (n,); 0 where unknown."""
    difference = np.maximum(rows.supply_psig - rows.return_psig, 0.5)
    return np.asarray(np.nan_to_num(np.log10(difference / priors.WORKING_AT_PSI)))


def bore_decades(rows: Rows) -> np.ndarray:
    """Decades of bore over `priors.BORE_IN`, (n,)."""
    return np.asarray(np.log10(rows.orifice_in / priors.BORE_IN))


def sources_db(model: Model, rows: Rows, flow: np.ndarray) -> np.ndarray:
    """Source levels: silent, working, then a jet at each opening; (n, 2 + openings)."""
    # An unknown pressure leaves the jet's level at that of a common small leak.
    flow = np.where(np.isfinite(flow) & (flow > 0.01), flow, 20.0)
    working = model.working_db[rows.trap_type]
    sources = table(len(rows), 2 + len(OPENINGS))
    sources[:, 0] = model.silent_db
    pressure = pressure_decades(rows)
    sources[:, 1] = working + model.working_db_per_decade * pressure
    sources[:, 1] += model.working_db_per_bore_decade * bore_decades(rows)
    jet = model.jet_db + model.jet_db_per_decade * np.log10(flow / 10.0)
    jet += model.jet_db_per_psi_decade * pressure
    sources[:, 2:] = jet[:, None] + model.jet_db_per_decade * np.log10(OPENINGS)
    return sources


_KIND = np.array([0, 1] + [2] * len(OPENINGS))


def log_sound(
    model: Model, rows: Rows, flow: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return logs of the sound level, and of each opening given the look.

    Returns
    -------
    logs
        (n, looks).
    leaking, opened
        Density of each opening times its prior, (n, openings of that look).
    """
    background, known = background_of(model, rows)
    over = sources_db(model, rows, flow) + (model.background_db - background)[:, None]
    quiet = share_of_power(over_db=over)
    rise = -decibels(power_ratio=quiet)
    blur = np.where(known, 0.0, model.background_spread_db)[:, None] * quiet
    spread = np.sqrt(blur**2 + model.sound_spread_db[_KIND] ** 2)
    # As with temperatures: louder than any jet expected is the loudest jet, not an odd level.
    heard = np.minimum(rows.sound_db - background, row_max(rise[:, 2:]) - LOUDEST_LESS_DB)
    likely = student(heard[:, None] - rise, spread, priors.GROSS_SOUND)
    leaking = likely[:, 2:][:, LEAKING_GRID] * priors.OPENING_LEAKING_WEIGHT
    opened = likely[:, 2:][:, OPEN_GRID] * priors.OPENING_OPEN_WEIGHT
    result = table(len(rows), len(LOOKS))
    result[:] = np.log(likely[:, 0])[:, None]
    result[:, LOOKS_INDEX["working"]] = np.log(likely[:, 1])
    result[:, LOOKS_INDEX["leaking"]] = np.log(row_sum(leaking))
    result[:, LOOKS_INDEX["failed_open"]] = np.log(row_sum(opened))
    return result, leaking, opened


def background_of(model: Model, rows: Rows) -> tuple[np.ndarray, np.ndarray]:
    """Background level of each row, the round's own where it was not read; and which were."""
    known = ~np.isnan(rows.background_db)
    return np.where(known, rows.background_db, model.background_db), known
