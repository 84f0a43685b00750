"""One unit judged again beside its own equipment, by what its whole round told of instruments."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from survey.columns import INPUT_NAMES
from survey.diagnosis.calibration import Calibration
from survey.diagnosis.intake import take_in
from survey.diagnosis.verdict import calibrate_round, judge
from survey.findings import Findings
from survey.readings import round_from_frame
from survey.site import Site


@dataclass(frozen=True)
class Calibrated:
    """What judging some units of a round again needs of the whole of it; made once a round.

    Parameters
    ----------
    of
        The findings of the round.
    site
        The site it is judged for.
    readings
        Its input columns, a row to each row of the findings.
    equipment
        Equipment code of each row, (n,); -1 where its readings can no longer be judged.
    calibration
        What the round as a whole tells of its instruments and fills its gaps with.
    """

    of: Findings
    site: Site
    readings: pd.DataFrame
    equipment: np.ndarray
    calibration: Calibration


def calibrated(findings: Findings, site: Site) -> Calibrated:
    """Calibrate on a round as judging all of it does; raises SurveyError."""
    table = findings.table
    readings = table[[name for name in INPUT_NAMES if name in table.columns]]
    read = round_from_frame(readings, altitude_ft=site.altitude_ft, stations=site.stations)
    intake, calibration = calibrate_round(read.table, site=site)
    equipment = np.full(len(table), -1)
    equipment[read.lines - 1] = intake.rows.equipment
    return Calibrated(findings, site, readings, equipment, calibration)


def judged_again(
    whole: Calibrated, place: int, changes: Sequence[Mapping[str, Any]]
) -> list[pd.Series[Any] | None]:
    """Judge a unit once for each set of changed readings, beside the units of its equipment.

    Parameters
    ----------
    place
        Row of the unit in the findings, counted from 0.
    changes
        Column to the reading it is to hold instead; none judges the unit as it was read.

    Returns
    -------
    list
        For each, the verdict of the unit, None where such a reading cannot be: it would have
        been set aside.
    """
    if whole.equipment[place] < 0:
        return [None] * len(changes)
    mine = np.flatnonzero(whole.equipment == whole.equipment[place])
    at = int(np.flatnonzero(mine == place)[0])
    group = whole.readings.iloc[mine]
    copies = pd.concat([_with(group, at, one) for one in changes], ignore_index=True)
    copy, unit = np.divmod(np.arange(len(copies)), len(mine))
    tags = copies["tag"]
    # The same tag twice in a round is a doubt about both, so each copy has tags of its own.
    copies["tag"] = [f"{number}:{tag}" for number, tag in zip(copy, tags, strict=True)]
    site = whole.site
    read = round_from_frame(copies, altitude_ft=site.altitude_ft, stations=site.stations)
    lines = read.lines - 1
    table = read.table.assign(tag=tags.iloc[lines].to_numpy())
    intake = take_in(table, whole.site, whole.calibration.gaps, copy[lines])
    verdicts = judge(intake, site=whole.site, calibration=whole.calibration).verdicts
    row = {int(copy[line]): n for n, line in enumerate(lines) if unit[line] == at}
    return [verdicts.iloc[row[n]] if n in row else None for n in range(len(changes))]


def _with(group: pd.DataFrame, at: int, changed: Mapping[str, Any]) -> pd.DataFrame:
    """Return the readings of some units with those of one of them changed."""
    other = group.copy()
    for name, value in changed.items():
        held = other[name].tolist() if name in other.columns else [None] * len(other)
        held[at] = value
        other[name] = pd.Series(held, index=other.index, dtype=object)
    return other
