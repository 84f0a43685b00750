"""Under what conditions each unit lost what it lost: hours, pressure, the price of steam."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from survey.physics.orifice import steam_flow_lb_per_h
from survey.physics.saturation import saturation_psia
from survey.rounds.uncertain import numbers

_LB_PER_KLB = 1000.0
_LEAST_LOSS = 1e-9


@dataclass(frozen=True)
class Conditions:
    """What a round found its units at, (n,) each; NaN where it is not known.

    Parameters
    ----------
    hours_per_year
        Hours under steam.
    cost_per_klb, co2_t_per_klb
        What a thousand pounds of steam cost and emitted.
    supply_psia, return_psia
        Pressures that the verdicts were weighed with, absolute.
    flow_lb_per_h
        What a hole of 1 in would pass at these pressures: it only serves to be divided by another.
    """

    hours_per_year: np.ndarray
    cost_per_klb: np.ndarray
    co2_t_per_klb: np.ndarray
    supply_psia: np.ndarray
    return_psia: np.ndarray
    flow_lb_per_h: np.ndarray

    def yearly_klb(self) -> np.ndarray:
        """Return thousands of pounds in a year for each pound an hour."""
        return self.hours_per_year / _LB_PER_KLB


def conditions_of(table: pd.DataFrame) -> Conditions:
    """Take the conditions back out of findings: they are what loss, year and cost differ by.

    A unit that loses nothing tells neither hours nor price: it has those of the middle unit.
    """
    loss, klb = numbers(table, "steam_loss_lb_per_h"), numbers(table, "annual_loss_klb")
    supply = saturation_psia(temperature_f=numbers(table, "saturation_f"))
    back = saturation_psia(temperature_f=numbers(table, "return_saturation_f"))
    flow = steam_flow_lb_per_h(
        bore_in=1.0, upstream_psia=supply, downstream_psia=back, discharge_coefficient=1.0
    )
    given = numbers(table, "hours_per_year")
    hours = _ratio(klb * _LB_PER_KLB, loss)
    return Conditions(
        hours_per_year=_else_the_middle(np.where(np.isnan(hours), given, hours)),
        cost_per_klb=_else_the_middle(_ratio(numbers(table, "annual_cost"), klb)),
        co2_t_per_klb=_else_the_middle(_ratio(numbers(table, "annual_co2_t"), klb)),
        supply_psia=supply,
        return_psia=back,
        flow_lb_per_h=np.where(flow > 0, flow, np.nan),
    )


def air_psia_of(*tables: pd.DataFrame) -> float:
    """Return what lies between the absolute and the gauge pressures of findings, psia.

    Findings do not say how high the site lies, so it is told by the units whose gauge was read;
    NaN where none was.
    """
    apart = [
        saturation_psia(temperature_f=numbers(table, "saturation_f"))
        - numbers(table, "supply_psig")
        for table in tables
    ]
    every = np.concatenate(apart)
    known = every[np.isfinite(every)]
    return float(np.median(known)) if len(known) else float("nan")


def filled(one: Conditions, other: Conditions) -> Conditions:
    """Return the first, with the hours and prices of the other where it knows none at all."""
    names = ("hours_per_year", "cost_per_klb", "co2_t_per_klb")
    missing = [name for name in names if np.isnan(getattr(one, name)).all()]
    return replace(one, **{name: getattr(other, name) for name in missing})


def _ratio(top: np.ndarray, bottom: np.ndarray) -> np.ndarray:
    known = np.isfinite(top) & (bottom > _LEAST_LOSS)
    ratio: np.ndarray = np.divide(top, bottom, out=np.full(len(top), np.nan), where=known)
    return ratio


def _else_the_middle(values: np.ndarray) -> np.ndarray:
    known = values[np.isfinite(values)]
    return np.where(np.isnan(values), np.median(known), values) if len(known) else values
