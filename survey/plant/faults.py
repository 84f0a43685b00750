"""Faults that many units may share: who can have each, who has it, and what is said of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from survey.columns import UNDECIDED
from survey.plant.air import SHUT_STATES
from survey.plant.units import text_of


@dataclass(frozen=True)
class Seen:
    """The columns of a findings table that shared faults are looked for in, (n,) each."""

    tag: np.ndarray
    device: np.ndarray
    area: np.ndarray
    equipment: np.ndarray
    state: np.ndarray
    cause: np.ndarray

    @classmethod
    def of(cls, findings: pd.DataFrame) -> Seen:
        """Take them from a findings table."""
        names = ("tag", "device", "area", "equipment", "state", "cause")
        return cls(*(text_of(findings, name) for name in names))

    def judged(self, device: str) -> np.ndarray:
        """Mark the devices of one kind that a state was found for."""
        return np.asarray((self.device == device) & (self.state != UNDECIDED))

    def both(self, *masks: np.ndarray) -> np.ndarray:
        """Mark the rows for which every mask holds."""
        return np.asarray(np.logical_and.reduce(masks))


@dataclass(frozen=True)
class Fault:
    """One fault that may be shared.

    Parameters
    ----------
    usual
        Share of devices that have it in an ordinary plant, on the high side: what the whole
        round is held against. Common practice, no source, unless said otherwise.
    can, has
        Mark who could have it, and who has it.
    victim
        Marks the traps that it explains.
    title, noun
        What it is called, and what has it.
    check_first
        What to look at before anything else.
    """

    name: str
    usual: float
    can: Callable[[Seen], np.ndarray]
    has: Callable[[Seen], np.ndarray]
    victim: Callable[[Seen], np.ndarray]
    title: str
    noun: tuple[str, str]
    check_first: str


def _trap(seen: Seen) -> np.ndarray:
    return seen.judged("trap")


def _backed(seen: Seen) -> np.ndarray:
    return seen.both(_trap(seen), seen.state == "backed_up")


def _lifted(seen: Seen) -> np.ndarray:
    return seen.both(_backed(seen), seen.cause == "lift")


def _held(seen: Seen) -> np.ndarray:
    return seen.both(_backed(seen), seen.cause != "lift")


def _air_bound(seen: Seen) -> np.ndarray:
    return seen.both(_trap(seen), seen.state == "cold", seen.cause == "air_vent")


def _shut_vent(seen: Seen) -> np.ndarray:
    return seen.both(seen.judged("air_vent"), np.isin(seen.state, SHUT_STATES))


def _stuck(seen: Seen) -> np.ndarray:
    return seen.both(seen.judged("check_valve"), seen.state == "stuck")


def _behind_check(seen: Seen) -> np.ndarray:
    return seen.both(_backed(seen), seen.cause == "check_valve")


def _valved_off(seen: Seen) -> np.ndarray:
    return seen.both(_trap(seen), seen.cause == "valved_off")


def _lifeless(seen: Seen) -> np.ndarray:
    unexplained = seen.both(seen.state == "cold", seen.cause == "unknown")
    return seen.both(_trap(seen), unexplained | (seen.state == "failed_closed"))


def _passing(seen: Seen) -> np.ndarray:
    return seen.both(_trap(seen), np.isin(seen.state, ("leaking", "failed_open")))


FAULTS: tuple[Fault, ...] = (
    Fault(
        "lift", 0.03, _trap, _lifted, _lifted, "The pressure is too low for the lift",
        ("trap stands back for its lift", "traps stand back for their lift"),
        "Read the pressure at the unit farthest from the station, and ask whether it was lowered "
        "lately; only then look at the returns' rise.",
    ),
    Fault(
        "return", 0.04, _trap, _held, _held, "The return main is backed up",
        ("trap stands back", "traps stand back"),
        "Read the pressure in the return at its far end and at the receiver; look for a shut "
        "valve, a stopped pump or a full receiver, and for a blown trap that fills it with steam.",
    ),
    Fault(
        "vents", 0.13, lambda s: s.judged("air_vent"), _shut_vent, _air_bound,
        "The air vents are shut", ("air vent is shut or missing", "air vents are shut or missing"),
        "Ask who shut them and why before any is opened: it was somebody's decision.",
    ),
    Fault(
        "air", 0.08, _trap, _air_bound, _air_bound, "The heaters are air-bound",
        ("trap is cold for want of venting", "traps are cold for want of venting"),
        "Look for vents that are shut, missing or were never fitted.",
    ),
    Fault(
        "checks", 0.10, lambda s: s.judged("check_valve"), _stuck, _behind_check,
        "The check valves are stuck", ("check valve is stuck", "check valves are stuck"),
        "Open one, look for scale or dirt, and read the pressure in the return: a return that is "
        "backed up looks the same from outside.",
    ),
    Fault(
        "valved_off", 0.05, _trap, _valved_off, _valved_off, "Units are valved off together",
        ("trap is valved off", "traps are valved off"),
        "Ask whether that part of the plant is meant to be off.",
    ),
    Fault(
        "no_steam", 0.12, _trap, _lifeless, _lifeless, "Units get no steam together, or pass none",
        ("trap is cold or passes nothing", "traps are cold or pass nothing"),
        "See that steam comes to them at all before any trap is changed: behind one stop valve, "
        "or a reducing station, that is shut every trap looks stuck shut.",
    ),
    Fault(
        "passing", 0.30, _trap, _passing, _passing, "Traps wear out together",
        ("trap passes live steam", "traps pass live steam"),
        "Look at the strainers, at how steam is let in (water hammer), and at the age, make and "
        "size of those traps before the same ones are bought again.",
    ),
)  # fmt: skip
"""That 15 to 30 % of traps fail in three to five years unattended is from US DOE AMO Steam Tip
Sheet 1; the other usual shares are common practice, no source."""
FAULT_BY_NAME = {fault.name: fault for fault in FAULTS}
SAME_UNITS = (("vents", "air"), ("return", "checks"))
"""Faults that are two sides of one: where both are found in the same place, one is said."""
