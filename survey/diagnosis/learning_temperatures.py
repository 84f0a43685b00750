"""How one look at the round moves what temperatures are expected: inlets, outlets, and spreads.

As in `learning`: each function takes chances and updates in place, the prior as extra units.
"""

from __future__ import annotations

import numpy as np

from survey.columns import TRAP_TYPES
from survey.diagnosis import priors
from survey.diagnosis.hypotheses import HOT_LOOKS, LOOKS, LOOKS_INDEX, LOSING_LOOKS
from survey.diagnosis.learning import robust, spread_of
from survey.diagnosis.likelihood import (
    believed_miss,
    expected_inlet,
    expected_outlet,
    followed,
    student,
    warmed,
)
from survey.diagnosis.model import Model
from survey.diagnosis.rows import Conditions, Rows

MOST_DOUBTS = 1.75
"""How far a plant may move the centre of a cool look, in its doubts: further off it is another look
that is taken for this one. Common practice, no source."""
_PRIOR = Model()
_FOLLOWS_DOUBT = np.array(
    [priors.COOL_OUTLET_FOLLOWS.get(k, priors.OUTLET_FOLLOWS)[1] for k in LOOKS]
)

_TOWARDS_DOUBT = np.array([
    priors.OUTLET_TOWARDS_SUPPLY_DOUBT.get(k, priors.OUTLET_TOWARDS_SUPPLY_DOUBT["usual"])
    for k in LOOKS
])  # fmt: skip


def learn_temperatures(model: Model, rows: Rows, state: Conditions, looks: np.ndarray) -> None:
    """Move subcooling, shares and spreads of the looks by corrected temperatures."""
    inlet = (rows.inlet_f - rows.ambient_f) / state.span_f
    outlet = (rows.outlet_f - rows.ambient_f) / state.span_f
    working = looks[:, LOOKS_INDEX["working"]] + looks[:, LOOKS_INDEX["idle"]]
    _learn_subcooling(model, rows, state, inlet, working)
    _learn_cool_inlets(model, inlet, looks)
    miss = inlet[:, None] - expected_inlet(model, rows, state)
    weight = priors.TEMPERATURE_WEIGHT
    outlet_weight = np.where(np.arange(len(LOOKS)) < HOT_LOOKS, weight, priors.COOL_OUTLET_WEIGHT)
    model.inlet_spread = spread_of(miss, looks, model.inlet_blur, _PRIOR.inlet_spread, weight)
    _learn_outlets(model, state, outlet[:, None] - followed(model, miss), looks)
    expected = expected_outlet(model, state)
    residual = outlet[:, None] - expected
    _learn_following(model, residual, miss, looks)
    residual -= followed(model, miss)
    _learn_warmed(model, residual, expected, looks)
    # Beside no inlet a cool outlet misses by what the inlet would have explained, too.
    residual[np.isnan(inlet), HOT_LOOKS:] = np.nan
    usual = _PRIOR.outlet_spread
    model.outlet_spread = spread_of(
        residual, looks, model.outlet_blur, usual * _as_working(model), outlet_weight,
        least=0.35 * usual,
    )  # fmt: skip
    # A much narrower spread than a working trap's would turn what is hotter against lost steam.
    least = priors.LOSING_SPREAD_LEAST * model.outlet_spread[LOOKS_INDEX["working"]]
    model.outlet_spread[LOSING_LOOKS] = np.maximum(model.outlet_spread[LOSING_LOOKS], least)


def _learn_warmed(
    model: Model, miss: np.ndarray, expected: np.ndarray, looks: np.ndarray
) -> None:
    """Move the share of sound traps whose return is hot by what is not of their own."""
    blur = model.outlet_blur[None]
    parts = warmed(model, miss, blur, expected)
    sound = [look for look in parts if look not in LOSING_LOOKS]
    own = student(miss[:, sound], blur[:, sound], priors.GROSS_TEMPERATURE)
    hit = count = 0.0
    for look, usually in zip(sound, own.T, strict=True):
        hit += (looks[:, look] * parts[look] / (usually + parts[look])).sum()
        count += (looks[:, look] * ~np.isnan(miss[:, look])).sum()
    usual, weight = priors.OUTLET_WARMED["working"], priors.OUTLET_WARMED_WEIGHT
    share = (hit + weight * usual) / (count + weight)
    model.outlet_warmed[sound] = min(share, priors.OUTLET_WARMED_MOST)


def _as_working(model: Model) -> np.ndarray:
    """Return by how much the looks' usual spreads of outlets are changed, (looks,).

    Leaking and blown traps are few, and read with the thermometer and hand that read the many
    that work: where those scatter less than usual, or more, so do they.
    """
    changed = np.ones(len(LOOKS))
    working = LOOKS_INDEX["working"]
    changed[LOSING_LOOKS] = model.outlet_spread[working] / _PRIOR.outlet_spread[working]
    return changed


def _learn_subcooling(
    model: Model, rows: Rows, state: Conditions, inlet: np.ndarray, working: np.ndarray
) -> None:
    under_f = (1.0 - inlet) * state.span_f
    scatter_f = priors.SUBCOOLING_SCATTER * model.subcooling_f[rows.trap_type]
    spread_f = np.hypot(model.inlet_spread[0] * state.span_f, scatter_f)
    for code, name in enumerate(TRAP_TYPES):
        centre, wide = priors.SUBCOOLING_F[name]
        residual = under_f - model.subcooling_f[code]
        weight = robust(residual, spread_f) * working * (rows.trap_type == code) / spread_f**2
        known = np.nansum(weight)
        told = np.nansum(weight * under_f)
        moved = (told + centre / wide**2) / (known + 1.0 / wide**2)
        model.subcooling_f[code] = max(moved, 0.0)


def _learn_cool_inlets(model: Model, inlet: np.ndarray, looks: np.ndarray) -> None:
    cool = slice(HOT_LOOKS, None)
    spread = model.inlet_spread[cool]
    weight = looks[:, cool] * robust(
        inlet[:, None] - model.inlet_cool[cool], model.inlet_blur[cool]
    )
    told = np.nansum(weight * inlet[:, None], axis=0) / spread**2
    known = weight.sum(axis=0) / spread**2
    sure = 1.0 / _PRIOR.inlet_doubt[cool] ** 2
    moved = (told + sure * _PRIOR.inlet_cool[cool]) / (known + sure)
    most = MOST_DOUBTS * _PRIOR.inlet_doubt[cool]
    usual = _PRIOR.inlet_cool[cool]
    model.inlet_cool[cool] = np.clip(moved, usual - most, usual + most)
    model.inlet_doubt[cool] = 1.0 / np.sqrt(known + sure)


def _learn_following(
    model: Model, residual: np.ndarray, miss: np.ndarray, looks: np.ndarray
) -> None:
    """Move the share of an inlet's miss that the outlet's repeats: one for the hot looks."""
    miss = believed_miss(miss)
    weight = looks * robust(residual - model.outlet_follows * miss, model.outlet_blur)
    weight /= model.outlet_spread**2
    stiff = _one_for_hot((weight * miss**2).sum(axis=0))
    told = _one_for_hot((weight * miss * np.nan_to_num(residual)).sum(axis=0))
    sure = 1.0 / _FOLLOWS_DOUBT**2
    moved = (told + sure * _PRIOR.outlet_follows) / (stiff + sure)
    model.outlet_follows = np.clip(moved, 0.0, 1.0)


def _one_for_hot(sums: np.ndarray) -> np.ndarray:
    sums[:HOT_LOOKS] = sums[:HOT_LOOKS].sum()
    return sums


def _learn_outlets(model: Model, state: Conditions, outlet: np.ndarray, looks: np.ndarray) -> None:
    """Move the outlets' shares; ``outlet`` is (n, looks), less what the inlet's miss explains."""
    residual = outlet - expected_outlet(model, state)
    weight = looks * robust(residual, model.outlet_blur) / model.outlet_spread**2
    back, rest = state.return_share[:, None], 1.0 - state.return_share[:, None]
    tight, loose = 1.0 / _PRIOR.outlet_doubt**2, 1.0 / _TOWARDS_DOUBT**2
    read = np.nan_to_num(outlet)
    back, rest = np.nan_to_num(back), np.nan_to_num(rest)
    bb = (weight * back * back).sum(axis=0) + tight
    br = (weight * back * rest).sum(axis=0)
    rr = (weight * rest * rest).sum(axis=0) + loose
    by = (weight * back * read).sum(axis=0) + tight * _PRIOR.outlet_at_return
    ry = (weight * rest * read).sum(axis=0) + loose * _PRIOR.outlet_towards_supply
    determinant = bb * rr - br * br
    model.outlet_at_return = np.clip((by * rr - ry * br) / determinant, 0.0, 1.1)
    model.outlet_towards_supply = np.clip((ry * bb - by * br) / determinant, 0.0, 1.0)
    leaking, opened = LOSING_LOOKS
    least = model.outlet_towards_supply[leaking] + priors.OPEN_OVER_LEAKING
    model.outlet_towards_supply[opened] = max(model.outlet_towards_supply[opened], least)
    dead, backed = LOOKS_INDEX["failed_closed"], LOOKS_INDEX["backed_up"]
    most = priors.DEAD_OUTLET_MOST * model.outlet_at_return[backed]
    model.outlet_at_return[dead] = min(model.outlet_at_return[dead], most)
    model.outlet_doubt = 1.0 / np.sqrt(weight.sum(axis=0) + tight)
