"""The work list: upstream before trap, and under each repair the units that it explains."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from survey.columns import UNDECIDED
from survey.diagnosis.equipment import equipment_of
from survey.physics.saturation import saturation_f
from survey.plant.air import air_bound
from survey.plant.common import WHOLE_ROUND, CommonCause
from survey.plant.faults import FAULT_BY_NAME
from survey.plant.units import numbers_of, text_of, units_of
from survey.plant.wording import DEVICE_WORDS, listed, place_words
from survey.site import Site

LEVELS = (
    "for many at once",
    "valves that are shut",
    "air vents and vacuum breakers",
    "check valves and returns",
    "traps",
    "one more reading needed",
)
GROUPED = ("lift", "return", "gauge")
"""Shared causes that are one repair, with the units under it."""
_LEVEL_OF_DEVICE = {"air_vent": 2, "vacuum_breaker": 2, "check_valve": 3, "trap": 4}
CAUSE_OF_DEVICE = {"air_vent": "air_vent", "check_valve": "check_valve"}
"""The cause of what a trap does that a device can be; the others are never one."""


@dataclass(frozen=True)
class WorkLine:
    """One repair.

    Parameters
    ----------
    level
        Position in `LEVELS`: what is upstream comes first.
    tag
        The device to work on; '' where it is not in the round or not judged faulty, or is a
        whole place.
    parts
        What to bring: type and bore, '' where nothing is known to be needed.
    read_again
        What to read afterwards, and what it should show.
    explains
        Tags of the units that this repair explains; they have no line of their own.
    annual_cost, annual_cost_low, annual_cost_high
        Live steam that goes on being lost in a year until it is done, in the site's currency.
    heat_back_btu_per_h
        Heat that it brings back; NaN where that is not known or not what it is about.
    """

    level: int
    tag: str
    station: str
    area: str
    where: str
    what: str
    why: str
    parts: str
    read_again: str
    explains: tuple[str, ...]
    confidence: float
    annual_cost: float
    annual_cost_low: float
    annual_cost_high: float
    heat_back_btu_per_h: float


def work_list(
    findings: pd.DataFrame, *, site: Site, common: Sequence[CommonCause] = ()
) -> list[WorkLine]:
    """Make the work list of a judged round.

    Lines are ordered by level, then by how many units a repair explains, the heat it brings
    back, its cost, and its tag. Every device that is not working is on one line or under one.

    Parameters
    ----------
    common
        Shared causes found by `common.common_causes`: those that are one repair head the list.
    """
    maker = _Maker(findings, site)
    lines = [maker.shared(cause) for cause in common if cause.fault in GROUPED]
    due = np.flatnonzero(maker.state != "working")
    upstream = due[maker.device[due] != "trap"]
    lines += [maker.device_line(int(i)) for i in upstream]
    lines += [maker.trap_line(int(i)) for i in due if maker.device[i] == "trap" and i in maker.free]
    return sorted(lines, key=_order)


def _order(line: WorkLine) -> tuple[int, int, float, float, str]:
    heat = 0.0 if np.isnan(line.heat_back_btu_per_h) else line.heat_back_btu_per_h
    return (line.level, -len(line.explains), -heat, -line.annual_cost, line.tag)


class _Maker:
    """Makes lines, and keeps which traps are still without one."""

    def __init__(self, findings: pd.DataFrame, site: Site) -> None:
        names = ("tag", "device", "station", "area", "equipment", "state", "cause", "action",
                 "evidence", "trap_type")  # fmt: skip
        for name in names:
            setattr(self, name, text_of(findings, name))
        self.tag: np.ndarray
        self.device: np.ndarray
        self.station: np.ndarray
        self.area: np.ndarray
        self.equipment: np.ndarray
        self.state: np.ndarray
        self.cause: np.ndarray
        self.action: np.ndarray
        self.evidence: np.ndarray
        self.trap_type: np.ndarray
        self.bore_in = numbers_of(findings, "orifice_in")
        self.confidence = np.nan_to_num(numbers_of(findings, "confidence"))
        self.cost = {
            end: np.nan_to_num(numbers_of(findings, f"annual_cost{end}"))
            for end in ("", "_low", "_high")
        }
        self.air = {one.tag: one for one in air_bound(findings, site=site)}
        self.inlet = _expected_inlets(findings, site)
        faulty = (self.device == "trap") & (self.state != "working")
        self.free = set(np.flatnonzero(faulty).tolist())
        self.heater = equipment_of(findings)
        self._victims = self._by_heater()

    def _by_heater(self) -> dict[tuple[int, str], list[int]]:
        found: dict[tuple[int, str], list[int]] = {}
        for i in self.free:
            if self.heater[i] >= 0 and self.cause[i] in CAUSE_OF_DEVICE.values():
                found.setdefault((self.heater[i], self.cause[i]), []).append(i)
        return found

    def shared(self, cause: CommonCause) -> WorkLine:
        """Make the line of a cause that many units share."""
        tags = set(cause.explains)
        # A gauge touches every unit of its station, and excuses none.
        held = sorted(self.free) if cause.fault != "gauge" else []
        mine = [i for i in held if self.tag[i] in tags]
        self.free -= set(mine)
        title = FAULT_BY_NAME[cause.fault].title if cause.fault in FAULT_BY_NAME else "Gauge"
        group = "the whole round" if cause.group_kind == WHOLE_ROUND else cause.group
        return self._line(
            0, "", cause.group if cause.group_kind == "station" else "",
            cause.group if cause.group_kind == "area" else "",
            f"{cause.group_kind} {group}".replace("whole round the", "the"),
            f"{title}. {cause.check_first}", cause.words, "",
            f"{listed(cause.explains)}, once done." if cause.explains else "",
            mine, 1.0 - (0.0 if np.isnan(cause.chance) else cause.chance),
        )  # fmt: skip

    def device_line(self, i: int) -> WorkLine:
        """Make the line of a vent, breaker or check valve, its victims under it."""
        key = (self.heater[i], CAUSE_OF_DEVICE.get(self.device[i], "-"))
        undecided = self.state[i] == UNDECIDED
        mine = [] if undecided else [v for v in self._victims.get(key, []) if v in self.free]
        self.free -= set(mine)
        level = _LEVEL_OF_DEVICE[self.device[i]]
        level = 1 if self.state[i] == "isolated" else 5 if undecided else level
        return self._of_row(i, level, mine, self._device_parts(i))

    def trap_line(self, i: int) -> WorkLine:
        """Make the line of a trap that nothing before it on the list explains."""
        self.free.discard(i)
        cause = self.cause[i]
        level = {"valved_off": 1, "air_vent": 2, "check_valve": 3, "lift": 3}.get(cause, 4)
        level = 5 if self.state[i] == UNDECIDED else level
        parts = self._trap_parts(i) if cause == "trap" else ""
        if cause in CAUSE_OF_DEVICE:  # the device to blame has no line that this could stand under
            named = f"{DEVICE_WORDS[cause]}, {self._why_unseen(i, cause)}"
            return self._of_row(i, level, [i], named, of_device=False)
        return self._of_row(i, level, [], parts)

    def _why_unseen(self, i: int, cause: str) -> str:
        same = (self.heater == self.heater[i]) & (self.device == cause) & (self.heater >= 0)
        if not same.any():
            return "not in the round"
        read = [
            f"{self.tag[j]} is {'' if self.state[j] == UNDECIDED else 'judged '}{self.state[j]}"
            for j in np.flatnonzero(same)
        ]
        return f"though {listed(read)}: try it once more"

    def _of_row(
        self, i: int, level: int, mine: list[int], parts: str, *, of_device: bool = True
    ) -> WorkLine:
        why = self.evidence[i]
        if mine and of_device:
            why += f" {self.tag[mine[0]]}: {self.evidence[mine[0]]}"
        return self._line(
            level, self.tag[i] if of_device else "", self.station[i], self.area[i],
            place_words(self.area[i], self.equipment[i]), self.action[i], why, parts,
            self._read_again(i, mine), mine, float(self.confidence[i]), own=i,
        )  # fmt: skip

    def _line(
        self, level: int, tag: str, station: str, area: str, where: str, what: str, why: str,
        parts: str, read_again: str, mine: list[int], confidence: float, *, own: int | None = None,
    ) -> WorkLine:  # fmt: skip
        rows = sorted({*mine, *([] if own is None else [own])})
        heat = [self.air[self.tag[i]].heat_back_btu_per_h for i in rows if self.tag[i] in self.air]
        known = [value for value in heat if not np.isnan(value)]
        cost, low, high = (float(self.cost[end][rows].sum()) for end in ("", "_low", "_high"))
        return WorkLine(
            level, str(tag), str(station), str(area), where, str(what), str(why).strip(),
            parts, read_again,
            tuple(str(self.tag[i]) for i in mine), confidence, cost, low, high,
            sum(known) if known else float("nan"),
        )  # fmt: skip

    def _read_again(self, i: int, mine: list[int]) -> str:
        traps = mine or ([i] if self.device[i] == "trap" else [])
        if not traps:
            return f"{self.tag[i]}: look at it again once done."
        inlet = self.inlet.get(self.tag[traps[0]], float("nan"))
        names = listed([str(self.tag[v]) for v in traps])
        hot = "" if np.isnan(inlet) else f"; its pipe should come to about {inlet:.0f} °F"
        return f"{names}: inlet, outlet and sound, once hot{hot}."

    def _device_parts(self, i: int) -> str:
        if self.state[i] in ("isolated", UNDECIDED):
            return ""
        return f"{DEVICE_WORDS[self.device[i]]}, size not in the round"

    def _trap_parts(self, i: int) -> str:
        kind = self.trap_type[i].replace("_", " ") or "type not recorded"
        bore = self.bore_in[i]
        size = "bore not recorded: read its plate" if np.isnan(bore) else f"{bore:.4g} in bore"
        return f"trap, {kind}, {size}"


def _expected_inlets(findings: pd.DataFrame, site: Site) -> dict[str, float]:
    units = units_of(findings, site)
    inlet = saturation_f(pressure_psia=units.supply_psia) - units.subcooling_f
    return dict(zip(map(str, units.tag), inlet.tolist(), strict=True))

