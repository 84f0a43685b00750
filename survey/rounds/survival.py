"""How trap lives end: a Weibull law fitted to brackets, steadied by published failure shares.

Where a plant has few traps or few rounds, the published shares stand; the more it has been
walked, the more its own rounds do. The same holds for each trap type, service and pressure
class against the whole plant.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from survey.rounds.lives import KINDS, Lives

Array = np.ndarray
SCALE, SHAPE_AT, AGES, LEVELS = 0, 1, 2, slice(3, None)
"""Where the parameters are: cumulative hazard at `REFERENCE_YEARS`, shape, how many times the
guessed ages the true ones are, then each level's effect; all natural logs."""

REFERENCE_YEARS = 4.0
"""The age that the published share is for: 3 to 5 years without maintenance."""
SHARE_FAILED = (0.15, 0.30)
"""Share of traps failed by then, 10 % and 90 % point over plants: US DOE AMO Steam Tip Sheet 1
says 15 to 30 % (seen); that this is the range of 8 plants in 10 is our reading of it."""
SHAPE = (1.2, 0.20)
"""Weibull shape, middle value and spread of its natural log: 1 is failing by chance alone, over
1 is wearing out. Common practice, no source."""
AGE_SPREAD = 0.40
"""Spread of how far the guessed ages of a whole plant may be out, natural log. No source."""
LEVEL_SPREAD = 0.40
"""Spread of how one type, service or class differs from all, natural log. No source."""
LEVEL_MIDDLE = {("trap_type", "thermodynamic"): float(np.log(2.0))}
"""Discs wear soonest: a specification's designer's notes (UFGS-15559A, seen) give them a life of
19 months; twice the usual rate is a cautious reading of it."""
_NORMAL_90 = 1.2815515655446004
_TOO_SMALL = 1e-300
_FARTHEST_SPREADS, _FARTHEST_LOG = 30.0, 4.0


@dataclass(frozen=True)
class Prior:
    """What is taken before any round: normal in each parameter, (parameters,)."""

    middle: Array
    spread: Array


@dataclass(frozen=True)
class Design:
    """Which levels there are, and which of them each life has.

    Parameters
    ----------
    levels
        (kind, level) of each effect, in the order of the last parameters.
    of_life
        1 where a life has that level, (lives, levels); a level that is not known has none.
    """

    levels: tuple[tuple[str, str], ...]
    of_life: Array


@dataclass(frozen=True)
class Fit:
    """The fitted law.

    Parameters
    ----------
    best
        The likeliest parameters: natural logs, as `SCALE`, `SHAPE_AT`, `AGES`, `LEVELS` say.
    covariance
        Of the same, (parameters, parameters): the curvature at the best.
    """

    best: Array
    covariance: Array
    design: Design
    prior: Prior

    def draws(self, count: int) -> Array:
        """Return parameters drawn from the fit's uncertainty, the same ones every time."""
        root = np.linalg.cholesky(self.covariance)
        return np.asarray(self.best + _steps(count, len(self.best)) @ root.T)

    def log_scale(self, parameters: Array) -> Array:
        """Return each life's log cumulative hazard at `REFERENCE_YEARS`, (lives,)."""
        return np.asarray(parameters[SCALE] + self.design.of_life @ parameters[LEVELS])


def design_of(lives: Lives) -> Design:
    """Return the effects that the lives can have."""
    columns, levels = [], []
    for kind in KINDS:
        values = lives.traps[kind].to_numpy(dtype=object)
        for level in sorted({str(value) for value in values} - {""}):
            levels.append((kind, level))
            columns.append(values == level)
    shape = (len(lives), len(levels))
    return Design(tuple(levels), np.array(columns, dtype=float).T.reshape(shape))


def prior_of(levels: Sequence[tuple[str, str]]) -> Prior:
    """Return the prior for these levels: published shares, levels like the rest."""
    low, high = (np.log(-np.log1p(-share)) for share in SHARE_FAILED)
    return Prior(
        np.array([(low + high) / 2, np.log(SHAPE[0]), 0.0,
                  *(LEVEL_MIDDLE.get(level, 0.0) for level in levels)]),
        np.array([(high - low) / 2 / _NORMAL_90, SHAPE[1], AGE_SPREAD,
                  *(LEVEL_SPREAD for _ in levels)]),
    )


def prior_draws(prior: Prior, count: int) -> Array:
    """Return parameters drawn from a prior, the same ones every time, (count, parameters)."""
    return np.asarray(prior.middle + prior.spread * _steps(count, len(prior.middle)))


def _steps(count: int, width: int) -> Array:
    steps = np.random.default_rng(20).standard_normal((count // 2, width))
    # Each with its mirror image, so that their mean is exactly the middle.
    return np.concatenate([steps, -steps])


def hazard(years: Array, *, log_scale: Array | float, log_shape: float) -> Array:
    """Return the cumulative hazard at these ages: (age / 4)^shape * exp(log_scale)."""
    with np.errstate(divide="ignore"):
        return np.asarray(np.exp(log_scale + np.exp(log_shape) * np.log(years / REFERENCE_YEARS)))


def survival(years: Array, *, log_scale: Array | float, log_shape: float) -> Array:
    """Return the chance to live past these ages; 1 at age 0, 0 at infinity."""
    return np.asarray(np.exp(-hazard(years, log_scale=log_scale, log_shape=log_shape)))


def fit(lives: Lives, *, prior: Prior | None = None, design: Design | None = None) -> Fit:
    """Fit the law: the likeliest parameters given brackets and prior, and their doubt.

    Parameters
    ----------
    prior
        By default the published shares (`prior_of`).
    design
        By default every level that occurs.
    """
    # Half a second to import: only who asks for failure rates pays for it.
    from scipy.optimize import minimize

    design = design or design_of(lives)
    prior = prior or prior_of(design.levels)

    def loss(parameters: Array) -> tuple[float, Array]:
        return _loss(parameters, lives, design, prior)

    def scaled(steps: Array) -> tuple[float, Array]:
        value, gradient = loss(prior.middle + steps * prior.spread)
        return value, gradient * prior.spread

    # In units of the prior's spread, so that one step fits every parameter. No plant is as far
    # as fifty times from the published rate; past that the powers would overflow.
    far = [float(min(_FARTHEST_SPREADS, _FARTHEST_LOG / spread)) for spread in prior.spread]
    found = minimize(
        scaled, np.zeros(len(prior.middle)), jac=True, method="L-BFGS-B", tol=1e-13,
        bounds=[(-one, one) for one in far],
    )  # fmt: skip
    best = prior.middle + found.x * prior.spread
    curvature = _curvature(lambda at: loss(at)[1], best, 1e-4 * prior.spread)
    return Fit(best, _inverse(curvature, prior), design, prior)


def _loss(parameters: Array, lives: Lives, design: Design, prior: Prior) -> tuple[float, Array]:
    """Return minus the log posterior and its gradient."""
    shape, times = float(parameters[SHAPE_AT]), float(np.exp(parameters[AGES]))
    scale = (parameters[SCALE] + design.of_life @ parameters[LEVELS])[lives.life]
    growth = times * lives.guessed_years
    low, high = (_end(ages, scale, shape, growth) for ages in lives.ages(times))
    each = np.bincount(lives.life, lives.chance * (low[0] - high[0]), minlength=len(lives))
    each = np.maximum(each, _TOO_SMALL)
    weight = lives.chance / each[lives.life]
    by_scale = np.bincount(lives.life, weight * (low[1] - high[1]), minlength=len(lives))
    by_shape, by_ages = (float((weight * (low[k] - high[k])).sum()) for k in (2, 3))
    step = (parameters - prior.middle) / prior.spread
    value = -float(np.log(each).sum()) + 0.5 * float(step @ step)
    gradient = np.array([by_scale.sum(), by_shape, by_ages, *(by_scale @ design.of_life)])
    return value, step / prior.spread - gradient


def _end(
    years: Array, log_scale: Array, log_shape: float, growth: Array
) -> tuple[Array, Array, Array, Array]:
    """Return survival at one end of the brackets, and its slopes in scale, shape and ages."""
    living = survival(years, log_scale=log_scale, log_shape=log_shape)
    inside = np.isfinite(years) & (years > 0)
    ages = np.where(inside, years, REFERENCE_YEARS)
    past = np.where(inside, hazard(ages, log_scale=log_scale, log_shape=log_shape), 0.0)
    slope, shape = -past * living, np.exp(log_shape)
    by_shape = slope * np.log(ages / REFERENCE_YEARS) * shape
    return living, slope, by_shape, slope * shape * growth / ages


def _curvature(gradient: Callable[[Array], Array], at: Array, steps: Array) -> Array:
    rows = []
    for place, step in enumerate(steps):
        move = np.zeros(len(at))
        move[place] = step
        rows.append((gradient(at + move) - gradient(at - move)) / (2 * step))
    both = np.array(rows)
    return np.asarray((both + both.T) / 2)


def _inverse(curvature: Array, prior: Prior) -> Array:
    """Invert a curvature; where rounds contradict themselves it is no flatter than the prior."""
    scaled = curvature * np.outer(prior.spread, prior.spread)
    values, vectors = np.linalg.eigh(scaled)
    # Under 1 the data would take knowledge away from the prior, which no real round does.
    inverse = vectors @ np.diag(1.0 / np.maximum(values, 1.0)) @ vectors.T
    return np.asarray(inverse * np.outer(prior.spread, prior.spread))
