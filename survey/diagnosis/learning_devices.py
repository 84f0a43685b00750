"""How one look at the round moves what vents, breakers and check valves are expected to show."""

from __future__ import annotations

import numpy as np

from survey.columns import CHECK_STATES, OBSERVATIONS, PATTERNS, PRESENCES, VALVE_POSITIONS
from survey.diagnosis import companions
from survey.diagnosis.companion_looks import (
    AIR_WAY,
    FLOODED_WAY,
    LIFELESS_BY_DEVICE,
    SILENT_WAYS,
)
from survey.diagnosis.companions import DeviceModel, levels
from survey.diagnosis.device_there import shows_itself
from survey.diagnosis.learning import count_codes, robust, spread_of
from survey.diagnosis.likelihood import student
from survey.diagnosis.model import Model
from survey.diagnosis.priors import GROSS_TEMPERATURE
from survey.diagnosis.rows import Conditions, Rows
from survey.diagnosis.sound_levels import background_of
from survey.physics.sound import add_two_levels_db


def learn_device(
    kind: DeviceModel,
    model: Model,
    chance: np.ndarray,
    lifeless: np.ndarray,
    left: np.ndarray,
    gone: np.ndarray,
    rows: Rows,
    state: Conditions,
) -> None:
    """Move one kind of device's looks by the chances of its states, (n, states).

    Parameters
    ----------
    lifeless
        Chance that no heat or flow comes by each device in each way, or a jet by a check valve, in
        each state, (n, states, ways): it then teaches nothing of its temperatures, and in the
        ways of `SILENT_WAYS` nothing at all.
    left
        Chance that each device's trap leaves it without heat or flow, in each way, (n, ways).
    gone
        Chance that it is without if its trap leaves it so, by its own readings, (n, ways).
    """
    fresh = DeviceModel.prior(kind.device)
    silent = lifeless[..., SILENT_WAYS[kind.device]].sum(axis=-1)
    lifeless = lifeless.sum(axis=-1)
    # A device that nothing is heard or seen of does not tell how common any state is.
    telling = 1.0 - (chance * silent).sum(axis=1, keepdims=True)
    moved = (telling * chance).sum(axis=0) + companions.RATE_WEIGHT * fresh.rates
    rates = np.clip(moved / moved.sum(), kind.least_rates, kind.most_rates)
    kind.rates = rates / rates.sum()
    alive, heard = chance * (1.0 - lifeless), chance * (1.0 - silent)
    weight = _weights_of_words(kind.device, fresh, rows.observed)
    kind.observed = _words(rows.observed, heard, len(OBSERVATIONS), fresh.observed, weight)
    kind.pattern = _words(
        rows.pattern, heard, len(PATTERNS), fresh.pattern, companions.PATTERN_WEIGHT
    )
    inlet, outlet, blur = levels(kind, rows, state)
    _learn_notes(kind, fresh, model, rows, state, inlet, chance, lifeless)
    # The surer of its state a device is the more it teaches: the many that work, each a little
    # likely to be something else, would else teach what that looks like.
    sure = alive * chance
    _learn_side(kind, fresh, "inlet", inlet[:, None], sure)
    outlet = np.where(blur < companions.CLEAR_BLUR, outlet, np.nan)
    past_shut = (rows.outlet_f - rows.ambient_f) / state.span_f
    outlets = np.where(kind.by_valve, past_shut[:, None], outlet[:, None])
    _learn_side(kind, fresh, "outlet", outlets, sure)
    if kind.device == "check_valve":
        _keep_apart(kind)
    _learn_source(kind, fresh, model, rows, heard)
    told_by = rows.outlet_f if kind.device == "check_valve" else inlet
    _learn_lifeless(kind, fresh, inlet, told_by, chance, left, gone)


def _learn_lifeless(
    kind: DeviceModel,
    fresh: DeviceModel,
    inlet: np.ndarray,
    told_by: np.ndarray,
    chance: np.ndarray,
    left: np.ndarray,
    gone: np.ndarray,
) -> None:
    """Move how often a device shows that it was left without heat or flow, and how warm it is then.

    Parameters
    ----------
    inlet, told_by
        Its inlet's share of the way to saturation, and the reading that tells, (n,) each.
    """
    left = left * ~np.isnan(told_by)[:, None]
    hit = (left * gone).sum(axis=0) + companions.COOLED_WEIGHT * fresh.cooled
    often = hit / (left.sum(axis=0) + companions.COOLED_WEIGHT)
    kind.cooled = np.clip(often, *companions.COOLED_RANGE)
    if kind.device == "check_valve":
        return  # its inlet is not compared
    told, own, before = left * gone, kind.inlet, 1.0 / companions.WARMTH_DOUBT**2
    for way, ((_, spread), _) in enumerate(LIFELESS_BY_DEVICE[kind.device].ways):
        miss = inlet[:, None] - kind.warmth[way] * own
        sure = told[:, way, None] * chance * robust(miss, spread * own) / (spread * own) ** 2
        moved = np.nansum(sure * own * inlet[:, None]) + before * fresh.warmth[way]
        kind.warmth[way] = moved / ((sure * own**2).sum() + before)
    # Air gathers where it should leave: no flooded heater's is the colder place.
    flooded, air = FLOODED_WAY, AIR_WAY
    kind.cooled[air] = max(kind.cooled[air], kind.cooled[flooded])
    kind.warmth[air] = min(kind.warmth[air], kind.warmth[flooded])


def _learn_notes(
    kind: DeviceModel,
    fresh: DeviceModel,
    model: Model,
    rows: Rows,
    state: Conditions,
    inlet: np.ndarray,
    chance: np.ndarray,
    lifeless: np.ndarray,
) -> None:
    """Move what notes of a shut valve, and of nothing fitted, are worth against what was read.

    How often steam stands right before a shut valve is told by valves that are noted as closed,
    those that nobody noted left out: good vents would teach it. And as many of the hot ones do not
    count as are noted so by mistake.
    """
    kind.closed = np.where(kind.by_valve, fresh.closed, model.closed_misread)
    kind.absent = np.where(kind.by_absence, fresh.absent, model.absent_misread)
    for shut in np.flatnonzero(kind.by_valve).tolist():
        spread = np.hypot(kind.inlet_spread, kind.inlet_doubt)[[0, shut]]
        likely = student(inlet[:, None] - kind.inlet[[0, shut]], spread, GROSS_TEMPERATURE)
        hot = likely[:, 0] / likely.sum(axis=1)
        telling = (1.0 - lifeless[:, shut]) * ~np.isnan(inlet)
        by_mistake = model.closed_misread * (telling * chance[:, 0]).sum()
        closed = rows.valve == VALVE_POSITIONS.index("closed")
        kind.hot_before_shut = _share_noted(
            (telling * hot)[closed].sum() - by_mistake, telling[closed].sum(),
            companions.HOT_BEFORE_SHUT,
        )  # fmt: skip
    if kind.by_absence.any():
        there, absent = shows_itself(rows, state), rows.present == PRESENCES.index("no")
        by_mistake = model.absent_misread * there.sum()
        kind.read_though_missing = _share_noted(
            (there & absent).sum() - by_mistake, absent.sum(), companions.READ_THOUGH_MISSING
        )


def _share_noted(found: float, count: float, usual: float) -> float:
    weight = companions.NOTED_WEIGHT
    share = (max(found, 0.0) + weight * usual) / (count + weight)
    return float(np.clip(share, *companions.NOTED_RANGE))


def _weights_of_words(device: str, fresh: DeviceModel, observed: np.ndarray) -> np.ndarray:
    """Return how many devices the usual words of each state count as, (states, 1).

    What a check valve gives hangs on how it is tried: bled behind a shut trap one that works gives
    nothing, watched in use it gives water. The more of them give water than could all let it back,
    the more the round tells its own words.
    """
    weight = fresh.observed_weight.copy()
    if device == "check_valve":
        water = (observed == OBSERVATIONS.index("water")).sum()
        share = water / ((observed >= 0).sum() + companions.TRIED_WEIGHT)
        working = CHECK_STATES.index("working")
        usual = np.log([weight[working], companions.USED_WEIGHT])
        weight[working] = np.exp(np.interp(share, companions.GIVING_WATER, usual))
    return weight[:, None]


def _words(
    code: np.ndarray, chance: np.ndarray, kinds: int, fresh: np.ndarray, weight: np.ndarray | float
) -> np.ndarray:
    seen = code >= 0
    table = count_codes(code[seen], chance[seen], kinds) + weight * fresh
    result: np.ndarray = table / table.sum(axis=1, keepdims=True)
    return result


def _learn_side(
    kind: DeviceModel, fresh: DeviceModel, side: str, level: np.ndarray, chance: np.ndarray
) -> None:
    spread, doubt = getattr(kind, f"{side}_spread"), getattr(kind, f"{side}_doubt")
    blur = np.hypot(spread, doubt)
    weight = chance * robust(level - getattr(kind, side), blur) / spread**2
    doubts = getattr(fresh, f"{side}_doubt")
    sure = 1.0 / doubts**2
    told = np.nansum(weight * level, axis=0) + sure * getattr(fresh, side)
    known = weight.sum(axis=0) + sure
    usual = getattr(fresh, side)
    # A pipe behind a shut valve conducts what it does: that outlet is the plant's, however far off.
    past_shut = 2.0 if side == "inlet" else np.inf
    most = np.where(kind.by_valve, past_shut, 1.0) * doubts
    centre = np.clip(told / known, usual - most, usual + most)
    setattr(kind, side, centre)
    setattr(kind, f"{side}_doubt", 1.0 / np.sqrt(known))
    prior = getattr(fresh, f"{side}_spread")
    moved = spread_of(
        level - centre,
        chance,
        blur,
        prior,
        companions.TEMPERATURE_WEIGHT,
        least=companions.LEAST_SPREAD[kind.device],
    )
    setattr(kind, f"{side}_spread", moved)


def _keep_apart(kind: DeviceModel) -> None:
    """Keep the pipe behind a check valve that passes back hotter than behind one that works."""
    works, back = (CHECK_STATES.index(name) for name in ("working", "passing_back"))
    least = kind.outlet[works] + companions.BACK_OVER_WORKING
    kind.outlet[back] = max(kind.outlet[back], least)
    kind.outlet_spread[back] = max(kind.outlet_spread[back], kind.outlet_spread[works])


def _learn_source(
    kind: DeviceModel, fresh: DeviceModel, model: Model, rows: Rows, chance: np.ndarray
) -> None:
    background, _ = background_of(model, rows)
    expected = add_two_levels_db(
        level_db=background[:, None], other_db=model.background_db + kind.source_db
    )
    slope = 1.0 - 10.0 ** ((background[:, None] - expected) / 10.0)
    residual = rows.sound_db[:, None] - expected
    spread = np.hypot(model.sound_spread_db[0], kind.source_spread_db)
    weight = chance * robust(residual, spread) / spread**2
    grade = np.nansum(weight * slope * residual, axis=0)
    sure = 1.0 / companions.SOURCE_DOUBT_DB**2
    grade -= sure * (kind.source_db - fresh.source_db)
    curve = (weight * slope**2).sum(axis=0) + sure
    kind.source_db = kind.source_db + np.clip(grade / curve, -4.0, 4.0)
