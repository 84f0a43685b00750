"""Doubts about the readings themselves, as flags beside the verdict."""

from __future__ import annotations

import numpy as np

from survey.columns import PATTERNS
from survey.diagnosis.calibration import Calibration
from survey.diagnosis.instruments import INFRARED, SURFACE
from survey.diagnosis.intake import Intake
from survey.diagnosis.speech import Told

READS_LOW_UNDER = 0.95
LOUD_DB = 15.0
ODD_SHARE = 0.06


def flags_of(told: Told, intake: Intake, calibration: Calibration) -> np.ndarray:
    """Return the flags of each device, semicolon-separated, (n,)."""
    rows, state = told.rows, told.state
    instruments = calibration.instruments
    doubtful = (instruments.gauge_wrong > 0.5)[rows.station]
    hot = doubtful & (instruments.gauge_ratio > 1.0)[rows.station]
    read = ~np.isnan(rows.inlet_f) | ~np.isnan(rows.outlet_f)
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
        odd = rows.outlet_f - rows.inlet_f > ODD_SHARE * state.span_f
        above = rows.inlet_f > state.saturation_f + 8.0
    raised = {
        "gauge_doubtful": doubtful,
        "superheat_or_gauge": hot | above,
        "thermometer_reads_low": low & read,
        "no_background": ~np.isnan(rows.sound_db) & np.isnan(rows.background_db),
        "pattern_contradicts_level": contradiction & ~np.isnan(rows.sound_db),
        "outlet_hotter_than_inlet": odd,
        "type_unknown": (rows.trap_type < 0) & (rows.device == 0),
        "pressure_assumed": ~intake.pressure_given,
    }
    return _joined(raised)


def _joined(raised: dict[str, np.ndarray]) -> np.ndarray:
    names = list(raised)
    table = np.stack([raised[name] for name in names], axis=1)
    code = table @ (1 << np.arange(len(names)))
    words = {
        int(value): ";".join(n for bit, n in enumerate(names) if int(value) >> bit & 1)
        for value in np.unique(code)
    }
    return np.array([words[int(value)] for value in code], dtype=object)
