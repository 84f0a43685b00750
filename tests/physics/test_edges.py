"""Where each stated range ends: on the edge there is an answer, just past it NaN."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from survey.physics import (
    air,
    condensate,
    heaters,
    orifice,
    radiation,
    saturation,
    steam_cost,
    units,
)

Answer = Callable[..., Any]
STEAM_FLOW = {"bore_in": 0.15, "upstream_psia": 75.0, "discharge_coefficient": 0.65}
WATER = {"bore_in": 0.15, "upstream_psia": 75.0, "downstream_psia": 0.5, "temperature_f": 250.0,
         "discharge_coefficient": 0.65}
LOOK = {"surface_f": 250.0, "surroundings_f": 70.0, "emissivity": 0.9, "setting": 0.95}
HIGH = saturation.HIGHEST_PSIA
LOW = saturation.LOWEST_PSIA

# function, arguments that fit, the one that is moved, where it still fits, where no longer
EDGES: list[tuple[Answer, dict[str, float], str, float, float]] = [
    (orifice.choked_steam_flow_lb_per_h, STEAM_FLOW, "bore_in", 0.0, -1e-9),
    (orifice.choked_steam_flow_lb_per_h, STEAM_FLOW, "discharge_coefficient", 0.0, -1e-9),
    (orifice.choked_steam_flow_lb_per_h, STEAM_FLOW, "upstream_psia", HIGH, HIGH * 1.000001),
    (orifice.choked_steam_flow_lb_per_h, STEAM_FLOW, "upstream_psia", LOW, LOW * 0.999999),
    (orifice.back_pressure_factor, {"upstream_psia": 75.0, "downstream_psia": 15.0},
     "downstream_psia", 0.0, -1e-9),
    (condensate.condensate_capacity_lb_per_h, WATER, "bore_in", 0.0, -1e-9),
    (condensate.condensate_capacity_lb_per_h, WATER, "downstream_psia", 0.0, -1e-9),
    (condensate.condensate_capacity_lb_per_h, WATER, "discharge_coefficient", 0.0, -1e-9),
    (condensate.condensate_capacity_lb_per_h, WATER, "temperature_f", 32.0, 31.999),
    (condensate.condensate_capacity_lb_per_h, WATER, "upstream_psia", HIGH, HIGH * 1.000001),
    (condensate.liquid_critical_ratio, {"vapour_psia": 15.0}, "vapour_psia", 0.0, -1e-9),
    (condensate.liquid_critical_ratio, {"vapour_psia": 15.0}, "vapour_psia", HIGH, HIGH * 1.000001),
    (radiation.infrared_reading_f, LOOK, "emissivity", 1.0, 1.000001),
    (radiation.infrared_reading_f, LOOK, "emissivity", 0.0, -1e-9),
    (radiation.infrared_reading_f, LOOK, "setting", 1.0, 1.000001),
    (radiation.infrared_reading_f, LOOK, "setting", 0.01, 0.009999),
    (radiation.infrared_reading_f, LOOK, "surroundings_f", -300.0, -300.001),
    (steam_cost.fuel_mmbtu_per_klb, {"heat_btu_per_lb": 1000.0, "boiler_efficiency": 0.8},
     "boiler_efficiency", 1.0, 1.000001),
    (steam_cost.fuel_mmbtu_per_klb, {"heat_btu_per_lb": 1000.0, "boiler_efficiency": 0.8},
     "boiler_efficiency", 0.01, 0.009999),
    (steam_cost.fuel_mmbtu_per_klb, {"heat_btu_per_lb": 1000.0, "boiler_efficiency": 0.8},
     "heat_btu_per_lb", 0.0, -1e-9),
    (steam_cost.steam_cost_per_klb,
     {"heat_btu_per_lb": 1000.0, "boiler_efficiency": 0.8, "fuel_price_per_mmbtu": 8.0},
     "fuel_price_per_mmbtu", 0.0, -1e-9),
    (steam_cost.co2_kg_per_klb,
     {"heat_btu_per_lb": 1000.0, "boiler_efficiency": 0.8, "kg_co2_per_mmbtu": 53.0},
     "kg_co2_per_mmbtu", 0.0, -1e-9),
    (units.atmosphere_psia, {"altitude_ft": 0.0}, "altitude_ft", 36_000.0, 36_000.1),
    (units.atmosphere_psia, {"altitude_ft": 0.0}, "altitude_ft", -5_000.0, -5_000.1),
    (units.bore_area_in2, {"bore_in": 1.0}, "bore_in", 0.0, -1e-9),
    (saturation.saturation_f, {"pressure_psia": 15.0}, "pressure_psia", HIGH, HIGH * 1.000001),
    (saturation.saturation_f, {"pressure_psia": 15.0}, "pressure_psia", LOW, LOW * 0.999999),
    (saturation.saturation_psia, {"temperature_f": 212.0}, "temperature_f", 32.0, 31.999),
    (saturation.saturation_psia, {"temperature_f": 212.0}, "temperature_f", 696.5, 696.501),
    (saturation.water_enthalpy_btu_per_lb, {"temperature_f": 212.0}, "temperature_f", 32.0, 31.99),
    (saturation.water_density_lb_per_ft3, {"temperature_f": 212.0}, "temperature_f", 696.5, 696.6),
    (saturation.latent_heat_btu_per_lb, {"pressure_psia": 15.0}, "pressure_psia", HIGH, HIGH + 1),
    (air.implied_air_fraction, {"total_psia": 15.0, "temperature_f": 200.0}, "total_psia", HIGH,
     HIGH * 1.000001),
    (heaters.unit_heater_output_factor, {"steam_psia": 20.0, "air_f": 60.0}, "steam_psia", 0.3,
     0.25),  # steam no warmer than the air of the rating heats nothing that was rated
]
NAMES = [f"{function.__name__}-{moved}-{outside:g}" for function, _, moved, _, outside in EDGES]


@pytest.mark.parametrize(("function", "fits", "moved", "inside", "outside"), EDGES, ids=NAMES)
def test_a_range_ends_where_it_is_said_to(
    function: Answer, fits: dict[str, float], moved: str, inside: float, outside: float
) -> None:
    assert np.isfinite(function(**fits))
    assert np.isfinite(function(**fits | {moved: inside}))
    assert np.isnan(function(**fits | {moved: outside}))


def test_emissivities_are_the_published_ones() -> None:
    """Bramson and Wolfe for rust, Thome 2008 for paint; galvanised sheet has one figure only."""
    assert {name: tuple(figure) for name, figure in radiation.EMISSIVITIES.items()} == {
        "red_rust": (0.69, 0.61, 0.85), "oil_paint": (0.94, 0.92, 0.96),
        "new_galvanised": (0.07, 0.07, 0.07),
    }
    assert radiation.THERMOMETER_SETTING == 0.95


def test_the_critical_point_is_that_of_the_release() -> None:
    """IAPWS R2-83(1992): 22.064 MPa."""
    assert pytest.approx(22_064, abs=0.5) == condensate.CRITICAL_POINT_PSIA * units.KPA_PER_PSI


def test_the_factors_between_units_are_the_exact_ones() -> None:
    """The international foot, inch and pound, and the IT Btu: exact by definition (NIST SP 811)."""
    assert (units.M_PER_FT, units.MM_PER_IN, units.KG_PER_LB) == (0.3048, 25.4, 0.45359237)
    assert units.KJ_PER_KG_PER_BTU_PER_LB == 2.326
    assert units.SECONDS_PER_HOUR == 3600.0
    assert units.KPA_PER_BAR == 100.0
    assert pytest.approx(6.894757293, rel=1e-9) == units.KPA_PER_PSI


def test_the_discharge_coefficient_spans_the_published_forms() -> None:
    """Published forms run from 0.57 to 0.73; the mean is the middle of the two."""
    low, high = orifice.DISCHARGE_COEFFICIENT_LOW, orifice.DISCHARGE_COEFFICIENT_HIGH
    assert (low, high) == (0.57, 0.73)
    assert pytest.approx((low + high) / 2, abs=1e-12) == orifice.DISCHARGE_COEFFICIENT_MEAN
