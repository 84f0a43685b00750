"""Units: one trap each, with the vent, breaker and check valve of a heater; and their truth.

Everything here is what a plant *is*. What a technician reads of it is in `temperatures`,
`sounds`, `companions` and `record`.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from plants import steam
from plants.settings import PlantSettings

TYPES = {  # common practice, no source
    "unit_heater": {"float_thermostatic": 0.65, "inverted_bucket": 0.25, "thermostatic": 0.10},
    "drip": {
        "thermodynamic": 0.40, "inverted_bucket": 0.30, "float_thermostatic": 0.15,
        "bimetallic": 0.09, "fixed_orifice": 0.06,
    },
    "process": {"float_thermostatic": 0.60, "inverted_bucket": 0.30, "thermostatic": 0.10},
    "tracing": {"thermostatic": 0.40, "bimetallic": 0.30, "thermodynamic": 0.30},
}  # fmt: skip
LOW_PRESSURE_DRIP = {"float_thermostatic": 0.6, "thermostatic": 0.3, "inverted_bucket": 0.1}
LOAD_LB_PER_H = {"unit_heater": 120.0, "drip": 8.0, "process": 150.0, "tracing": 10.0}
BORES_IN = np.array(
    [1 / 16, 5 / 64, 3 / 32, 7 / 64, 1 / 8, 5 / 32, 3 / 16, 7 / 32, 1 / 4, 5 / 16, 3 / 8, 1 / 2]
)
SMALLEST_BORE_IN = {
    "float_thermostatic": 1 / 8, "inverted_bucket": 5 / 64, "thermodynamic": 1 / 8,
    "thermostatic": 1 / 8, "bimetallic": 1 / 8, "fixed_orifice": 1 / 16,
}  # fmt: skip
LOW_PRESSURE_BORE_IN = {"float_thermostatic": 7 / 32, "thermostatic": 3 / 16}  # to 15 psig
# How a failed trap of each type has failed: leaking, failed_open, failed_closed.
FAILURES = {
    "float_thermostatic": (0.35, 0.35, 0.30), "inverted_bucket": (0.30, 0.50, 0.20),
    "thermodynamic": (0.40, 0.50, 0.10), "thermostatic": (0.35, 0.35, 0.30),
    "bimetallic": (0.50, 0.20, 0.30), "fixed_orifice": (0.30, 0.20, 0.50),
}  # fmt: skip
HAZARD = {"thermodynamic": 1.4, "inverted_bucket": 0.9, "fixed_orifice": 0.5}
AIR_TOLERANCE = {"float_thermostatic": 0.8, "thermostatic": 0.7, "inverted_bucket": 1.1}
TRAPS_PER_AREA = 24
AREAS = ("glasshouse", "packing hall", "laundry", "propagation house", "cold store", "potting hall")


def pick(rng: np.random.Generator, shares: dict[str, float], size: int) -> np.ndarray:
    """Draw words by their shares."""
    weights = np.array(list(shares.values()), dtype=float)
    return rng.choice(np.array(list(shares), dtype=object), size, p=weights / weights.sum())


def build_units(
    rng: np.random.Generator, settings: PlantSettings, failed: float, altitude_ft: float
) -> pd.DataFrame:
    """One row per trap, in walking order, with every true quantity."""
    units = _places(rng, settings)
    units["atmosphere_psia"] = steam.atmosphere_psia(altitude_ft)
    _fit_traps(rng, units, settings)
    _fit_companions(rng, units, settings)
    _break_traps(rng, units, failed)
    _lose_steam(rng, units)
    _raise_return(rng, units)
    _find_victims(rng, units, settings)
    return units


def _places(rng, settings):
    count = settings.traps
    stations = settings.stations
    size = rng.dirichlet(np.full(len(stations), 12.0))
    station = np.sort(rng.choice(len(stations), count, p=size))
    units = pd.DataFrame({"station_number": station})
    place = units.groupby("station_number").cumcount() // TRAPS_PER_AREA
    units["station"] = [stations[s].name for s in station]
    units["thermometer"] = [stations[s].thermometer for s in station]
    units["area"] = [
        f"{name} {AREAS[(s + a) % len(AREAS)]} {a + 1}"
        for name, s, a in zip(units["station"], station, place, strict=True)
    ]
    units["tag"] = [f"{n[0]}{s + 1}-{i + 1:04d}" for i, (n, s) in
                    enumerate(zip(units["station"], station, strict=True))]
    supply = np.array([rng.uniform(*s.supply_psig) for s in stations])
    back = np.array([rng.uniform(*s.return_psig) for s in stations])
    units["station_psig"] = supply[station]
    units["gauge_psig"] = (supply + [s.gauge_error_psi for s in stations])[station]
    units["return_nominal_psig"] = back[station]
    area = units["area"].astype("category").cat.codes.to_numpy()
    drop = rng.uniform(0.0, 0.03, area.max() + 1)[area] + rng.uniform(0.0, 0.02, count)
    units["supply_psig"] = units["station_psig"] * (1 - drop)
    units["area_number"] = area
    return units


def _fit_traps(rng, units, settings):
    count = len(units)
    units["service"] = pick(rng, settings.services, count)
    units["trap_type"] = ""
    for service, shares in TYPES.items():
        for low in (False, True):
            here = (units["service"] == service) & ((units["station_psig"] < 15) == low)
            chosen = LOW_PRESSURE_DRIP if low and service in ("drip", "tracing") else shares
            units.loc[here, "trap_type"] = pick(rng, chosen, int(here.sum()))
    median = units["service"].map(LOAD_LB_PER_H).astype(float)
    units["load_lb_per_h"] = median * rng.lognormal(0.0, 0.55, count)
    units["coefficient"] = rng.uniform(0.55, 0.75, count)
    plate = units["trap_type"] == "fixed_orifice"
    margin = np.where(plate, rng.uniform(1.1, 1.5, count), rng.uniform(2.0, 4.0, count))
    difference = np.maximum(units["supply_psig"] - units["return_nominal_psig"] - 1.0, 0.5)
    per_in2 = steam.condensate_capacity_lb_per_h(1.0, difference)
    needed = np.sqrt(margin * units["load_lb_per_h"] / per_in2)
    low = units["station_psig"] <= 15
    for smallest in (SMALLEST_BORE_IN, LOW_PRESSURE_BORE_IN):
        least = units["trap_type"].map(lambda t, smallest=smallest: smallest.get(t, 0.0))
        wanted = low | (smallest is SMALLEST_BORE_IN)
        needed = np.maximum(needed, np.where(wanted, least, 0.0))
    largest = len(BORES_IN) - 1
    units["orifice_in"] = BORES_IN[np.searchsorted(BORES_IN, needed - 1e-9).clip(0, largest)]
    lifted = rng.random(count) < settings.lifted_share
    lifted &= units["service"].isin(["unit_heater", "process"])
    units["lift_ft"] = np.where(lifted, rng.uniform(*settings.lift_ft, count), 0.0)
    yearly = {"unit_heater": (3800, 5600), "drip": (5000, 8300), "process": (2500, 6500)}
    low, high = np.array([yearly.get(s, (4000, 8300)) for s in units["service"]]).T
    units["hours_per_year"] = rng.uniform(low, high).round(-1)


def _fit_companions(rng, units, settings):
    count = len(units)
    heater = (units["service"] == "unit_heater").to_numpy()
    units["has_vent_row"] = heater & (rng.random(count) < 0.92)
    units["has_breaker_row"] = heater & (rng.random(count) < 0.80)
    units["has_check"] = heater & ((units["lift_ft"] > 0) | (rng.random(count) < 0.6))
    other = 1 - settings.vent_shut_share - settings.vent_missing_share - 0.06
    vents = pick(rng, {
        "isolated": settings.vent_shut_share, "missing": settings.vent_missing_share,
        "failed_open": 0.035, "passing_water": 0.025, "working": other,
    }, count)
    units["vent_state"] = np.where(units["has_vent_row"], vents, "")
    breakers = pick(
        rng, {"working": 0.84, "missing": 0.06, "isolated": 0.05, "leaking": 0.05}, count
    )
    units["breaker_state"] = np.where(units["has_breaker_row"], breakers, "")
    stuck = settings.check_stuck_share
    checks = pick(rng, {"working": 0.95 - stuck, "stuck": stuck, "passing_back": 0.05}, count)
    units["check_state"] = np.where(units["has_check"], checks, "")


def _break_traps(rng, units, failed):
    count = len(units)
    neglect = rng.lognormal(0.0, 0.35, units["area_number"].max() + 1)[units["area_number"]]
    chance = neglect * units["trap_type"].map(lambda t: HAZARD.get(t, 1.0)).to_numpy()
    broken = rng.random(count) < np.clip(failed * chance / chance.mean(), 0, 0.9)
    kinds = np.array(["leaking", "failed_open", "failed_closed"], dtype=object)
    shares = np.cumsum([FAILURES[t] for t in units["trap_type"]], axis=1)
    number = (rng.random(count)[:, None] > shares).sum(axis=1).clip(0, 2)
    units["trap_state"] = np.where(broken, kinds[number], "working")
    leak = np.clip(rng.lognormal(np.log(0.15), 0.5, count), 0.04, 0.30)
    opened = rng.uniform(0.5, 1.0, count)
    units["opening"] = np.select(
        [units["trap_state"] == "leaking", units["trap_state"] == "failed_open"],
        [leak, opened], 0.0,
    )


def _lose_steam(rng, units):
    count = len(units)
    area = np.pi / 4 * units["orifice_in"] ** 2
    p1 = units["supply_psig"] + units["atmosphere_psia"]
    p2 = units["return_nominal_psig"] + units["atmosphere_psia"]
    p2 = p2 + steam.head_psi(units["lift_ft"]) * rng.uniform(0.1, 0.5, count)
    # The steam that gets away lifts the pressure just behind the seat.
    p2 = np.minimum(p2 + units["opening"] * rng.uniform(0, 0.15, count) * (p1 - p2), p1)
    full = units["coefficient"] * area * steam.flux_lb_per_h_in2(p1, p2)
    bore = units["orifice_in"] * np.sqrt(units["opening"])
    room = steam.condensate_capacity_lb_per_h(np.maximum(bore, 0.01), p1 - p2)
    blown = np.clip(1 - units["load_lb_per_h"] / room, 0.2, 1.0) * rng.uniform(0.75, 1.0, count)
    share = np.where(units["trap_state"] == "failed_open", blown, rng.uniform(0.6, 1.0, count))
    units["behind_psia"] = p2
    units["steam_loss_lb_per_h"] = full * units["opening"] * share
    plate = (units["trap_type"] == "fixed_orifice") & (units["trap_state"] == "working")
    units["steam_loss_lb_per_h"] += np.where(plate, full * rng.uniform(0.0, 0.12, count), 0.0)


def _raise_return(rng, units):
    lost = units["steam_loss_lb_per_h"].groupby(units["area_number"]).transform("sum")
    rise = np.minimum(0.25 * np.sqrt(lost / 50.0), 0.10 * units["supply_psig"])
    units["return_psig"] = units["return_nominal_psig"] + rise + rng.uniform(0, 0.3, len(units))
    units["return_steamy"] = lost > 30.0


def _find_victims(rng, units, settings):
    count = len(units)
    off = rng.random(count) < settings.valved_off_share
    stuck = (units["check_state"] == "stuck").to_numpy()
    lost = rng.uniform(0.4, 1.2, count) + np.where(units["has_check"], 0.3, 0.0)
    units["spare_psi"] = (
        units["supply_psig"] - units["return_psig"] - lost - steam.head_psi(units["lift_ft"])
    )
    drowned = ((units["lift_ft"] > 0) & (units["spare_psi"] < 0)).to_numpy()
    shut = units["vent_state"].isin(["isolated", "missing"]).to_numpy()
    chance = 0.9 * np.exp(-units["supply_psig"] / 60.0)
    chance *= units["trap_type"].map(lambda t: AIR_TOLERANCE.get(t, 1.0))
    chance *= units["trap_state"].map(
        {"working": 1.0, "leaking": 0.4, "failed_open": 0.0, "failed_closed": 0.0}
    )
    airbound = shut & (rng.random(count) < chance)
    units["air_share"] = np.where(shut & ~airbound, rng.uniform(0.0, 0.12, count), 0.0)
    order = [off, stuck, drowned, airbound]
    failed = units["trap_state"] != "working"
    units["cause"] = np.select(
        order, ["valved_off", "check_valve", "lift", "air_vent"], np.where(failed, "trap", "none")
    )
    states = ["cold", "backed_up", "backed_up", "cold"]
    units["state"] = np.select(order, states, units["trap_state"])
    dry = ~units["state"].isin(["working", "leaking", "failed_open"])
    units.loc[dry, "steam_loss_lb_per_h"] = 0.0
    flooded = (units["state"] == "backed_up") & (units["vent_state"] == "working")
    units.loc[flooded & (rng.random(count) < 0.08), "vent_state"] = "passing_water"
