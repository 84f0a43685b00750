"""The work list as papers show it: upstream first, its figures those of the findings' rows."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from survey.columns import UNDECIDED
from survey.findings import Findings
from survey.plant.common import common_causes
from survey.plant.worklist import LEVELS, WorkLine, work_list
from survey.reports import tables, words
from survey.reports.spoken import spoken
from survey.site import Site


@dataclass(frozen=True)
class Job:
    """One line of the work list in words, with the sums of the rows that it sees to."""

    level: int
    title: str
    tag: str
    state: str
    place: str
    station: str
    what: str
    why: str
    parts: str
    read_again: str
    explains: tuple[str, ...]
    confidence: float
    heat_back_btu_per_h: float
    sums: dict[str, float]


def jobs(findings: Findings) -> list[Job]:
    """Return every repair of a round, upstream before trap.

    The site's settings are not in the findings. What the list needs of them, the pressures, is
    in the rows; the air round a device, where no row gives it, is taken as the site's default.
    """
    table = findings.table
    told = [e for e in findings.summary.get("calibration", []) if isinstance(e, dict)]
    common = common_causes(table, calibration=told)
    lines = work_list(table, site=Site(), common=common)
    figures = _figures(table)
    states = _states(table)
    return [_job(line, figures, states) for line in lines]


def _states(table: pd.DataFrame) -> dict[str, str]:
    """Return each device's state in words, and how sure it is, by its tag."""
    texts = [tables.texts(table, name) for name in ("tag", "state", "device")]
    sure = pd.to_numeric(table["confidence"], errors="coerce")
    found = {}
    for tag, state, device, share in zip(*texts, sure, strict=True):
        said = words.capital(words.state_words(state, device))
        degree = "" if state == UNDECIDED else words.sureness(float(share))
        found[tag] = f"{said}, {degree}." if degree else f"{said}."
    return found


def _figures(table: pd.DataFrame) -> dict[str, np.ndarray]:
    """Return the figures of each tag, in the order of `tables.SUMMED`; a missing one is zero."""
    columns = pd.DataFrame({n: table.get(n, 0.0) for n in tables.SUMMED}, index=table.index)
    summed = columns.fillna(0.0).groupby(tables.texts(table, "tag")).sum()
    return dict(zip(map(str, summed.index), summed.to_numpy(dtype=float), strict=True))


def _job(line: WorkLine, figures: dict[str, np.ndarray], states: dict[str, str]) -> Job:
    names = (line.tag, line.station, line.area, line.where, *line.explains)
    tags = [tag for tag in dict.fromkeys((line.tag, *line.explains)) if tag in figures]
    sums = sum((figures[tag] for tag in tags), np.zeros(len(tables.SUMMED)))
    return Job(
        level=line.level,
        title=words.capital(LEVELS[line.level]),
        tag=words.tidy(line.tag, 40),
        state=states.get(line.tag, ""),
        place=words.tidy(line.where, 90),
        station=words.tidy(line.station, 40),
        what=_said(line.what, names),
        why=_said(line.why, names),
        parts=_said(line.parts, names),
        read_again=_said(line.read_again, names),
        explains=tuple(words.tidy(tag, 40) for tag in line.explains),
        confidence=line.confidence,
        heat_back_btu_per_h=line.heat_back_btu_per_h,
        sums=dict(zip(tables.SUMMED, sums.tolist(), strict=True)),
    )


def _said(text: str, names: Iterable[str]) -> str:
    return spoken(words.tidy(text, words.LONGEST_SENTENCE), [words.tidy(n, 200) for n in names])
