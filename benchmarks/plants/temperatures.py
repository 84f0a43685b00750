"""True pipe temperatures ahead of and after each trap, and how a thermometer reads them."""

from __future__ import annotations

import numpy as np
import pandas as pd

from plants import steam

SUBCOOLING_F = {  # mean, spread at about 300 °F; makers' published ranges, from memory
    "float_thermostatic": (2.0, 2.0), "inverted_bucket": (4.0, 3.0), "thermodynamic": (8.0, 4.0),
    "thermostatic": (22.0, 8.0), "bimetallic": (35.0, 14.0), "fixed_orifice": (8.0, 8.0),
}  # fmt: skip
SMALL_LOADS = ("drip", "tracing")
# Emissivity ranges 8-14 µm: oil paint, oxidised or rusted steel, galvanised, bare metal.
SURFACES = ((0.92, 0.96), (0.61, 0.85), (0.07, 0.28), (0.15, 0.40))
TAPED_SHARE = 0.25  # shiny places that the technician taped or inked: common practice, no source
GUN_EMISSIVITY = 0.95
_HC_OVER_K_UM = 14387.77
_BAND_UM = 10.5  # middle of the 8-14 µm band


def add_pipe_temperatures(rng: np.random.Generator, units: pd.DataFrame) -> None:
    """Add inlet_f, outlet_f and what they were made from."""
    count = len(units)
    units["ambient_f"] = _ambient(rng, units)
    p1 = units["supply_psig"] + units["atmosphere_psia"]
    sat = steam.saturation_f(p1)
    units["saturation_f"] = sat
    head = np.where(units["state"] == "failed_open", 0.0, steam.head_psi(units["lift_ft"]))
    p2 = np.minimum(units["return_psig"] + units["atmosphere_psia"] + head, p1)
    units["outlet_psia"] = np.maximum(p2, np.where(units["opening"] > 0, units["behind_psia"], 0))
    units["return_saturation_f"] = steam.saturation_f(
        units["return_psig"] + units["atmosphere_psia"]
    )
    flowing = units["state"].isin(["working", "leaking", "failed_open"]).to_numpy()
    inlet, outlet = _flowing(rng, units)
    stood_inlet, stood_outlet = _standing(rng, units)
    units["inlet_f"] = np.where(flowing, inlet, stood_inlet)
    units["outlet_f"] = np.where(flowing, outlet, stood_outlet)
    assert np.isfinite(units[["inlet_f", "outlet_f"]].to_numpy()).all(), count


def _ambient(rng, units):
    area = rng.normal(72.0, 9.0, units["area_number"].max() + 1)[units["area_number"]]
    return area + rng.normal(0.0, 3.0, len(units))


def _flowing(rng, units):
    count = len(units)
    p1 = units["supply_psig"] + units["atmosphere_psia"]
    sat = units["saturation_f"]
    airy = steam.saturation_f(p1 * (1 - units["air_share"]))  # Dalton
    mean, spread = np.array([SUBCOOLING_F[t] for t in units["trap_type"]]).T
    below = np.abs(rng.normal(mean, spread)) * np.clip((sat - 160.0) / 140.0, 0.4, 1.3)
    kept = np.select(
        [units["state"] == "failed_open", units["state"] == "leaking"],
        [rng.uniform(0.0, 0.2, count), rng.uniform(0.2, 0.7, count)], 1.0,
    )
    excess = sat - units["ambient_f"]
    small = units["service"].isin(SMALL_LOADS)
    leg = rng.uniform(0.0, np.where(small, 0.04, 0.02)) * excess
    inlet = airy - kept * below - np.where(units["state"] == "failed_open", 0.3, 1.0) * leg
    behind = np.minimum(inlet, steam.saturation_f(units["outlet_psia"]))
    cycling = ~units["trap_type"].isin(["float_thermostatic", "fixed_orifice"])
    mean_loss = np.where(cycling, 0.10, 0.045) * np.where(small, 1.7, 1.0)
    mean_loss = np.select(
        [units["state"] == "failed_open", units["state"] == "leaking"], [0.015, 0.03], mean_loss
    )
    lost = rng.beta(2.0, 2.0 / mean_loss - 2.0)
    return inlet, behind - lost * (behind - units["ambient_f"])


def _standing(rng, units):
    count = len(units)
    ambient, sat = units["ambient_f"], units["saturation_f"]
    kinds = [
        units["cause"] == "valved_off",
        units["cause"] == "air_vent",
        units["state"] == "backed_up",
    ]
    warm = np.select(
        kinds, [rng.beta(1.2, 10, count), rng.beta(2.5, 3.5, count), rng.beta(5, 2.7, count)],
        rng.beta(2.5, 3.0, count),
    )
    # A lift that almost makes it lets some condensate through and stays warmer.
    nearly = (units["cause"] == "lift") & (units["spare_psi"] > -1.0)
    warm = np.where(nearly, warm + (1 - warm) * rng.uniform(0.3, 0.8, count), warm)
    inlet = ambient + warm * (sat - ambient)
    carried = np.select(
        kinds,
        [rng.uniform(0.3, 1, count), rng.uniform(0.5, 0.95, count), rng.uniform(0.7, 0.97, count)],
        rng.uniform(0.1, 0.5, count),
    )
    outlet = ambient + carried * (inlet - ambient)
    reach = np.where(units["has_check"], 0.25, 0.6)
    reheated = units["return_steamy"] & (rng.random(count) < reach)
    from_return = ambient + rng.uniform(0.3, 0.85, count) * (units["return_saturation_f"] - ambient)
    return inlet, np.where(reheated, np.maximum(outlet, from_return), outlet)


class Thermometers:
    """What the plant's thermometers make of a true temperature. Holds the plant's own draws."""

    def __init__(self, rng: np.random.Generator, units: pd.DataFrame, mix: tuple[float, ...]):
        self._rng = rng
        count = len(units)
        stations = units["station_number"].max() + 1
        technician = rng.normal(0.965, 0.012)
        share = np.minimum(technician + rng.normal(0.0, 0.006, stations), 0.998)
        self._share = share[units["station_number"]]
        by_area = rng.choice(4, units["area_number"].max() + 1, p=mix)[units["area_number"]]
        surface = np.where(rng.random(count) < 0.6, by_area, rng.choice(4, count, p=mix))
        low, high = np.array(SURFACES)[surface].T
        emissivity = rng.uniform(low, high)
        taped = (surface >= 2) & (rng.random(count) < TAPED_SHARE)
        self.emissivity = np.where(taped, rng.uniform(0.93, 0.96, count), emissivity)
        self._reflected = units["ambient_f"].to_numpy() + rng.normal(6.0, 7.0, count)
        self._outside_spot = rng.uniform(0.0, 0.12, count)
        self._infrared = (units["thermometer"] == "infrared").to_numpy()
        self._ambient = units["ambient_f"].to_numpy()

    def read(self, true_f: np.ndarray, rows: np.ndarray) -> np.ndarray:
        """Readings, whole °F, of pipes that sit on units `rows`; slips included."""
        ambient = self._ambient[rows]
        contact = ambient + self._share[rows] * (true_f - ambient)
        seen = np.where(self._infrared[rows], self._apparent(true_f, rows), contact)
        count = len(rows)
        seen = seen + 0.010 * (seen - ambient) * self._rng.standard_t(3, count)
        seen = seen + 1.2 * self._rng.standard_t(4, count)
        return _slips(self._rng, np.round(seen), ambient)

    def _apparent(self, true_f, rows):
        inside = 1 - self._outside_spot[rows]
        emissivity = self.emissivity[rows] * (1 + self._rng.normal(0, 0.02, len(rows)))
        signal = emissivity * _radiance(true_f) + (1 - emissivity) * _radiance(
            self._reflected[rows]
        )
        signal = inside * signal + (1 - inside) * _radiance(self._ambient[rows])
        back = signal - (1 - GUN_EMISSIVITY) * _radiance(self._ambient[rows])
        kelvin = _HC_OVER_K_UM / _BAND_UM / np.log1p(GUN_EMISSIVITY / np.maximum(back, 1e-6))
        return kelvin * 1.8 - 459.67


def _radiance(temp_f):
    """Planck's law at one wavelength, less its constant."""
    kelvin = (temp_f + 459.67) / 1.8
    return 1.0 / np.expm1(_HC_OVER_K_UM / (_BAND_UM * kelvin))


def _slips(rng, read, ambient):
    count = len(read)
    wrong_pipe = rng.random(count) < 0.012
    other = np.round(ambient + rng.uniform(0, 1, count) * (np.nanmax(read) - ambient))
    read = np.where(wrong_pipe, other, read)
    turned = np.flatnonzero((rng.random(count) < 0.006) & (read >= 100) & (read < 1000))
    for i in turned:
        a, b, c = f"{int(read[i]):03d}"
        # 287 written as 278; a first digit turned round would read as no pipe does.
        read[i] = int(a + c + b)
    return read
