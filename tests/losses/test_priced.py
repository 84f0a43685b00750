"""A year's steam, money and carbon dioxide: published examples, and what figures come from."""

from __future__ import annotations

import functools
from typing import Any

import numpy as np
import pandas as pd
import pytest
from diagnosis.rounds import Plant, Station, full_bore_lb_per_h, made_round

from survey.findings import Findings
from survey.losses.money import BASIS_WORDS, prices
from survey.losses.steam import mixed_loss
from survey.physics.steam_cost import steam_cost_per_klb
from survey.pipeline import analyze
from survey.site import Fuel, Site

KG_CO2_PER_MMBTU_TABLE_C_1 = {
    "natural_gas": 53.06,
    "oil_no2": 73.96,
    "oil_no6": 75.10,
    "propane": 62.87,
    "coal": 93.28,
}
"""40 CFR 98 Table C-1, kg CO2/MMBtu; coal as bituminous."""


def sure_loss(lb_per_h: float) -> float:
    """Return the expected loss of a device that surely passes one flow, with no spread to it."""
    loss = mixed_loss(
        flow_lb_per_h=np.array([[lb_per_h]]), chance=np.array([[1.0]]), log_spread=np.array([1e-9])
    )
    return float(loss.expected_lb_per_h[0])


def test_steam_tip_sheet_1_example() -> None:
    # US DOE AMO Steam Tip Sheet 1, example: 75.8 lb/h of steam lost, which at $10 per 1,000 lb
    # over 8,760 h is $6,640 a year.
    site = Site(steam_cost_per_klb=10.0, hours_per_year=8760.0)
    price = prices(site, supply_psia=np.array([164.696]))
    klb = sure_loss(75.8) * site.hours_per_year / 1000.0
    assert klb * price.cost_per_klb[0] == pytest.approx(6640.0, abs=1.0)


def test_season_cost_example() -> None:
    # Manczyk, Steam Loss worked example: 16.78 lb/h, 5,808 h, 960.8 Btu/lb, $6.23/MMBtu,
    # boiler 80 %: $729.20 a season.
    per_klb = steam_cost_per_klb(
        heat_btu_per_lb=960.8, fuel_price_per_mmbtu=6.23, boiler_efficiency=0.80
    )
    klb = sure_loss(16.78) * 5.808
    assert float(klb * per_klb) == pytest.approx(729.20, abs=0.5)


def test_season_cost_example_by_the_sites_own_settings() -> None:
    # The same example; its 960.8 Btu/lb is the latent heat at 5 psig (19.7 psia), within 0.1 %.
    site = Site(loss_basis="latent_heat", boiler_efficiency=0.80, fuel=Fuel(price_per_mmbtu=6.23))
    price = prices(site, supply_psia=np.array([19.696]))
    cost = 16.78 * 5.808 * price.cost_per_klb[0]
    assert cost == pytest.approx(729.20, rel=0.001)


def test_a_utilitys_cost_of_steam() -> None:
    # A utility's note on the true cost of steam: 1,073 Btu/lb, $8/MMBtu, 81 %: $10.60 per klb.
    cost = steam_cost_per_klb(
        heat_btu_per_lb=1073.0, fuel_price_per_mmbtu=8.0, boiler_efficiency=0.81
    )
    assert float(cost) == pytest.approx(10.60, abs=0.01)


def test_whole_pound_counts_heat_from_the_feedwater() -> None:
    # US DOE AMO Steam Tip Sheet 15, table: 150 psig from 150 °F feedwater takes 1,078 Btu/lb.
    site = Site(feedwater_f=150.0, boiler_efficiency=1.0, fuel=Fuel(price_per_mmbtu=1.0))
    price = prices(site, supply_psia=np.array([164.696]))
    assert 1000.0 * price.cost_per_klb[0] == pytest.approx(1078.0, abs=1.0)


@pytest.mark.parametrize(("fuel", "kg"), KG_CO2_PER_MMBTU_TABLE_C_1.items())
def test_carbon_dioxide_of_each_fuel(fuel: Any, kg: float) -> None:
    site = Site(fuel=Fuel(kind=fuel, price_per_mmbtu=1.0), boiler_efficiency=0.8)
    price = prices(site, supply_psia=np.array([29.7, 164.7]))
    # At a price of 1 per MMBtu the cost of 1,000 lb is its fuel in MMBtu.
    np.testing.assert_allclose(price.co2_t_per_klb, price.cost_per_klb * kg / 1000.0, rtol=1e-12)


def test_a_given_steam_cost_stands_and_leaves_the_carbon_as_it_was() -> None:
    psia = np.array([29.7, 164.7])
    by_fuel, given = prices(Site(), supply_psia=psia), prices(
        Site(steam_cost_per_klb=12.5), supply_psia=psia
    )  # fmt: skip
    assert given.cost_per_klb.tolist() == [12.5, 12.5]
    np.testing.assert_array_equal(given.co2_t_per_klb, by_fuel.co2_t_per_klb)


def test_an_unknown_pressure_is_priced_as_15_psig() -> None:
    unknown, known = prices(Site(), supply_psia=np.array([np.nan, 29.7])).cost_per_klb
    assert unknown == known
    high = prices(Site(), supply_psia=np.array([164.7])).cost_per_klb[0]
    assert abs(high / known - 1.0) < 0.04


BLOWN = Station(60.0, 3.0, heaters=20)


def blown_open(**cells: object) -> pd.DataFrame:
    """Return a round with blown-open traps in it, and some cells of every row set."""
    frame = made_round(Plant(stations={"Hill": BLOWN}, companions=False))
    return frame.assign(**cells)


@functools.cache
def plain_round() -> Findings:
    """Return that round judged with every setting assumed."""
    return analyze(blown_open())


def losers(frame: pd.DataFrame, site: Site | None = None) -> pd.DataFrame:
    """Return the rows of a judged round that lose steam."""
    table = analyze(frame, site=site).table
    return table[table["state"].isin(["failed_open", "leaking"])]


def test_a_year_is_the_hours_of_the_row_then_of_the_site_then_assumed() -> None:
    frame = blown_open()
    frame.loc[::2, "hours_per_year"] = 3000.0
    table = analyze(frame, site=Site(hours_per_year=7000.0)).table
    hours = np.where(table["hours_per_year"].isna(), 7000.0, 3000.0)
    np.testing.assert_allclose(
        table["annual_loss_klb"], table["steam_loss_lb_per_h"] * hours / 1000.0
    )
    assumed = plain_round().table
    np.testing.assert_allclose(assumed["annual_loss_klb"], assumed["steam_loss_lb_per_h"] * 4.972)
    assert (table["annual_loss_klb"].to_numpy() != assumed["annual_loss_klb"].to_numpy()).any()


def test_no_hours_cost_nothing() -> None:
    table = losers(blown_open(hours_per_year=0.0))
    assert (table["annual_cost"] == 0.0).all()
    assert (table["steam_loss_lb_per_h"] > 0.0).all()


def test_cost_is_loss_times_hours_times_price() -> None:
    table = losers(blown_open(), Site(steam_cost_per_klb=10.0, hours_per_year=8760.0))
    for end in ("", "_low", "_high"):
        loss = table[f"steam_loss{end}_lb_per_h"]
        np.testing.assert_allclose(table[f"annual_cost{end}"], loss * 8.76 * 10.0)
    assert (table["annual_cost"] > 0.0).all()


def test_a_blown_trap_loses_no_more_than_its_bore_passes() -> None:
    table = losers(blown_open())
    whole = full_bore_lb_per_h(60.0, 3.0)
    assert (table["steam_loss_lb_per_h"] < whole).all()
    blown = table[table["state"] == "failed_open"]
    assert (blown["steam_loss_lb_per_h"] > 0.3 * whole).all()
    ordered = table["steam_loss_low_lb_per_h"] <= table["steam_loss_high_lb_per_h"]
    assert ordered.all()
    # A trap that is blown open for all but sure has its expected loss inside its range.
    steam = losers(blown_open(observed="steam", sound_pattern="continuous", sound_db=64.0))
    sure = steam[steam["confidence"] > 0.95]
    assert len(sure)
    assert (sure["steam_loss_lb_per_h"] <= sure["steam_loss_high_lb_per_h"]).all()
    assert (sure["steam_loss_lb_per_h"] >= sure["steam_loss_low_lb_per_h"]).all()


@pytest.mark.parametrize("back_psig", [3.0, 8.0])
def test_a_return_at_or_over_the_supply_is_flagged_and_costed_into_the_air(
    back_psig: float,
) -> None:
    # No temperatures: hot ones would say that the gauge is wrong, and be believed.
    unread = {"inlet_temp_f": np.nan, "outlet_temp_f": np.nan}
    cells = {"supply_psig": 3.0, "observed": "steam", **unread}
    findings = analyze(blown_open(return_psig=back_psig, **cells))
    vented = analyze(blown_open(return_psig=0.0, **cells)).table
    table = findings.table
    lost = table["steam_loss_lb_per_h"]
    assert (lost > 0.0).any()
    assert lost.max() == pytest.approx(vented["steam_loss_lb_per_h"].max(), rel=0.25)
    assert table["flags"].str.contains("return_over_supply").all()
    assert any("taken as into the air" in line for line in findings.summary["assumptions"])


def test_thin_air_at_altitude_lowers_the_loss() -> None:
    low, high = (losers(blown_open(), Site(altitude_ft=ft)) for ft in (0.0, 8000.0))
    tags = sorted(set(low["tag"]) & set(high["tag"]))
    assert tags
    low_loss = low.set_index("tag").loc[tags, "steam_loss_lb_per_h"]
    high_loss = high.set_index("tag").loc[tags, "steam_loss_lb_per_h"]
    assert high_loss.sum() < low_loss.sum()


ASSUMED = {
    "altitude": ("sea level", {"altitude_ft": 0.0}),
    "hours": ("4,972", {"hours_per_year": 4972.0}),
    "air": ("70 °F", {"ambient_f": 70.0}),
    "fuel": ("natural gas", {"fuel": Fuel(kind="natural_gas", price_per_mmbtu=8.0)}),
    "fuel price": ("8.00 per MMBtu", {"fuel": Fuel(kind="natural_gas", price_per_mmbtu=8.0)}),
    "boiler": ("80 %", {"boiler_efficiency": 0.80}),
    "feedwater": ("180 °F", {"feedwater_f": 180.0}),
    "currency": ("USD.", {"currency": "USD"}),
    "basis": ("whole pound", {"loss_basis": "whole_pound"}),
}
GOES_INTO_CARBON = ("fuel", "boiler", "feedwater", "basis")


@pytest.mark.parametrize("name", ASSUMED)
def test_each_default_is_printed_until_it_is_given(name: str) -> None:
    words, given = ASSUMED[name]
    assert any(words in line for line in Site().assumptions)
    assert not any(words in line for line in Site(**given).assumptions)


@pytest.mark.parametrize("name", GOES_INTO_CARBON)
def test_a_given_cost_of_steam_hides_nothing_that_its_carbon_rests_on(name: str) -> None:
    words, given = ASSUMED[name]
    assert any(words in line for line in Site(steam_cost_per_klb=10.0).assumptions)
    settled = Site(steam_cost_per_klb=10.0, **given)
    assert not any(words in line for line in settled.assumptions)


def test_latent_heat_asks_for_no_feedwater() -> None:
    # What does not go into a figure is no assumption of it.
    assert not any("Feedwater" in line for line in Site(loss_basis="latent_heat").assumptions)


def test_a_settled_site_assumes_nothing() -> None:
    settled: dict[str, Any] = {}
    for _, given in ASSUMED.values():
        settled |= given
    assert Site(**settled).assumptions == []


def test_assumptions_of_the_site_reach_the_summary() -> None:
    site = Site(altitude_ft=600.0)
    summary = analyze(blown_open(), site=site).summary
    assert set(site.assumptions) <= set(summary["assumptions"])
    assert any("discharge coefficient" in line for line in summary["assumptions"])


@pytest.mark.parametrize(
    ("column", "words"),
    [("orifice_in", "Bore of 20"), ("supply_psig", "ressure of 20"), ("return_psig", "(0 psig)")],
)
def test_a_gap_in_every_row_is_told_as_an_assumption(column: str, words: str) -> None:
    told = analyze(blown_open(**{column: np.nan})).summary["assumptions"]
    assert any(words in line for line in told), told
    whole = plain_round().summary["assumptions"]
    assert not any(words in line for line in whole)


@pytest.mark.parametrize("basis", ["whole_pound", "latent_heat"])
def test_the_basis_is_named_beside_the_figure(basis: Any) -> None:
    summary = analyze(blown_open(), site=Site(loss_basis=basis)).summary
    assert summary["loss_basis"] == BASIS_WORDS[basis]
    assert summary["annual_cost"] > 0.0
