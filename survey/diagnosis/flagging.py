"""Doubts about the readings themselves, as flags beside the verdict."""

from __future__ import annotations

import numpy as np
import pandas as pd

from survey.columns import DEVICES, PATTERNS, VALVE_POSITIONS
from survey.diagnosis.calibration import Calibration
from survey.diagnosis.instruments import INFRARED, SURFACE
from survey.diagnosis.intake import Intake
from survey.diagnosis.phrases import Pieces, column
from survey.diagnosis.speech import Told

READS_LOW_UNDER = 0.95
LOUD_DB = 15.0
ODD_SHARE = 0.06
HOT_SHARE = 0.8
"""A trap behind a shut valve is not this far on its way to saturation, once it has cooled."""


def flags_of(told: Told, intake: Intake, calibration: Calibration) -> pd.Series:
    """Return the flags of each device, semicolon-separated, (n,)."""
    rows, state = told.rows, told.state
    instruments = calibration.instruments
    doubtful = (instruments.gauge_wrong > 0.5)[rows.station]
    hot = doubtful & (instruments.gauge_ratio > 1.0)[rows.station]
    own_outlet = ~np.isnan(rows.outlet_f) & ~rows.by_shared_pipe
    read = ~np.isnan(rows.inlet_f) | own_outlet
    low = np.where(
        rows.thermometer == INFRARED,
        (instruments.surfaces @ SURFACE)[rows.station] < READS_LOW_UNDER,
        instruments.share[rows.station] < READS_LOW_UNDER,
    )
    quiet = rows.pattern == PATTERNS.index("quiet")
    over = rows.sound_db - told.background_db
    with np.errstate(invalid="ignore"):
        contradiction = (quiet & (over > LOUD_DB)) | (
            (rows.pattern == PATTERNS.index("continuous")) & (over < 1.0)
        )
        odd = own_outlet & (rows.outlet_f - rows.inlet_f > ODD_SHARE * state.span_f)
        above = rows.inlet_f > state.saturation_f + 8.0
        backwards = state.return_psia >= state.supply_psia
    raised = {
        "gauge_doubtful": doubtful,
        "superheat_or_gauge": hot | above,
        "thermometer_reads_low": low & read,
        "no_background": ~np.isnan(rows.sound_db) & np.isnan(rows.background_db),
        "pattern_contradicts_level": contradiction & ~np.isnan(rows.sound_db),
        "outlet_hotter_than_inlet": odd,
        "type_unknown": (rows.trap_type < 0) & (rows.device == 0),
        "pressure_assumed": ~intake.pressure_given,
        "return_over_supply": backwards,
        "valve_contradicts_temperature": shut_and_hot(told),
    }
    return _joined(raised)


def shut_and_hot(told: Told) -> np.ndarray:
    """Return which traps are hot though their valve is noted as closed, (n,)."""
    rows = told.rows
    closed = rows.valve == VALVE_POSITIONS.index("closed")
    closed &= rows.device == DEVICES.index("trap")
    with np.errstate(invalid="ignore"):
        way = (told.corrected.inlet_f - rows.ambient_f) / told.state.span_f
        return np.asarray(closed & (way > HOT_SHARE))


def _joined(raised: dict[str, np.ndarray]) -> pd.Series:
    names = list(raised)
    code = sum(raised[name].astype(np.int64) << bit for bit, name in enumerate(names))
    each, found = pd.factorize(np.asarray(code))
    words = [
        ";".join(name for bit, name in enumerate(names) if value >> bit & 1) for value in found
    ]
    pieces = Pieces()
    return column(pieces.texts(pieces.of(words, each)))
