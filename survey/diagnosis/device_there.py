"""Whether a device is fitted at all, by what there was to read of it."""

from __future__ import annotations

import numpy as np

from survey.columns import OBSERVATIONS, PATTERNS, PRESENCES, VALVE_POSITIONS
from survey.diagnosis.companions import DeviceModel
from survey.diagnosis.rows import Conditions, Rows
from survey.diagnosis.rowwise import times

READ_THOUGH_UNNOTED = 0.01
"""Odds of readings (off the bare pipe) where a device is not fitted and nobody says so, against
where it is."""
WARM_DISCHARGE = 0.1
"""From this share of the way to saturation on a discharge side is warm, not in the air alone."""
HEARD_DB = 6.0
"""From so much over what is around it a level is the device's own."""
UNREAD_THOUGH_FITTED = 0.1
"""Chance that nothing at all is read or noted of a device that is listed and fitted."""
_CLOSED = VALVE_POSITIONS.index("closed")
_ABSENT = PRESENCES.index("no")
_QUIET = PATTERNS.index("quiet")
assert (_QUIET, OBSERVATIONS[:2]) == (0, ("nothing", "air"))


def log_read(kind: DeviceModel, rows: Rows, state: Conditions) -> np.ndarray:
    """Return logs of there being something to read: what is not fitted has no temperature.

    Who says that it is not fitted is believed, unless what was read is more than a bare pipe can
    give. A valve that is open may only be one of which nothing was written down.
    """
    missing = kind.by_absence
    noted = rows.present == _ABSENT
    read = ~noted & (_measured(rows) | (rows.valve == _CLOSED) | (rows.observed >= 0))
    result = times(read, np.where(missing, np.log(READ_THOUGH_UNNOTED), 0.0))
    if missing.any():
        result += times(unread(rows), np.where(missing, 0.0, np.log(UNREAD_THOUGH_FITTED)))
        there = noted & shows_itself(rows, state)
        result += times(there, np.where(missing, np.log(kind.read_though_missing), 0.0))
    return result


def shows_itself(rows: Rows, state: Conditions) -> np.ndarray:
    """Return which devices have a reading that a bare pipe cannot give, (n,).

    Something came out of it, its discharge side is warm, or it is heard.
    """
    warm = (rows.outlet_f - rows.ambient_f) / state.span_f > WARM_DISCHARGE
    return np.asarray(warm | _heard(rows) | (rows.observed > OBSERVATIONS.index("nothing")))


def heard_itself(rows: Rows) -> np.ndarray:
    """Return which traps have a reading that a bare pipe cannot give, (n,).

    Steam or water came out, or it is heard to do something; a pipe through it is as hot.
    """
    heard = _heard(rows) & (rows.pattern > _QUIET)
    return np.asarray(heard | (rows.observed > OBSERVATIONS.index("air")))


def _heard(rows: Rows) -> np.ndarray:
    return np.asarray(rows.sound_db - rows.background_db > HEARD_DB)


def unread(rows: Rows) -> np.ndarray:
    """Return whether nothing at all was read or noted of each device, (n,)."""
    noted = (rows.present >= 0) | (rows.valve >= 0) | (rows.pattern >= 0) | (rows.observed >= 0)
    return np.asarray(~(_measured(rows) | noted))


def _measured(rows: Rows) -> np.ndarray:
    read = ~np.isnan(rows.inlet_f) | ~np.isnan(rows.outlet_f) | ~np.isnan(rows.sound_db)
    return np.asarray(read)
