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

ANY_FLOAT = st.floats(allow_nan=True, allow_infinity=True)
SENSIBLE = st.floats(-1e6, 1e6)
LEVELS = st.floats(-100, 150)

ROUND_TRIPS = [
    (units.celsius_to_fahrenheit, units.fahrenheit_to_celsius),
    (units.celsius_to_fahrenheit_difference, units.fahrenheit_to_celsius_difference),
    (units.bar_to_psi, units.psi_to_bar),
    (units.kpa_to_psi, units.psi_to_kpa),
    (units.metres_to_feet, units.feet_to_metres),
    (units.mm_to_inches, units.inches_to_mm),
    (units.kg_to_lb, units.lb_to_kg),
]


@pytest.mark.parametrize(("there", "back"), ROUND_TRIPS)
@given(value=SENSIBLE)
def test_a_unit_there_and_back_is_itself(there, back, value: float) -> None:
    assert float(back(there(value))) == pytest.approx(value, rel=1e-12, abs=1e-9)


@pytest.mark.parametrize(
    ("converter", "given_value", "expected"),
    [
        # NIST SP 811 (2008), appendix B.8 and B.9; the atmosphere is 101.325 kPa by definition.
        (units.bar_to_psi, 1.0, 14.503774),
        (units.kpa_to_psi, 101.325, 14.695949),
        (units.metres_to_feet, 1.0, 3.2808399),
        (units.mm_to_inches, 25.4, 1.0),
        (units.kg_to_lb, 1.0, 2.2046226),
        (units.celsius_to_fahrenheit, 100.0, 212.0),
        (units.celsius_to_fahrenheit, -40.0, -40.0),
        (units.celsius_to_fahrenheit_difference, 10.0, 18.0),
    ],
)
def test_units_are_those_of_the_standard(converter, given_value: float, expected: float) -> None:
    assert float(converter(given_value)) == pytest.approx(expected, rel=1e-7)


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


@given(st.lists(LEVELS, min_size=1, max_size=6))
def test_levels_add_in_power(levels: list[float]) -> None:
    expected = 10 * math.log10(math.fsum(10 ** (level / 10) for level in levels))
    assert float(sound.add_levels_db(levels)) == pytest.approx(expected, abs=1e-9)
    assert float(sound.add_levels_db(levels)) >= max(levels) - 1e-9


def test_levels_add_along_an_axis_with_silence_and_unknowns() -> None:
    levels = np.array([[80.0, -np.inf, np.nan, np.inf], [80.0, 70.0, 70.0, 70.0]])
    np.testing.assert_allclose(
        sound.add_levels_db(levels), [83.0103, 70.0, np.nan, np.nan], rtol=1e-6
    )
    np.testing.assert_allclose(sound.add_levels_db(levels[:, :1], axis=1), [80.0, 80.0])


@given(LEVELS, st.floats(0.1, 60))
def test_background_taken_off_is_the_source_put_on(background: float, over: float) -> None:
    source = background + over
    together = sound.add_two_levels_db(level_db=source, other_db=background)
    alone = sound.background_corrected_db(level_db=together, background_db=background)
    assert float(alone) == pytest.approx(source, abs=1e-6)


def test_background_under_three_decibels_is_unusable() -> None:
    corrected = sound.background_corrected_db(
        level_db=[52.9, 53.0, 49.0, np.nan, 60.0], background_db=[50.0, 50.0, 50.0, 50.0, np.nan]
    )
    assert np.isnan(corrected).tolist() == [True, False, True, True, True]


@given(st.floats(0, 200), st.floats(32, 300))
def test_lift_and_head_agree(lift_ft: float, temperature_f: float) -> None:
    pressure = piping.lift_pressure_psi(lift_ft=lift_ft, temperature_f=temperature_f)
    head = float(pressure) * float(piping.head_ft_per_psi(temperature_f=temperature_f))
    assert head == pytest.approx(lift_ft, abs=1e-9)


@given(st.floats(15, 600), st.floats(0, 0.9))
def test_air_is_found_again_from_the_temperature(total_psia: float, fraction: float) -> None:
    cooled = air.steam_air_temperature_f(total_psia=total_psia, air_fraction=fraction)
    # Equal but for the last bits of a float where there is next to no air.
    dry = float(saturation.saturation_f(pressure_psia=total_psia))
    assert float(cooled) <= dry * (1.0 + 4.0 * np.finfo(float).eps)
    again = air.implied_air_fraction(total_psia=total_psia, temperature_f=cooled)
    assert float(again) == pytest.approx(fraction, abs=1e-6)


def test_air_beyond_its_range() -> None:
    assert np.isnan(
        air.steam_air_temperature_f(total_psia=20.0, air_fraction=[-0.1, 1.0, 1.1, np.nan])
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
    units.bore_area_in2: 1, units.celsius_to_fahrenheit: 1, units.fahrenheit_to_celsius: 1,
    units.bar_to_psi: 1, units.psi_to_bar: 1, units.kpa_to_psi: 1, units.psi_to_kpa: 1,
    units.metres_to_feet: 1, units.feet_to_metres: 1, units.mm_to_inches: 1,
    units.inches_to_mm: 1, units.lb_to_kg: 1, units.kg_to_lb: 1,
    units.celsius_to_fahrenheit_difference: 1, units.fahrenheit_to_celsius_difference: 1,
    saturation.saturation_f: 1, saturation.saturation_psia: 1,
    saturation.latent_heat_btu_per_lb: 1, saturation.steam_enthalpy_btu_per_lb: 1,
    saturation.water_enthalpy_btu_per_lb: 1, saturation.steam_density_lb_per_ft3: 1,
    saturation.water_density_lb_per_ft3: 1, saturation.flash_fraction: 2,
    orifice.napier_lb_per_h: 3, orifice.rateau_lb_per_h: 3, orifice.back_pressure_factor: 2,
    orifice.choked_steam_flow_lb_per_h: 3, orifice.steam_flow_lb_per_h: 4,
    condensate.condensate_capacity_lb_per_h: 5, condensate.liquid_critical_ratio: 1,
    sound.add_two_levels_db: 2, sound.background_correction_db: 1,
    sound.background_corrected_db: 2, piping.head_ft_per_psi: 1, piping.lift_pressure_psi: 2,
    air.steam_air_temperature_f: 2, air.implied_air_fraction: 2,
    steam_cost.heat_to_make_steam_btu_per_lb: 2, steam_cost.fuel_mmbtu_per_klb: 2,
    steam_cost.steam_cost_per_klb: 3, steam_cost.co2_kg_per_klb: 3, steam_cost.annual_loss_klb: 2,
    heaters.unit_heater_output_factor: 2, heaters.condensate_load_lb_per_h: 2,
    radiation.infrared_reading_f: 4, radiation.surface_temperature_f: 3,
}  # fmt: skip
CONVERTERS = {function for pair in ROUND_TRIPS for function in pair}


@pytest.mark.parametrize("function", EVERY_FUNCTION, ids=lambda f: f.__name__)
@given(data=st.data())
def test_any_number_gives_a_finite_number_or_nan_without_a_warning(function, data) -> None:
    names = list(function.__annotations__)
    arguments = {name: data.draw(ANY_FLOAT, label=name) for name in names if name != "return"}
    assert len(arguments) == EVERY_FUNCTION[function]
    answer = function(**arguments)
    assert isinstance(answer, np.ndarray)
    assert answer.dtype == np.float64
    if function not in CONVERTERS and -np.inf not in arguments.values():
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
    assert public - set(EVERY_FUNCTION) == {sound.add_levels_db}
