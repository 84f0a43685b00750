"""One made round, judged once, that the tests of verdicts share."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from unittest import mock

import numpy as np
import pandas as pd
import pytest

from diagnosis.rounds import Plant, made_round
from survey.columns import STATES_BY_DEVICE
from survey.diagnosis import verdict
from survey.diagnosis.hypotheses import HYPOTHESES
from survey.diagnosis.verdict import Diagnosis, diagnose
from survey.diagnosis.weighing import Round, Weighed, weigh_round
from survey.findings import Findings
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

    def weigh(self, tidy: pd.DataFrame) -> tuple[Round, Weighed]:
        """Weigh changed readings, calibration as it was: listens in on the judge."""
        heard: list[tuple[Round, Weighed]] = []

        def listen(model: Any, kinds: Any, instruments: Any, whole: Round) -> Weighed:
            heard.append((whole, weigh_round(model, kinds, instruments, whole)))
            return heard[-1][1]

        with mock.patch.object(verdict, "weigh_round", listen):
            self.again(tidy)
        return heard[-1]

    def weighed(self, tidy: pd.DataFrame) -> tuple[pd.DataFrame, dict[str, pd.DataFrame]]:
        """Return every explanation's chance by tag: of the traps, and of the others by kind."""
        _, weighed = self.weigh(tidy)
        tags = tidy["tag"].astype("object").to_numpy()
        names = [hypothesis.name for hypothesis in HYPOTHESES]
        traps = pd.DataFrame(weighed.joint.trap, index=tags[weighed.traps], columns=names)
        devices = {
            kind: pd.DataFrame(chance, index=tags[index], columns=list(STATES_BY_DEVICE[kind]))
            for kind, (index, chance, _) in weighed.devices.items()
        }
        return traps, devices

    def changed(self, tags: list[str], **cells: object) -> pd.DataFrame:
        """Return the tidy table with some cells of some tags changed."""
        tidy = self.tidy.copy()
        rows = tidy["tag"].isin(tags)
        for name, value in cells.items():
            tidy.loc[rows, name] = value
        return tidy

    def without_outlets(self, tidy: pd.DataFrame, tags: list[str]) -> pd.DataFrame:
        """Return a tidy table with no temperature behind some traps, at check valves neither."""
        checks = [tag.replace("T-", "C-") for tag in tags]
        tidy.loc[tidy["tag"].isin(tags), "outlet_temp_f"] = np.nan
        tidy.loc[tidy["tag"].isin(checks), "inlet_temp_f"] = np.nan
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
def findings(judged: Judged) -> Findings:
    """Return the findings of the same round."""
    return analyze(judged.frame, site=SITE)


@pytest.fixture(scope="session")
def found(findings: Findings) -> pd.DataFrame:
    """Return the findings of the same round, indexed by tag."""
    return findings.table.set_index("tag")
