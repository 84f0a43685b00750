"""Flow through a seat against exact isentropic expansion, and against its own promises."""

from __future__ import annotations

import math

import CoolProp.CoolProp as CoolProp
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from survey.physics import condensate, orifice, saturation

from . import cross_checks

UNIT_BORE_IN = 2 / math.sqrt(math.pi)  # one square inch
PASCAL = 6894.757293168361
PRESSURES_PSIA = st.floats(14.7, 614.7)
LB_PER_H_PER_IN2 = 3600 / 0.45359237 * 0.0254**2  # from kg/s per m2


def expansion_lb_per_h_per_in2(upstream_psia: float, throat_psia: float, quality: int) -> float:
    """Isentropic equilibrium flow per area at one throat pressure, IAPWS-95."""
    upstream = upstream_psia * PASCAL
    entropy = CoolProp.PropsSI("S", "P", upstream, "Q", quality, "Water")
    enthalpy = CoolProp.PropsSI("H", "P", upstream, "Q", quality, "Water")
    throat = throat_psia * PASCAL
    density = CoolProp.PropsSI("D", "P", throat, "S", entropy, "Water")
    drop = enthalpy - CoolProp.PropsSI("H", "P", throat, "S", entropy, "Water")
    return float(density * math.sqrt(2 * max(drop, 0.0)) * LB_PER_H_PER_IN2)


def equilibrium_lb_per_h_per_in2(
    upstream_psia: float, downstream_psia: float, quality: int
) -> float:
    """Largest such flow at any throat pressure down to the one behind."""
    throats = np.linspace(max(downstream_psia, 0.1 * upstream_psia), 0.9995 * upstream_psia, 80)
    return max(expansion_lb_per_h_per_in2(upstream_psia, p, quality) for p in throats)


@settings(max_examples=25, deadline=None)
@given(PRESSURES_PSIA)
def test_choked_flow_is_the_isentropic_expansion(upstream_psia: float) -> None:
    found = orifice.choked_steam_flow_lb_per_h(
        bore_in=UNIT_BORE_IN, upstream_psia=upstream_psia, discharge_coefficient=1.0
    )
    expected = equilibrium_lb_per_h_per_in2(upstream_psia, 0.0, 1)
    assert float(found) == pytest.approx(expected, rel=0.01)


@settings(max_examples=25, deadline=None)
@given(PRESSURES_PSIA, st.floats(0.62, 0.99))
def test_held_back_flow_is_the_isentropic_expansion(upstream_psia: float, ratio: float) -> None:
    found = orifice.steam_flow_lb_per_h(
        bore_in=UNIT_BORE_IN,
        upstream_psia=upstream_psia,
        downstream_psia=ratio * upstream_psia,
        discharge_coefficient=1.0,
    )
    expected = expansion_lb_per_h_per_in2(upstream_psia, ratio * upstream_psia, 1)
    assert float(found) == pytest.approx(expected, rel=0.01)


def flow(upstream_psia, downstream_psia, bore_in=0.125, coefficient=0.65) -> np.ndarray:
    return orifice.steam_flow_lb_per_h(
        bore_in=bore_in,
        upstream_psia=upstream_psia,
        downstream_psia=downstream_psia,
        discharge_coefficient=coefficient,
    )


def test_nothing_flows_against_the_pressure() -> None:
    assert flow(50.0, [50.0, 50.001, 500.0]).tolist() == [0.0, 0.0, 0.0]


def test_choked_flow_does_not_see_what_is_behind() -> None:
    behind = np.linspace(0.0, 57.7, 20)
    assert np.ptp(flow(100.0, behind)) == 0.0
    assert flow(100.0, 60.0) < flow(100.0, 57.0)


def test_flow_is_continuous_where_it_chokes() -> None:
    critical = 100 * orifice.CRITICAL_PRESSURE_RATIO
    assert float(flow(100.0, critical * 1.0001)) == pytest.approx(
        float(flow(100.0, critical * 0.9999)), rel=1e-6
    )


def test_flow_is_monotone() -> None:
    upstream = np.linspace(14.7, 614.7, 4000)
    assert np.all(np.diff(flow(upstream, 14.7)) > 0)
    assert np.all(np.diff(flow(100.0, np.linspace(57.8, 100.0, 2000))) < 0)
    assert np.all(np.diff(flow(100.0, 14.7, bore_in=np.linspace(0.0, 1.0, 100))) > 0)


def test_flow_goes_with_area_and_coefficient() -> None:
    base = float(flow(100.0, 14.7, bore_in=0.1, coefficient=0.5))
    assert float(flow(100.0, 14.7, bore_in=0.2, coefficient=0.5)) == pytest.approx(4 * base)
    assert float(flow(100.0, 14.7, bore_in=0.1, coefficient=1.0)) == pytest.approx(2 * base)


@pytest.mark.parametrize(
    "wrong",
    [
        {"bore_in": -0.1},
        {"bore_in": np.nan},
        {"upstream_psia": 0.0},
        {"upstream_psia": 3021.0},
        {"upstream_psia": np.inf},
        {"downstream_psia": -0.1},
        {"downstream_psia": np.inf},
        {"discharge_coefficient": -0.1},
        {"discharge_coefficient": np.nan},
    ],
)
def test_one_impossible_value_makes_the_flow_unknown(wrong: dict[str, float]) -> None:
    right = {
        "bore_in": 0.1, "upstream_psia": 60.0, "downstream_psia": 15.0,
        "discharge_coefficient": 0.65,
    }  # fmt: skip
    assert np.isfinite(orifice.steam_flow_lb_per_h(**right))
    assert np.isnan(orifice.steam_flow_lb_per_h(**(right | wrong)))
    assert np.isnan(orifice.condensate_capacity_lb_per_h(temperature_f=200.0, **(right | wrong)))


def test_coefficients_are_the_published_forms_over_isentropic_flow() -> None:
    """Each published form, turned into a share of isentropic flow at its own example."""

    def isentropic(psia: float) -> float:
        return float(
            orifice.choked_steam_flow_lb_per_h(
                bore_in=1.0, upstream_psia=psia, discharge_coefficient=1.0
            )
        )

    low = 24.24 * 19.696 / isentropic(19.696)  # Manczyk, 5 psig
    high = 75.8 * 8**2 / isentropic(164.696)  # Tip Sheet 1, 1/8 in at 150 psig
    assert low == pytest.approx(orifice.DISCHARGE_COEFFICIENT_LOW, abs=0.005)
    assert high == pytest.approx(orifice.DISCHARGE_COEFFICIENT_HIGH, abs=0.011)
    assert (
        orifice.DISCHARGE_COEFFICIENT_LOW
        < orifice.DISCHARGE_COEFFICIENT_MEAN
        < orifice.DISCHARGE_COEFFICIENT_HIGH
    )


def capacity(upstream_psia, temperature_f, downstream_psia=14.7) -> np.ndarray:
    return condensate.condensate_capacity_lb_per_h(
        bore_in=UNIT_BORE_IN,
        upstream_psia=upstream_psia,
        downstream_psia=downstream_psia,
        temperature_f=temperature_f,
        discharge_coefficient=1.0,
    )


@pytest.mark.parametrize("upstream_psia", [20.0, 30.0, 100.0, 300.0, 614.7])
def test_saturated_condensate_lies_between_equilibrium_and_cold(upstream_psia: float) -> None:
    equilibrium = equilibrium_lb_per_h_per_in2(upstream_psia, 14.7, 0)
    saturated = capacity(upstream_psia, saturation.saturation_f(pressure_psia=upstream_psia))
    cold = capacity(upstream_psia, 60.0)
    assert 1.5 * equilibrium < float(saturated) < 3.0 * equilibrium
    assert 2.0 * float(saturated) < float(cold) < 4.0 * float(saturated)


def test_hot_condensate_follows_the_valve_standard() -> None:
    """IEC 60534-2-1 worked in SI beside it: 7 bar abs, 160 °C, choked, FL 0.9."""
    kelvin, upstream_pa = 433.15, 7e5
    vapour_pa = CoolProp.PropsSI("P", "T", kelvin, "Q", 0, "IF97::Water")
    density = CoolProp.PropsSI("D", "T", kelvin, "Q", 0, "IF97::Water")
    ratio = 0.96 - 0.28 * math.sqrt(vapour_pa / 22.064e6)
    choking_pa = 0.9**2 * (upstream_pa - ratio * vapour_pa)
    assert choking_pa < upstream_pa - 101_325
    expected = math.sqrt(2 * density * choking_pa) * LB_PER_H_PER_IN2
    assert float(capacity(upstream_pa / PASCAL, 320.0)) == pytest.approx(expected, rel=1e-5)


def test_cold_water_follows_the_whole_difference() -> None:
    # Torricelli: 100 psi of 60 °F water is 230.9 ft of head, 121.9 ft/s; 62.36 lb/ft3.
    expected = math.sqrt(2 * 32.174 * 230.9) * 62.36 / 144 * 3600
    assert float(capacity(114.7, 60.0, downstream_psia=14.7)) < expected  # it cavitates
    assert float(capacity(114.7, 60.0, downstream_psia=34.7)) == pytest.approx(
        expected * math.sqrt(0.8), rel=1e-3
    )


def test_capacity_falls_as_condensate_warms_and_never_past_saturation() -> None:
    warming = capacity(100.0, np.linspace(60.0, 327.0, 500))
    assert np.all(np.diff(warming) <= 0)
    saturated_f = float(saturation.saturation_f(pressure_psia=100.0))
    assert float(capacity(100.0, 500.0)) == float(capacity(100.0, saturated_f))


def test_no_condensate_against_the_pressure() -> None:
    assert float(capacity(20.0, 200.0, downstream_psia=20.0)) == 0.0
    assert float(capacity(20.0, 200.0, downstream_psia=40.0)) == 0.0


def test_napier_correction_starts_where_the_standard_says() -> None:
    def per_psia(psia: float) -> float:
        return float(
            cross_checks.napier_lb_per_h(
                bore_in=UNIT_BORE_IN, upstream_psia=psia, discharge_coefficient=1.0
            )
            / psia
        )

    assert per_psia(15.0) == per_psia(1500.0) == pytest.approx(3600 / 70)
    assert per_psia(2500.0) > 1.05 * per_psia(1500.0)
