"""Saturation against two independent libraries, and against its own promises."""

from __future__ import annotations

import subprocess
import sys

import CoolProp.CoolProp as CoolProp
import iapws
import numpy as np
import pytest
import seuif97
from hypothesis import given, settings
from hypothesis import strategies as st

from survey.physics import saturation
from survey.physics.units import KPA_PER_PSI

# The working range, 0 to 600 psig, with its vacuum end down to 32 °F.
PRESSURES_PSIA = st.floats(0.0887, 614.7)
BTU_PER_LB = 2326.0  # J/kg
LB_PER_FT3 = 16.018463373960142  # kg/m3


def coolprop(output: str, pressure_psia: float, quality: int, backend: str) -> float:
    pascal = pressure_psia * KPA_PER_PSI * 1000
    return float(CoolProp.PropsSI(output, "P", pascal, "Q", quality, backend))


@given(PRESSURES_PSIA)
def test_temperature_is_coolprops(pressure_psia: float) -> None:
    found = float(saturation.saturation_f(pressure_psia=pressure_psia))
    same_formulation = coolprop("T", pressure_psia, 0, "IF97::Water") * 1.8 - 459.67
    # IF97 is said to follow IAPWS-95 within 0.02 K at saturation; CoolProp's Water is IAPWS-95.
    scientific = coolprop("T", pressure_psia, 0, "Water") * 1.8 - 459.67
    assert found == pytest.approx(same_formulation, abs=1e-5)
    assert found == pytest.approx(scientific, abs=0.036)


@given(PRESSURES_PSIA)
def test_latent_heat_and_densities_are_coolprops(pressure_psia: float) -> None:
    temperature_f = saturation.saturation_f(pressure_psia=pressure_psia)
    steam_h = coolprop("H", pressure_psia, 1, "IF97::Water") / BTU_PER_LB
    water_h = coolprop("H", pressure_psia, 0, "IF97::Water") / BTU_PER_LB
    steam_d = coolprop("D", pressure_psia, 1, "IF97::Water") / LB_PER_FT3
    water_d = coolprop("D", pressure_psia, 0, "IF97::Water") / LB_PER_FT3
    at = {"pressure_psia": pressure_psia}
    assert float(saturation.latent_heat_btu_per_lb(**at)) == pytest.approx(
        steam_h - water_h, rel=1e-5
    )
    assert float(saturation.steam_enthalpy_btu_per_lb(**at)) == pytest.approx(steam_h, rel=1e-5)
    assert float(saturation.steam_density_lb_per_ft3(**at)) == pytest.approx(steam_d, rel=1e-5)
    assert float(
        saturation.water_enthalpy_btu_per_lb(temperature_f=temperature_f)
    ) == pytest.approx(water_h, rel=1e-5, abs=1e-3)
    assert float(
        saturation.water_density_lb_per_ft3(temperature_f=temperature_f)
    ) == pytest.approx(water_d, rel=1e-5)


@settings(max_examples=25, deadline=None)
@given(st.floats(0.0888, 614.7))  # it starts at the triple point
def test_all_are_those_of_iapws(pressure_psia: float) -> None:
    mpa = pressure_psia * KPA_PER_PSI / 1000
    steam, water = iapws.IAPWS97(P=mpa, x=1), iapws.IAPWS97(P=mpa, x=0)
    temperature_f = float(saturation.saturation_f(pressure_psia=pressure_psia))
    at = {"pressure_psia": pressure_psia}
    assert temperature_f == pytest.approx(steam.T * 1.8 - 459.67, abs=1e-5)
    assert float(saturation.latent_heat_btu_per_lb(**at)) == pytest.approx(
        (steam.h - water.h) / 2.326, rel=1e-5
    )
    assert float(saturation.steam_density_lb_per_ft3(**at)) == pytest.approx(
        steam.rho / LB_PER_FT3, rel=1e-5
    )
    assert float(
        saturation.water_density_lb_per_ft3(temperature_f=temperature_f)
    ) == pytest.approx(water.rho / LB_PER_FT3, rel=1e-5)


def test_table_errs_under_a_hundred_thousandth_between_its_points() -> None:
    psia = np.geomspace(saturation.LOWEST_PSIA * 1.0001, saturation.HIGHEST_PSIA, 30_011)
    mpa = psia * KPA_PER_PSI / 1000
    expected = {
        (quality, number): np.array([seuif97.px(p, quality, number) for p in mpa.tolist()])
        for quality, number in ((1, 2), (1, 4), (0, 2), (0, 4))
    }
    at = {"pressure_psia": psia}
    hot = {"temperature_f": saturation.saturation_f(**at)}
    steam_h, water_h = expected[1, 4] / 2.326, expected[0, 4] / 2.326
    np.testing.assert_allclose(saturation.steam_enthalpy_btu_per_lb(**at), steam_h, rtol=1e-5)
    np.testing.assert_allclose(
        saturation.latent_heat_btu_per_lb(**at), steam_h - water_h, rtol=1e-5
    )
    np.testing.assert_allclose(
        saturation.steam_density_lb_per_ft3(**at), expected[1, 2] / LB_PER_FT3, rtol=1e-5
    )
    np.testing.assert_allclose(
        saturation.water_density_lb_per_ft3(**hot), expected[0, 2] / LB_PER_FT3, rtol=1e-5
    )
    # Enthalpy of water is counted from 32 °F, so near there only the absolute error has a meaning.
    np.testing.assert_allclose(
        saturation.water_enthalpy_btu_per_lb(**hot), water_h, rtol=1e-5, atol=1e-3
    )


@given(st.floats(32.0, 696.0))
def test_pressure_undoes_temperature(temperature_f: float) -> None:
    pressure_psia = saturation.saturation_psia(temperature_f=temperature_f)
    again = saturation.saturation_f(pressure_psia=pressure_psia)
    assert float(again) == pytest.approx(temperature_f, abs=1e-6)


def test_monotone_over_the_whole_range() -> None:
    psia = np.geomspace(saturation.LOWEST_PSIA, saturation.HIGHEST_PSIA, 50_000)
    fahrenheit = np.linspace(32.0, 696.0, 50_000)
    assert np.all(np.diff(saturation.saturation_f(pressure_psia=psia)) > 0)
    assert np.all(np.diff(saturation.saturation_psia(temperature_f=fahrenheit)) > 0)
    assert np.all(np.diff(saturation.latent_heat_btu_per_lb(pressure_psia=psia)) < 0)
    assert np.all(np.diff(saturation.steam_density_lb_per_ft3(pressure_psia=psia)) > 0)
    assert np.all(np.diff(saturation.water_enthalpy_btu_per_lb(temperature_f=fahrenheit)) > 0)
    # Water is densest at 39 °F.
    density = saturation.water_density_lb_per_ft3(temperature_f=fahrenheit[fahrenheit > 40])
    assert np.all(np.diff(density) < 0)


BY_PRESSURE = [
    saturation.saturation_f,
    saturation.latent_heat_btu_per_lb,
    saturation.steam_enthalpy_btu_per_lb,
    saturation.steam_density_lb_per_ft3,
]
BY_TEMPERATURE = [
    saturation.saturation_psia,
    saturation.water_enthalpy_btu_per_lb,
    saturation.water_density_lb_per_ft3,
]


@pytest.mark.parametrize("function", BY_PRESSURE)
def test_nan_outside_the_range_of_pressure(function) -> None:
    outside = [-14.7, 0.0, 0.0886, 3020.001, 1e300, np.inf, -np.inf, np.nan]
    inside = [saturation.LOWEST_PSIA, 14.696, 3014.7, 3020.0]
    assert np.isnan(function(pressure_psia=outside)).all()
    assert np.isfinite(function(pressure_psia=inside)).all()


@pytest.mark.parametrize("function", BY_TEMPERATURE)
def test_nan_outside_the_range_of_temperature(function) -> None:
    outside = [-459.67, 31.999, 696.501, 1e300, np.inf, -np.inf, np.nan]
    assert np.isnan(function(temperature_f=outside)).all()
    assert np.isfinite(function(temperature_f=[32.0, 212.0, 696.5])).all()


def test_shape_is_kept_and_a_float_gives_an_array() -> None:
    assert isinstance(saturation.saturation_f(pressure_psia=14.7), np.ndarray)
    assert saturation.saturation_f(pressure_psia=14.7).shape == ()
    assert saturation.latent_heat_btu_per_lb(pressure_psia=np.full((2, 3), 20)).shape == (2, 3)
    assert saturation.saturation_f(pressure_psia=[]).dtype == np.float64


@given(PRESSURES_PSIA, PRESSURES_PSIA)
def test_flash_is_a_share_and_balances_heat(first_psia: float, second_psia: float) -> None:
    upstream, downstream = max(first_psia, second_psia), min(first_psia, second_psia)
    share = float(saturation.flash_fraction(upstream_psia=upstream, downstream_psia=downstream))
    water_h = coolprop("H", upstream, 0, "IF97::Water") / BTU_PER_LB
    left_h = coolprop("H", downstream, 0, "IF97::Water") / BTU_PER_LB
    steam_h = coolprop("H", downstream, 1, "IF97::Water") / BTU_PER_LB
    assert 0 <= share < 1
    assert share * steam_h + (1 - share) * left_h == pytest.approx(water_h, abs=0.01)
    back = saturation.flash_fraction(upstream_psia=downstream, downstream_psia=upstream)
    assert float(back) == 0.0


def test_freezing_point_is_the_lower_end() -> None:
    # The closed equation at 273.15 K, R7-97(2012) section 8.1: 611.213 Pa.
    assert float(saturation.saturation_psia(temperature_f=32.0)) == pytest.approx(
        0.611213 / KPA_PER_PSI, rel=1e-6
    )
    assert saturation.saturation_psia(temperature_f=32.0) >= saturation.LOWEST_PSIA


def test_import_loads_no_heavy_library() -> None:
    script = (
        "import sys, survey.physics.saturation, survey.physics.orifice\n"
        "heavy = {'scipy', 'CoolProp', 'iapws', 'pandas', 'seuif97'}\n"
        "print(sorted(heavy & set(sys.modules)))"
    )
    command = [sys.executable, "-c", script]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
