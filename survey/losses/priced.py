"""Losses and their price beside the verdicts."""

from __future__ import annotations

import numpy as np
import pandas as pd

from survey.diagnosis.rowwise import times
from survey.diagnosis.sound_levels import OPENINGS
from survey.diagnosis.verdict import Diagnosis
from survey.losses.money import prices
from survey.losses.passing import passing_and_flow
from survey.losses.steam import mixed_loss
from survey.site import Site

LB_PER_KLB = 1000.0


def add_losses(diagnosis: Diagnosis, table: pd.DataFrame, site: Site) -> pd.DataFrame:
    """Return the verdicts with loss, cost and carbon dioxide of each device.

    Parameters
    ----------
    table
        The tidy table the diagnosis was made from, for its hours under steam.
    """
    passing, flow = passing_and_flow(diagnosis, site)
    loss = mixed_loss(
        flow_lb_per_h=times(flow, OPENINGS),
        chance=passing,
        log_spread=diagnosis.log_spread,
    )
    price = prices(site, supply_psia=diagnosis.supply_psia)
    hours = table["hours_per_year"].to_numpy(dtype=float)
    klb = np.where(np.isnan(hours), site.hours_per_year, hours) / LB_PER_KLB
    columns = {
        **dict(diagnosis.verdicts.items()),
        "steam_loss_lb_per_h": loss.expected_lb_per_h,
        "steam_loss_low_lb_per_h": loss.low_lb_per_h,
        "steam_loss_high_lb_per_h": loss.high_lb_per_h,
        "annual_loss_klb": loss.expected_lb_per_h * klb,
        "annual_cost": loss.expected_lb_per_h * klb * price.cost_per_klb,
        "annual_cost_low": loss.low_lb_per_h * klb * price.cost_per_klb,
        "annual_cost_high": loss.high_lb_per_h * klb * price.cost_per_klb,
        "annual_co2_t": loss.expected_lb_per_h * klb * price.co2_t_per_klb,
        "loss_variance": loss.variance,
        "tag": table["tag"],
    }
    return pd.DataFrame(columns, copy=False)
