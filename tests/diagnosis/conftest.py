"""One made round, judged once, that the tests of verdicts share."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd
import pytest
from diagnosis.rounds import Plant, made_round

from survey.diagnosis.verdict import Diagnosis, diagnose
from survey.pipeline import analyze
from survey.readings import round_from_frame
from survey.site import Site

SITE = Site()


@dataclass(frozen=True)
class Judged:
    """A made round: as given, as tidied, and what became of it."""

    frame: pd.DataFrame
    tidy: pd.DataFrame
    diagnosis: Diagnosis

    def again(self, tidy: pd.DataFrame) -> pd.DataFrame:
        """Judge changed readings with the calibration held as it was; indexed by tag."""
        again = diagnose(tidy, site=SITE, calibration=self.diagnosis.calibration)
        return again.verdicts.set_index(pd.Index(tidy["tag"].astype("object"), name="tag"))

    def changed(self, tags: list[str], **cells: object) -> pd.DataFrame:
        """Return the tidy table with some cells of some tags changed."""
        tidy = self.tidy.copy()
        rows = tidy["tag"].isin(tags)
        for name, value in cells.items():
            tidy.loc[rows, name] = value
        return tidy

    def tags(self, truth: str, device: str = "trap") -> list[str]:
        """Return the tags of one kind of device that are in one true condition."""
        mine = (self.frame["truth"] == truth) & (self.frame["device"] == device)
        return list(self.frame.loc[mine, "tag"])


@pytest.fixture(scope="session")
def judged() -> Judged:
    """Return a round of two stations with every fault in it."""
    frame = made_round(Plant())
    tidy = round_from_frame(frame).table
    return Judged(frame, tidy, diagnose(tidy, site=SITE))


@pytest.fixture(scope="session")
def found(judged: Judged) -> pd.DataFrame:
    """Return the findings of the same round, indexed by tag."""
    return analyze(judged.frame, site=SITE).table.set_index("tag")
