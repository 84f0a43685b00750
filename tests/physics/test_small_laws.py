"""Units, levels, lift, air, heat, heaters and infrared: properties that hold everywhere."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.physics import (
    air,
    condensate,
    heaters,
    orifice,
    piping,
    radiation,
    saturation,
    sound,
    steam_cost,
    units,
)

from . import cross_checks

ANY_FLOAT = st.floats(allow_nan=True, allow_infinity=True)
SENSIBLE = st.floats(-1e6, 1e6)
LEVELS = st.floats(-100, 150)


@given(st.floats(-14.0, 3000.0), st.floats(-1500.0, 20_000.0))
def test_gauge_and_absolute_undo_each_other(psig: float, altitude_ft: float) -> None:
    psia = units.absolute_psia(gauge_psig=psig, altitude_ft=altitude_ft)
    if np.isnan(psia):
        assert psig + float(units.atmosphere_psia(altitude_ft=altitude_ft)) <= 0
    else:
        again = units.gauge_psig(absolute_psia=psia, altitude_ft=altitude_ft)
        assert float(again) == pytest.approx(psig, abs=1e-9)


def test_no_pressure_under_a_perfect_vacuum() -> None:
    psia = units.absolute_psia(gauge_psig=[-14.7, -15.0, -14.6, np.nan], altitude_ft=0.0)
    assert np.isnan(psia).tolist() == [True, True, False, True]
    assert np.isnan(units.gauge_psig(absolute_psia=[0.0, -0.5], altitude_ft=0.0)).all()


def test_atmosphere_thins_with_height_and_ends() -> None:
    heights = np.linspace(-5000, 36_000, 500)
    assert np.all(np.diff(units.atmosphere_psia(altitude_ft=heights)) < 0)
    assert np.isnan(units.atmosphere_psia(altitude_ft=[-5001, 36_001, np.inf, np.nan])).all()
    assert float(units.atmosphere_psia(altitude_ft=0)) == pytest.approx(14.695949, rel=1e-12)


@given(LEVELS, LEVELS)
def test_levels_add_in_power(level: float, other: float) -> None:
    expected = 10 * math.log10(10 ** (level / 10) + 10 ** (other / 10))
    both = float(sound.add_two_levels_db(level_db=level, other_db=other))
    assert both == pytest.approx(expected, abs=1e-9)
    assert both >= max(level, other) - 1e-9


def test_levels_add_with_silence_and_unknowns() -> None:
    both = sound.add_two_levels_db(
        level_db=[80.0, -np.inf, np.nan, np.inf], other_db=[80.0, 70.0, 70.0, 70.0]
    )
    np.testing.assert_allclose(both, [83.0103, 70.0, np.nan, np.nan], rtol=1e-6)


@given(LEVELS, LEVELS)
def test_the_share_of_a_sounds_power_says_how_far_another_raises_it(level, other) -> None:
    share = sound.share_of_power(over_db=other - level)
    both = float(sound.add_two_levels_db(level_db=level, other_db=other))
    assert level - float(sound.decibels(power_ratio=share)) == pytest.approx(both, abs=1e-9)


@given(st.floats(0, 200), st.floats(32, 300))
def test_lift_and_head_agree(lift_ft: float, temperature_f: float) -> None:
    pressure = piping.lift_pressure_psi(lift_ft=lift_ft, temperature_f=temperature_f)
    head = float(pressure) * float(piping.head_ft_per_psi(temperature_f=temperature_f))
    assert head == pytest.approx(lift_ft, abs=1e-9)


@given(st.floats(15, 600), st.floats(0, 0.9))
def test_air_is_found_again_from_the_temperature(total_psia: float, fraction: float) -> None:
    cooled = cross_checks.steam_air_temperature_f(total_psia=total_psia, air_fraction=fraction)
    # Equal but for the last bits of a float where there is next to no air.
    dry = float(saturation.saturation_f(pressure_psia=total_psia))
    assert float(cooled) <= dry * (1.0 + 4.0 * np.finfo(float).eps)
    again = air.implied_air_fraction(total_psia=total_psia, temperature_f=cooled)
    assert float(again) == pytest.approx(fraction, abs=1e-6)


def test_air_beyond_its_range() -> None:
    assert np.isnan(
        cross_checks.steam_air_temperature_f(total_psia=20.0, air_fraction=[-0.1, 1.0, 1.1, np.nan])
    ).all()
    assert float(air.implied_air_fraction(total_psia=20.0, temperature_f=400.0)) == 0.0


@given(st.floats(15, 600), st.floats(32, 220), st.floats(0.3, 1.0), st.floats(0, 50))
def test_cost_and_carbon_follow_the_fuel(
    psia: float, feedwater_f: float, efficiency: float, price: float
) -> None:
    heat = steam_cost.heat_to_make_steam_btu_per_lb(pressure_psia=psia, feedwater_f=feedwater_f)
    by = {"heat_btu_per_lb": heat, "boiler_efficiency": efficiency}
    fuel = float(steam_cost.fuel_mmbtu_per_klb(**by))
    assert fuel * efficiency * 1000 == pytest.approx(float(heat))
    cost = float(steam_cost.steam_cost_per_klb(fuel_price_per_mmbtu=price, **by))
    carbon = float(steam_cost.co2_kg_per_klb(kg_co2_per_mmbtu=price, **by))
    assert cost == carbon == pytest.approx(fuel * price)


def test_pressure_exponent_is_fitted_to_the_published_points() -> None:
    # Correction table of two heater makers, 60 °F air (tests/published/heaters.csv).
    psig = np.array([15.0, 50.0, 100.0, 150.0])
    published = np.log([1.19, 1.50, 1.75, 1.93])
    steam_f = saturation.saturation_f(pressure_psia=psig + 14.695949)
    rated_f = float(saturation.saturation_f(pressure_psia=heaters.RATING_PSIA))
    rise = np.log((steam_f - 60) / (rated_f - 60))
    fitted = float(rise @ published / (rise @ rise))
    assert fitted == pytest.approx(heaters.PRESSURE_EXPONENT, abs=0.0005)


def test_heater_gives_more_for_hotter_steam_and_colder_air() -> None:
    def factor(psia, air_f):
        return heaters.unit_heater_output_factor(steam_psia=psia, air_f=air_f)

    assert np.all(np.diff(factor(np.linspace(10, 300, 200), 60.0)) > 0)
    assert np.all(np.diff(factor(16.7, np.linspace(-20, 200, 200))) < 0)
    assert factor(16.7, [219.0, 300.0]).tolist() == [0.0, 0.0]
    assert np.isnan(factor([0.2, np.nan], 30.0)).all()


@given(st.floats(60, 500), st.floats(0, 110), st.floats(0.05, 0.95))
def test_infrared_reads_between_surroundings_and_surface(
    surface_f: float, surroundings_f: float, emissivity: float
) -> None:
    shown = float(
        radiation.infrared_reading_f(
            surface_f=surface_f, surroundings_f=surroundings_f, emissivity=emissivity
        )
    )
    low, high = sorted((surface_f, surroundings_f))
    assert low - 1e-6 <= shown <= high + 1e-6


def test_infrared_with_the_right_setting_reads_right() -> None:
    shown = radiation.infrared_reading_f(
        surface_f=[100.0, 300.0, 400.0], surroundings_f=70.0, emissivity=0.7, setting=0.7
    )
    np.testing.assert_allclose(shown, [100.0, 300.0, 400.0], rtol=1e-9)


def test_infrared_follows_planck() -> None:
    """At 11 micrometres, worked in kelvin with the CODATA second radiation constant."""

    def radiance(fahrenheit: float) -> float:
        return 1 / math.expm1(0.01438776877 / (11e-6 * (fahrenheit + 459.67) / 1.8))

    shown = float(
        radiation.infrared_reading_f(
            surface_f=300.0, surroundings_f=70.0, emissivity=0.07, setting=0.95
        )
    )
    mixed = radiance(70.0) + 0.07 / 0.95 * (radiance(300.0) - radiance(70.0))
    assert radiance(shown) == pytest.approx(mixed, rel=1e-6)
    assert 90 < shown < 100  # bare galvanising hides 200 °F


def test_the_surface_behind_an_infrared_reading_is_found_again() -> None:
    surface_f = np.array([120.0, 227.2, 300.0, 350.0])
    for emissivity in (0.07, 0.69, 0.94):
        reading = radiation.infrared_reading_f(
            surface_f=surface_f, surroundings_f=70.0, emissivity=emissivity, setting=0.95
        )
        again = radiation.surface_temperature_f(
            reading_f=reading, surroundings_f=70.0, relative_emissivity=emissivity / 0.95
        )
        np.testing.assert_allclose(again, surface_f, rtol=1e-9)


EVERY_FUNCTION = {
    units.atmosphere_psia: 1, units.absolute_psia: 2, units.gauge_psig: 2,
    units.bore_area_in2: 1,
    saturation.saturation_f: 1, saturation.saturation_psia: 1,
    saturation.latent_heat_btu_per_lb: 1, saturation.steam_enthalpy_btu_per_lb: 1,
    saturation.water_enthalpy_btu_per_lb: 1, saturation.steam_density_lb_per_ft3: 1,
    saturation.water_density_lb_per_ft3: 1, saturation.flash_fraction: 2,
    orifice.back_pressure_factor: 2,
    orifice.choked_steam_flow_lb_per_h: 3, orifice.steam_flow_lb_per_h: 4,
    condensate.condensate_capacity_lb_per_h: 5, condensate.liquid_critical_ratio: 1,
    sound.add_two_levels_db: 2, sound.share_of_power: 1, sound.decibels: 1,
    piping.head_ft_per_psi: 1, piping.lift_pressure_psi: 2,
    air.implied_air_fraction: 2,
    steam_cost.heat_to_make_steam_btu_per_lb: 2, steam_cost.fuel_mmbtu_per_klb: 2,
    steam_cost.steam_cost_per_klb: 3, steam_cost.co2_kg_per_klb: 3,
    heaters.unit_heater_output_factor: 2,
    radiation.infrared_reading_f: 4, radiation.surface_temperature_f: 3,
}  # fmt: skip


@pytest.mark.parametrize("function", EVERY_FUNCTION, ids=lambda f: f.__name__)
@given(data=st.data())
def test_any_number_gives_a_finite_number_or_nan_without_a_warning(function, data) -> None:
    names = list(function.__annotations__)
    arguments = {name: data.draw(ANY_FLOAT, label=name) for name in names if name != "return"}
    assert len(arguments) == EVERY_FUNCTION[function]
    answer = function(**arguments)
    assert isinstance(answer, np.ndarray)
    assert answer.dtype == np.float64
    if -np.inf not in arguments.values():
        assert not np.isinf(answer)


def test_no_public_function_is_left_out() -> None:
    modules = (
        air, condensate, heaters, orifice, piping, radiation, saturation, sound, steam_cost, units
    )  # fmt: skip
    public = {
        value
        for module in modules
        for name, value in vars(module).items()
        if callable(value)
        and not name.startswith("_")
        and getattr(value, "__module__", "") == module.__name__
        and not isinstance(value, type)
    }
    assert public == set(EVERY_FUNCTION)
