"""A list by cost, in which a device still comes before the traps of its heater that it explains."""

from __future__ import annotations

import numpy as np
import pandas as pd

from survey.columns import UNDECIDED
from survey.diagnosis.equipment import equipment_of
from survey.plant.worklist import CAUSE_OF_DEVICE
from survey.reports.tables import texts

_NO_FAULT = ("working", UNDECIDED)


def upstream_first(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the rows in their order, but what explains traps right before the first of them.

    A device explains the traps of the same equipment whose cause is of its kind, if it
    is known not to work. One that already comes before them stays where it is.
    """
    device, state, cause = (
        texts(rows, name).reset_index(drop=True) for name in ("device", "state", "cause")
    )
    heater = equipment_of(rows)
    at_heater = heater >= 0
    explained = at_heater & device.isin(("trap", "")) & cause.isin(CAUSE_OF_DEVICE.values())
    explains = at_heater & device.isin(CAUSE_OF_DEVICE) & ~state.isin(_NO_FAULT)
    # The pair of heater and cause that a row is about: for a device, the cause that it can be.
    its_cause = cause.where(explained, device.map(CAUSE_OF_DEVICE))
    about = pd.DataFrame({"heater": heater, "cause": its_cause})
    pair = about.groupby(list(about), sort=False).ngroup().to_numpy()
    place = np.arange(len(rows), dtype=float)
    first = pd.Series(place[explained]).groupby(pair[explained]).min()
    moved = np.flatnonzero(explains)
    before = first.reindex(pair[moved]).to_numpy() - 0.5
    place[moved] = np.fmin(place[moved], before)
    return rows.iloc[np.argsort(place, kind="stable")]
