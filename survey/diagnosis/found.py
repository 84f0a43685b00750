"""What the round told of its instruments, in a technician's words."""

from __future__ import annotations

from typing import Any

import numpy as np

from survey.diagnosis.calibration import Calibration
from survey.diagnosis.instruments import INFRARED, SURFACE
from survey.diagnosis.intake import Intake

GUESSED = (
    " No thermometer is named; the readings lie as a gun's do. If it was a contact probe, say so "
    "under thermometer."
)


def calibration_words(calibration: Calibration, intake: Intake) -> list[dict[str, Any]]:
    """Return each estimate: what, group, value, low, high (10-90 %), unit and words."""
    result = []
    rows = intake.rows
    for station, name in enumerate(intake.gaps.stations):
        mine = rows.station == station
        result += _thermometers(calibration, mine, rows.thermometer, station, name)
        result += _gauge(calibration, station, name)
    if calibration.unnamed_thermometer == INFRARED and result:
        result[0]["words"] += GUESSED
    heard = ~np.isnan(rows.sound_db)
    if heard.any():
        result.append(_meter(calibration, rows.background_db[heard]))
    return result


def _place(name: str) -> str:
    return f"at station {name}" if name else "on this round"


def _thermometers(
    calibration: Calibration, mine: np.ndarray, thermometer: np.ndarray, station: int, name: str
) -> list[dict[str, Any]]:
    instruments = calibration.instruments
    result = []
    infrared = mine & (thermometer == INFRARED)
    contact = mine & (thermometer != INFRARED)
    if contact.any() and instruments.read[station] > 0:
        value, spread = float(instruments.share[station]), float(instruments.share_spread[station])
        result.append(_estimate("contact thermometer", name, value, 1.28 * spread * value))
    if infrared.any():
        chance = instruments.surfaces[station]
        below = np.cumsum(chance)
        value = float(chance @ SURFACE)
        low, high = (
            float(SURFACE[min(int(np.searchsorted(below, part)), len(SURFACE) - 1)])
            for part in (0.1, 0.9)
        )
        # Where one surface of the grid has nearly all, its mean lies beside it.
        low, high = min(low, value), max(high, value)
        result.append(
            {
                "what": "infrared thermometer",
                "group": name,
                "value": value,
                "low": low,
                "high": high,
                "unit": "share of saturation",
                "words": (
                    f"The infrared gun read about {100 * (1 - value):.0f} % low {_place(name)} "
                    f"(surfaces from {100 * (1 - high):.0f} % to {100 * (1 - low):.0f} %)."
                ),
            }
        )
    return result


def _estimate(what: str, name: str, value: float, half: float) -> dict[str, Any]:
    low, high = value - half, value + half
    off = 100 * abs(1 - value)
    read = "true" if off < 0.5 else f"about {off:.0f} % {'low' if value < 1 else 'high'}"
    words = f"The {what} read {read} {_place(name)} (between {_signed(high)} and {_signed(low)})."
    return {
        "what": what,
        "group": name,
        "value": value,
        "low": low,
        "high": high,
        "unit": "share of saturation",
        "words": words,
    }


def _signed(share: float) -> str:
    return f"{100 * abs(1 - share):.1f} % {'low' if share < 1 else 'high'}"


def _gauge(calibration: Calibration, station: int, name: str) -> list[dict[str, Any]]:
    instruments = calibration.instruments
    wrong, shift = (
        float(instruments.gauge_wrong[station]),
        float(instruments.gauge_shift_psi[station]),
    )
    if instruments.read[station] == 0 or wrong <= 0.5:
        return []
    side = "low" if shift > 0 else "high"
    also = ", or the steam is superheated" if shift > 0 else ""
    half = abs(shift) * 0.3 + 1.0
    return [
        {
            "what": "gauge",
            "group": name,
            "value": shift,
            "low": shift - half,
            "high": shift + half,
            "unit": "psi to add",
            "words": (
                f"The gauge {_place(name)} seems to read about {abs(shift):.0f} psi {side}{also} "
                f"(chance {100 * wrong:.0f} %); verdicts and losses use the corrected pressure. "
                "Check it against a good gauge."
            ),
        }
    ]


def _meter(calibration: Calibration, background_db: np.ndarray) -> dict[str, Any]:
    model = calibration.model
    read = int((~np.isnan(background_db)).sum())
    source = (
        f"from {read} background readings"
        if read >= 3
        else "from the quiet units, few or no backgrounds were read"
    )
    half = 1.28 * model.background_spread_db
    return {
        "what": "ultrasonic background",
        "group": "",
        "value": model.background_db,
        "low": model.background_db - half,
        "high": model.background_db + half,
        "unit": "dB",
        "words": (
            f"The usual background on this meter is {model.background_db:.0f} dB ({source}); "
            f"a jet of 10 lb/h is heard about {model.jet_db:.0f} dB over it."
        ),
    }
