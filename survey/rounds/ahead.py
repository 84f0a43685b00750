"""The next round, planned from those before it: its day, what fails by then, when to look, a route.

The one place that says from what and to when the next round is planned, for the command line and
the screens alike.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import pandas as pd

from survey.rounds.interval import Effort, Interval, intervals
from survey.rounds.reliability import Reliability, fails_next, reliability
from survey.rounds.route import Route, plan_route
from survey.rounds.series import Series
from survey.site import Site

AHEAD = timedelta(days=182)
"""How far ahead is looked where no day is given: half a year after the last round."""

FURTHEST_AHEAD = timedelta(days=3653)
"""Ten years: past that, hardly a trap is still the one that was read."""


@dataclass(frozen=True)
class Ahead:
    """What the next round is planned from.

    Parameters
    ----------
    series
        The rounds, the oldest first.
    site
        The site's settings; where they give no name, that of the latest round stands.
    known
        How traps fail here, by `how_traps_fail`.
    """

    series: Series
    site: Site
    known: Reliability

    @property
    def currency(self) -> str:
        """Return the currency that the latest round was judged in, whatever the settings say."""
        return str(self.series.summary.get("currency") or self.site.currency)

    @property
    def site_name(self) -> str:
        """Return the site's name, '' where nothing gives it."""
        return self.site.name or str(self.series.summary.get("site_name") or "")

    def odds(self, before: date) -> pd.DataFrame:
        """Return each trap's chance to fail before a day; see `fails_next`."""
        return fails_next(self.known, before=before)

    def when(self, effort: Effort) -> list[Interval]:
        """Return when to look again, for each pressure class; see `intervals`."""
        hours = self.site.hours_per_year
        return intervals(self.series.latest[1], self.known, hours_per_year=hours, effort=effort)

    def route(
        self, on: date, *, odds: pd.DataFrame, areas: Sequence[str] = (),
        only_reasons: bool = False,
    ) -> Route:  # fmt: skip
        """Return the walk of the next round; see `plan_route`."""
        return plan_route(
            self.series.rounds, site=self.site.model_copy(update={"name": self.site_name}), on=on,
            odds=odds, set_aside=self.series.set_aside, areas=areas, only_reasons=only_reasons,
        )  # fmt: skip


def how_traps_fail(series: Series) -> Reliability:
    """Fit how traps fail to the rounds and the repairs noted; takes a second or two."""
    return reliability(series.rounds, repairs=series.repairs)


def days_to_choose(series: Series) -> tuple[date, date, date]:
    """Return the first, the usual and the last day that the next round can be planned for."""
    last, _ = series.latest
    return last + timedelta(days=1), last + AHEAD, last + FURTHEST_AHEAD
