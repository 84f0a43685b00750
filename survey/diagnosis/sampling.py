"""Which devices a large round is calibrated on: whole equipment, picked by name."""

from __future__ import annotations

import numpy as np

from survey.diagnosis.intake import Intake
from survey.diagnosis.rows import Rows

SAMPLE = 8000
"""Devices a round is calibrated on at the most, before the least per station."""
LEAST_PER_STATION = 40


def calibration_rows(intake: Intake, tag_order: np.ndarray) -> tuple[Rows, int]:
    """Return the devices to calibrate on, and how many pieces of equipment they are on.

    Equipment is picked by a hash of its name, so that neither the order of rows nor how they
    came in batches changes the pick; each station gives its share.

    Parameters
    ----------
    tag_order
        Positions of the rows in order of tag, (n,): sums over the same rows in another order
        differ in their last digits.
    """
    rows = intake.rows
    if len(rows) <= SAMPLE:
        return rows.take(tag_order), intake.equipment_count
    quota = max(SAMPLE // len(intake.gaps.stations), LEAST_PER_STATION)
    size = np.bincount(rows.equipment, minlength=intake.equipment_count)
    station = np.zeros(intake.equipment_count, dtype=np.int64)
    np.maximum.at(station, rows.equipment, rows.station)
    order = np.lexsort((intake.equipment_key, station))
    before = np.cumsum(size[order]) - size[order]
    first = np.searchsorted(station[order], station[order], side="left")
    picked = np.zeros(intake.equipment_count, dtype=bool)
    picked[order] = before - before[first] < quota
    chosen = rows.take(tag_order[picked[rows.equipment[tag_order]]])
    dense = np.cumsum(picked) - 1
    return chosen.on(dense[chosen.equipment].astype(np.int32)), int(picked.sum())
