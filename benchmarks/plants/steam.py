"""Steam and water figures the simulated plants are made with; shares no code with `survey`.

Saturation line: IAPWS R7-97(2012), region 4, equations 30 and 31.
Choked flow: Rateau's formula. Flow below the critical ratio: isentropic nozzle, k = 1.135.
Latent heat: Watson's relation through 970.3 Btu/lb at 212 °F.
"""

from __future__ import annotations

import numpy as np

_N = (
    0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5,
    -0.32325550322333e7, 0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6,
    -0.23855557567849, 0.65017534844798e3,
)  # fmt: skip
_PSI_PER_MPA = 145.0377377
_CRITICAL_F = 705.1
_K = 1.135
CRITICAL_RATIO = (2 / (_K + 1)) ** (_K / (_K - 1))


def saturation_f(pressure_psia):
    """Saturation temperature, °F."""
    root = (np.maximum(pressure_psia, 0.2) / _PSI_PER_MPA) ** 0.25
    e = root**2 + _N[2] * root + _N[5]
    f = _N[0] * root**2 + _N[3] * root + _N[6]
    g = _N[1] * root**2 + _N[4] * root + _N[7]
    d = 2 * g / (-f - np.sqrt(f**2 - 4 * e * g))
    kelvin = (_N[9] + d - np.sqrt((_N[9] + d) ** 2 - 4 * (_N[8] + _N[9] * d))) / 2
    return kelvin * 1.8 - 459.67


def latent_btu_per_lb(temp_f):
    """Latent heat at saturation temperature, within 2 % from 200 to 400 °F."""
    return 970.3 * ((_CRITICAL_F - temp_f) / (_CRITICAL_F - 212.0)) ** 0.38


def flash_share(upstream_f, downstream_f):
    """Share of saturated condensate that turns to steam when let down; 0 when it is colder."""
    heat = 1.02 * np.maximum(upstream_f - downstream_f, 0.0)  # 1.02 Btu/lb°F, hot water
    return heat / latent_btu_per_lb(downstream_f)


def atmosphere_psia(altitude_ft):
    """Air pressure in the US Standard Atmosphere 1976."""
    return 14.696 * (1 - 6.8756e-6 * altitude_ft) ** 5.2559


def head_psi(lift_ft, water_f=200.0):
    """Head of a column of hot water; 2.31 ft/psi at 60 °F, 2.40 at 207 °F (water's density)."""
    return lift_ft / (2.309 + 0.00065 * np.maximum(water_f - 60.0, 0.0))


def flux_lb_per_h_in2(upstream_psia, downstream_psia):
    """Dry saturated steam through one square inch at a discharge coefficient of 1."""
    p1 = np.maximum(upstream_psia, 0.2)
    choked = 3.6 * p1 * (16.367 - 0.96 * np.log10(p1))
    ratio = np.clip(downstream_psia / p1, CRITICAL_RATIO, 1.0)
    return choked * _nozzle(ratio) / _nozzle(CRITICAL_RATIO)


def _nozzle(ratio):
    return np.sqrt(np.maximum(ratio ** (2 / _K) - ratio ** ((_K + 1) / _K), 0.0))


def condensate_capacity_lb_per_h(bore_in, difference_psi, coefficient=0.65):
    """Hot condensate through a bore: orifice equation for water, derated for flashing.

    1891 d² C sqrt(dp rho) is Crane TP-410's form; the derating of 0.35 is common practice
    for condensate near saturation, no source.
    """
    return 0.35 * 1891 * coefficient * bore_in**2 * np.sqrt(58.0 * np.maximum(difference_psi, 0.1))
