"""What the next round is planned from: the rounds that are kept, else the one that is open."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from survey.dashboard import state
from survey.dashboard.judging import site_of
from survey.dashboard.rounds_kept import any_kept, store
from survey.reports.words import counted
from survey.rounds.content import day_read
from survey.rounds.lives import Rounds
from survey.rounds.units import readings_of
from survey.site import Site


@dataclass(frozen=True)
class Basis:
    """Rounds, the oldest first, and the site they were read at.

    Parameters
    ----------
    key
        Tells these rounds from others in this session.
    words
        Which rounds they are, for people.
    """

    rounds: Rounds
    site: Site
    currency: str
    key: tuple[int, ...]
    words: str

    @property
    def latest(self) -> pd.DataFrame:
        """The findings of the latest round."""
        return self.rounds[-1][1]


def basis_of_all() -> Basis | None:
    """Return what there is to plan from, or None; raises SurveyError."""
    work = state.work()
    site = site_of(work.site_file, work.site_given)
    if any_kept():
        with store() as opened:
            kept = opened.rounds()
            rounds = [(one.read_on, readings_of(opened, one)) for one in kept]
        if rounds:
            return Basis(
                rounds,
                site,
                str(kept[-1].summary.get("currency", site.currency)),
                tuple(one.number for one in kept),
                f"Planned from the {counted(len(rounds), 'round')} kept.",
            )
    if work.findings is None:
        return None
    return Basis(
        [(day_read(work.findings), work.findings.table)],
        site,
        str(work.findings.summary.get("currency", site.currency)),
        (-1, id(work.findings)),
        "Planned from the round that is open. Rounds that are kept tell more.",
    )
