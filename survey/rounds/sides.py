"""The two rounds that are held against each other, each by itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from survey.errors import UsageError
from survey.rounds.uncertain import numbers

ENDS = ("after", "before")


@dataclass(frozen=True)
class RoundSide:
    """One of the two rounds.

    Parameters
    ----------
    title
        Its given name; 'before' or 'after' where it has none.
    read_on
        The day it was read, else the day it was judged: see ``dated``.
    loss_lb_per_h, annual_cost
        Expected, of all its units, as found.
    basis
        How a pound of loss was counted, in words; '' where the findings do not say.
    dated
        Whether it is known when it was read.
    """

    title: str
    read_on: date
    site_name: str
    currency: str
    devices: int
    loss_lb_per_h: float
    annual_cost: float
    basis: str = ""
    dated: bool = True

    @property
    def named(self) -> bool:
        """Whether somebody gave it a name."""
        return self.title not in ENDS


def side(
    title: str, read_on: date, summary: dict[str, Any], table: pd.DataFrame, *, dated: bool
) -> RoundSide:
    """Return a round by itself, from its findings."""
    return RoundSide(
        title=title,
        read_on=read_on,
        site_name=str(summary.get("site_name", "")),
        currency=str(summary.get("currency", "")),
        devices=len(table),
        loss_lb_per_h=float(np.nansum(numbers(table, "steam_loss_lb_per_h"))),
        annual_cost=float(np.nansum(numbers(table, "annual_cost"))),
        basis=str(summary.get("loss_basis", "")),
        dated=dated,
    )


def check(sides: Sequence[RoundSide], at: str) -> None:
    """Raise UsageError where two rounds cannot be held against each other."""
    if at not in ENDS:
        raise UsageError("'before' or 'after' was expected", found=at[:40],
                         do="say whose hours, pressure and price both are brought to")  # fmt: skip
    moneys = {one.currency for one in sides} - {""}
    if len(moneys) > 1:
        raise UsageError(
            "Two rounds in one currency were expected",
            found=" and ".join(sorted(moneys)),
            do="judge one of them again with the other's currency in its site file",
        )
