"""What a unit needs: its parts against published figures, and how it must behave."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from survey.diagnosis.lifting import CHECK_VALVE_PSI
from survey.physics.heaters import unit_heater_output_factor
from survey.plant.heating import needed_for_heat_psia, output_share
from survey.plant.lift import capacity_lb_per_h, flood_chance, load_ratio, margin_psi, needs
from survey.plant.units import units_of
from tests.plant.build import SITE, findings, trap

AIR_PSIA = 14.695949
FEWER = settings(max_examples=40)
LIFTS = st.floats(-20.0, 60.0)
PRESSURES = st.floats(8.0, 140.0)


def one(**given):
    return units_of(findings(trap("T-1", **given)), SITE)


ONE = one()


def alike(**each):
    """Return units alike but for the arrays given."""
    count = len(next(iter(each.values())))
    arrays = {name: np.asarray(values, dtype=float) for name, values in each.items()}
    return replace(ONE.take(np.zeros(count, dtype=int)), **arrays)


def test_head_of_a_thirty_foot_lift_is_that_of_the_trade() -> None:
    # Common practice, no source: 2.33 ft of lift per psi, so 12.9 psi.
    need = needs(one(lift_ft=30.0, outlet_temp_f=100.0))
    assert need.head_psi[0] == pytest.approx(12.9, abs=0.15)


@pytest.mark.parametrize(("water_f", "ft_per_psi"), [(60.0, 2.309), (180.0, 2.377), (212.0, 2.407)])
def test_head_goes_by_the_condensates_own_temperature(water_f: float, ft_per_psi: float) -> None:
    # Density of water, IAPWS R7-97.
    need = needs(one(lift_ft=40.0, outlet_temp_f=water_f))
    assert 40.0 / need.head_psi[0] == pytest.approx(ft_per_psi, abs=0.002)


def test_condensate_is_never_hotter_than_its_return_lets_it_be() -> None:
    hot, boiling = (needs(one(outlet_temp_f=f)).head_psi[0] for f in (280.0, 218.5))
    assert hot == pytest.approx(boiling, rel=1e-3)


def test_the_parts_add_up() -> None:
    need = needs(one())
    whole = need.return_psia + need.head_psi + CHECK_VALVE_PSI + need.trap_psi
    assert need.needed_psia[0] == pytest.approx(whole[0], abs=1e-9)
    assert need.trap_psi[0] > 0


def test_at_the_pressure_needed_the_trap_just_passes_its_load() -> None:
    units = one(load_lb_per_h=250.0)
    need = needs(units)
    assert need.load_given[0]
    behind = need.return_psia + need.head_psi + need.check_psi
    passes = capacity_lb_per_h(
        units, supply_psia=need.needed_psia, behind_psia=behind, bore_in=units.bore_in
    )
    assert passes[0] == pytest.approx(250.0 * load_ratio(units, need.needed_psia)[0], rel=1e-4)


def test_a_larger_load_needs_more_pressure_and_a_larger_bore_less() -> None:
    small, large = (needs(one(load_lb_per_h=q)).needed_psia[0] for q in (150.0, 400.0))
    wide = needs(one(load_lb_per_h=400.0, orifice_in=0.25)).needed_psia[0]
    assert small < large
    assert wide < large


@FEWER
@given(LIFTS, LIFTS, PRESSURES)
def test_more_lift_needs_more_pressure(a: float, b: float, supply_psig: float) -> None:
    units = alike(lift_ft=sorted((a, b)), supply_psia=[supply_psig + AIR_PSIA] * 2)
    first, second = needs(units).needed_psia
    assert first <= second + 1e-6


@FEWER
@given(PRESSURES, PRESSURES, LIFTS)
def test_a_lower_pressure_never_raises_a_margin(a: float, b: float, lift_ft: float) -> None:
    units = alike(lift_ft=[lift_ft] * 2)
    low, high = margin_psi(units, needs(units), supply_psia=np.sort([a, b]) + AIR_PSIA)
    assert low <= high


@FEWER
@given(
    st.floats(0.0, 50.0), PRESSURES, PRESSURES, PRESSURES,
    st.floats(0.0, 1.0), st.floats(0.0, 1.0),
)  # fmt: skip
def test_the_chance_to_flood_never_falls_as_the_pressure_does(
    lift_ft, today, a, b, hot, of_the_rest
) -> None:
    units = alike(
        lift_ft=[lift_ft] * 2, supply_psia=[today + AIR_PSIA] * 2, hot=[hot] * 2,
        held_by_lift=[(1.0 - hot) * of_the_rest] * 2,
    )  # fmt: skip
    at_low, at_high = flood_chance(units, needs(units), supply_psia=np.sort([a, b]) + AIR_PSIA)
    assert 0.0 <= at_high <= at_low + 1e-12 <= 1.0 + 1e-9


def test_a_unit_that_drains_today_does_not_flood_today() -> None:
    drains = one(lift_ft=80.0, p_working=1.0, p_backed_up=0, p_cold=0, p_leaking=0,
                 p_failed_open=0, p_failed_closed=0)  # fmt: skip
    need = needs(drains)
    assert flood_chance(drains, need, supply_psia=drains.supply_psia)[0] == pytest.approx(0.0)
    assert flood_chance(drains, need, supply_psia=drains.supply_psia - 10)[0] > 0.9


def test_a_unit_that_stands_back_for_its_lift_does_so_today() -> None:
    units = one(lift_ft=95.0, state="backed_up", cause="lift", confidence=0.99)
    need = needs(units)
    assert flood_chance(units, need, supply_psia=units.supply_psia)[0] > 0.95
    assert flood_chance(units, need, supply_psia=units.supply_psia + 30)[0] < 0.05


@pytest.mark.parametrize("gap", [{"lift_ft": None}, {"saturation_f": float("nan")}])
def test_what_is_not_known_stays_so(gap) -> None:
    units = one(**gap)
    need = needs(units)
    assert np.isnan(need.needed_psia[0])
    assert np.isnan(flood_chance(units, need, supply_psia=np.array([30.0]))[0])


@pytest.mark.parametrize(
    ("psig", "published"), [(2.0, 1.0), (15.0, 1.19), (50.0, 1.50), (100.0, 1.75), (150.0, 1.93)]
)
def test_heat_follows_the_makers_table_at_sixty_degrees(psig: float, published: float) -> None:
    # Correction table for horizontal steam unit heaters, printed alike by two makers, Table 10.1.
    factor = float(unit_heater_output_factor(steam_psia=psig + AIR_PSIA, air_f=60.0))
    assert factor == pytest.approx(published, rel=0.03)


@FEWER
@given(st.floats(10.0, 140.0), st.floats(0.0, 0.6), st.floats(20.0, 90.0))
def test_at_the_lowest_pressure_for_heat_just_the_spare_is_gone(psig, spare, air_f) -> None:
    units = alike(supply_psia=[psig + AIR_PSIA], ambient_f=[air_f])
    lowest = needed_for_heat_psia(units, spare_share=spare)
    share = output_share(units, supply_psia=lowest)[0]
    assert share >= 1.0 - spare - 1e-6
    if lowest[0] > 5.01:
        assert share == pytest.approx(1.0 - spare, abs=1e-5)


def test_only_unit_heaters_are_held_to_the_heaters_table() -> None:
    units = units_of(
        findings(*(trap(s, service=s) for s in ("process", "drip", "tracing", "unit_heater"))), SITE
    )
    assert np.isnan(needed_for_heat_psia(units)).tolist() == [True, True, True, False]
