# SPDX-License-Identifier: MIT
"""The facts of the trade as a problem of least squares: which coefficients come nearest to all of them.

A fact is a reading (facts.csv) or a rise from one reading to another (rises.csv), each with the spread in which it is believed. What is
believed of each coefficient before stands in priors.csv. The readings are the program's, by its Python module; the search is SciPy's.
`./dev calibrate` makes the default coefficients of the program from it, and the checks of `./dev validate` repeat it with more heard or less.
"""

from __future__ import annotations

import csv
import dataclasses
import math
import pathlib
from typing import Any

import numpy as np
from scipy.optimize import least_squares

HERE = pathlib.Path(__file__).resolve().parent
CONFIGURATION = HERE / "calibration.toml"
#: As good as no prior, and still a problem that has one answer.
FAINT = 0.05
#: Held where the defaults are made: readings alone cannot tell a steeper tester from finer edges. N/µm, and the factor in which that is believed: an estimate.
SLOPE = "tester.slope_N_per_um"
SLOPE_MEDIAN, SLOPE_FACTOR = 2.0, 2.0
GRAM_FORCE = 9.80665e-3  # N
Moment = tuple[str, str]  # edge, and name of a reading of it


def rows_of(name: str) -> list[dict[str, str]]:
    """Rows of a table beside this file, without comments."""
    with open(HERE / name, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


@dataclasses.dataclass(frozen=True)
class Prior:
    """Median and factor of a log-normal one, or mean and standard deviation."""

    path: str
    middle: float
    width: float
    logs: bool

    def value(self, z: np.ndarray) -> np.ndarray:
        return self.middle * self.width**z if self.logs else self.middle + self.width * z

    def z(self, value: float) -> float:
        return math.log(value / self.middle) / math.log(self.width) if self.logs else (value - self.middle) / self.width


@dataclasses.dataclass(frozen=True)
class Level:
    """A reading that the trade states, gf; its spread is relative."""

    moment: Moment
    gf: float
    spread: float
    note: str

    def miss(self, read: dict[Moment, np.ndarray]) -> np.ndarray:
        """In spreads, above 0 where less is read than stated."""
        return (math.log(self.gf) - np.log(read[self.moment])) / self.spread


@dataclasses.dataclass(frozen=True)
class Rise:
    """By how much more is read at one moment than at another, of one edge or of two, gf; its spread is in gf."""

    start: Moment
    end: Moment
    gf: float
    spread: float
    note: str

    def of(self, read: dict[Moment, Any]) -> Any:
        return read[self.end] - read[self.start]

    def miss(self, read: dict[Moment, np.ndarray]) -> np.ndarray:
        """In spreads, above 0 where less of a rise is read than stated."""
        return (self.gf - self.of(read)) / self.spread


def levels() -> list[Level]:
    return [Level((r["edge"], r["step"]), float(r["reading_gf"]), float(r["reading_cv"]), r["note"]) for r in rows_of("facts.csv")]


def rises() -> list[Rise]:
    return [Rise((r["from_edge"], r["from"]), (r["edge"], r["to"]), float(r["rise_gf"]), float(r["spread_gf"]), r["note"]) for r in rows_of("rises.csv")]


@dataclasses.dataclass(frozen=True)
class Heard:
    """What a fit heard, and what it came to."""

    readings: dict[Moment, float]  # gf
    values: dict[str, float]
    misses: np.ndarray  # of all facts, heard or not, in spreads: levels, then rises
    by_facts: float  # χ² of all, heard or not
    by_heard: float  # of those that were heard
    by_priors: float  # of all, at full weight

    @property
    def farthest(self) -> float:
        """In spreads."""
        return float(np.abs(self.misses).max())


class Facts:
    """The facts as a problem in the parameters of the calibration, each over the width of its prior."""

    def __init__(self, arris: Any) -> None:
        self._arris, self._campaign = arris, arris.load(CONFIGURATION)
        self.priors = [Prior(r["path"], float(r["middle"]), float(r["width"]), r["shape"] == "log-normal") for r in rows_of("priors.csv")]
        parameters = self._campaign.parameters
        self.priors.append(Prior(SLOPE, SLOPE_MEDIAN, SLOPE_FACTOR, True))
        self.slope = float(parameters["value"][SLOPE])  # N/µm, as it is held
        self._default = np.array([p.z(float(parameters["value"][p.path])) for p in self.priors])
        # a range may begin at 0, which no logarithm reaches
        self._low = np.array([p.z(max(float(parameters["low"][p.path]), 1e-6 * p.middle)) for p in self.priors])
        self._high = np.array([p.z(float(parameters["high"][p.path])) for p in self.priors])
        self.levels, self.rises = levels(), rises()
        self.facts: list[Level | Rise] = [*self.levels, *self.rises]
        #: of which a fact speaks, each once
        self.moments = list(dict.fromkeys([f.moment for f in self.levels] + [m for f in self.rises for m in (f.start, f.end)]))
        self._at = self._moments()

    def of_steel(self, steel: str) -> dict[Moment, float]:
        """gf by the defaults, with all tools of another steel than the A2 of the calibration."""
        text = CONFIGURATION.read_text(encoding="utf-8").replace('= "A2"', f'= "{steel}"')
        result = self._arris.simulate(self._arris.loads(text, name=CONFIGURATION))
        out = {}
        for edge in self._at:
            steps = result.steps(edge)
            columns = (steps[name].values for name in ("verb", "subject", "reading_after_gf"))
            out.update({(edge, str(subject)): float(gf) for verb, subject, gf in zip(*columns) if verb == "read"})
        return out

    def _moments(self) -> dict[str, dict[str, str]]:
        """By edge and name of a reading, which step it is."""
        result = self._arris.simulate(self._campaign)
        named = [level.moment[0] for level in self.levels] + [moment[0] for rise in self.rises for moment in (rise.start, rise.end)]
        out: dict[str, dict[str, str]] = {}
        for edge in dict.fromkeys(named):
            steps = result.steps(edge)
            columns = zip(steps["verb"].values, steps["subject"].values)
            out[edge] = {str(subject): f"after step {k + 1}" for k, (verb, subject) in enumerate(columns) if verb == "read"}
        return out

    def readings(self, z: np.ndarray) -> dict[Moment, np.ndarray]:
        """gf of rows of parameters, by edge and moment."""
        values = np.column_stack([p.value(z[:, i]) for i, p in enumerate(self.priors)])
        out = {}
        for edge, at in self._at.items():
            gf = self._arris.simulate_many(self._campaign, [p.path for p in self.priors], values, edge=edge, at=list(at.values()), threads=1)
            out.update({(edge, name): gf[:, k, 0] for k, name in enumerate(at)})
        return out

    def _misses(self, read: dict[Moment, np.ndarray]) -> np.ndarray:
        """In spreads, rows × facts."""
        return np.stack([fact.miss(read) for fact in self.facts], axis=1)

    def heard(self, faint: tuple[str, ...] = (), without: tuple[int, ...] = (), tester: bool = False, starts: int = 0) -> Heard:
        """The best set of parameters.

        faint    paths whose prior counts a twentieth
        without  facts that are not heard, by their place among `facts`
        tester   whether the slope of the tester is free too
        starts   how many searches begin at the priors, at their middle and at draws from them; 0 for one from the defaults

        Raises RuntimeError where no search settles.
        """
        free = np.array([i for i, p in enumerate(self.priors) if tester or p.path != SLOPE])
        weight = np.array([FAINT if self.priors[i].path in faint else 1.0 for i in free])
        counts = np.array([0.0 if i in without else 1.0 for i in range(len(self.facts))])
        low, high = self._low[free], self._high[free]
        n, step = len(free), 1e-4

        def misses(rows: np.ndarray) -> np.ndarray:
            z = np.tile(self._default, (len(rows), 1))
            z[:, free] = rows
            return counts * self._misses(self.readings(z))

        def residuals(x: np.ndarray) -> np.ndarray:
            return np.concatenate([misses(x[None])[0], weight * x])

        def slopes(x: np.ndarray) -> np.ndarray:
            # at the end of a range to one side
            up, down = np.minimum(x + step, high) - x, x - np.maximum(x - step, low)
            both = misses(np.vstack([x + np.diag(up), x - np.diag(down)]))
            return np.vstack([(both[:n] - both[n:]).T / (up + down), np.diag(weight)])

        begin = np.random.default_rng(1).standard_normal((starts, n)) * (np.arange(starts)[:, None] > 0) if starts else self._default[None, free]
        searches = [least_squares(residuals, np.clip(x, low, high), slopes, bounds=(low, high)) for x in begin]
        settled = [search for search in searches if search.success]
        if not settled:
            raise RuntimeError(f"the facts came to no answer: {searches[0].message}")
        z = self._default.copy()
        z[free] = min(settled, key=lambda search: search.cost).x
        return self._at_point(z, counts)

    def now(self) -> Heard:
        """The defaults as they are."""
        return self._at_point(self._default, np.ones(len(self.facts)))

    def from_defaults(self, heard: Heard) -> dict[str, float]:
        """By path, how far a value lies from the default, in widths of its prior."""
        return {p.path: p.z(heard.values[p.path]) - float(self._default[i]) for i, p in enumerate(self.priors)}

    def _at_point(self, z: np.ndarray, counts: np.ndarray) -> Heard:
        read = self.readings(z[None])
        misses = self._misses(read)[0]
        values = {p.path: float(p.value(z[i])) for i, p in enumerate(self.priors)}
        squares = misses**2
        return Heard({m: float(r[0]) for m, r in read.items()}, values, misses, float(squares.sum()), float(counts @ squares), float(z @ z))


class Posterior:
    """What the facts, and the priors that the program has, say of all its parameters together, as draws.

    The density is of a campaign that reads every moment of the facts once; the first `count` of its parameters are those that draws are of. A row
    of draws is in widths of their priors from the defaults. `by_prior` (facts × count): by how many spreads each fact moves per width. A chain goes by the preconditioned Crank-Nicolson proposal (Cotter, Roberts, Stuart, White 2013,
    from memory) about the normal distribution N(0, C), u' = sqrt(1 - b²)·u + b·C^(1/2)·z, which leaves that as it is, so that a step is taken
    or not by the density over it. C is first what a linear fit leaves, then what the chains so far had.
    """

    SHARE = 0.3  # b; some 15 of 100 steps are taken

    def __init__(self, facts: Facts, density: Any, count: int, by_prior: np.ndarray) -> None:
        self._facts, self._moments = facts.facts, facts.moments
        self._density, self._extra = density, len(density.names) - count
        self.cover = np.linalg.inv(np.eye(count) + by_prior.T @ by_prior)

    def log_likelihood(self, u: np.ndarray) -> float:
        """Of a row; -inf where an edge cannot be honed to the end."""
        newton = np.asarray(self._density.predictions(np.append(u, np.zeros(self._extra))))
        if not np.all(np.isfinite(newton)):
            return -math.inf
        read = dict(zip(self._moments, newton / GRAM_FORCE))
        return -0.5 * sum(float(fact.miss(read)) ** 2 for fact in self._facts)

    def chain(self, seed: int, steps: int, start: np.ndarray, keep_each: int = 20) -> np.ndarray:
        """Every so many-th row of a chain (kept × parameters)."""
        random = np.random.default_rng(seed)
        root, over = np.linalg.cholesky(self.cover), np.linalg.inv(self.cover) - np.eye(len(self.cover))
        u, out = start, []
        height = self.log_likelihood(u) + 0.5 * u @ over @ u
        for step in range(steps):
            tried = math.sqrt(1 - self.SHARE**2) * u + self.SHARE * (root @ random.standard_normal(len(u)))
            there = self.log_likelihood(tried) + 0.5 * tried @ over @ tried
            if math.log(random.random()) < there - height:
                u, height = tried, there
            if step % keep_each == keep_each - 1:
                out.append(u)
        return np.array(out)

    def learn(self, rows: np.ndarray) -> None:
        """Takes C from what chains had."""
        self.cover = 0.5 * self.cover + 0.5 * (np.cov(rows.T) + 0.02 * np.eye(rows.shape[1]))


def largest_r_hat(chains: np.ndarray) -> float:
    """Of all parameters, by halves of chains (chains × rows × parameters); near 1 where they agree. Gelman and Rubin 1992, from memory."""
    half = chains.shape[1] // 2
    parts = np.concatenate([chains[:, :half], chains[:, half : 2 * half]])
    within = parts.var(axis=1, ddof=1).mean(axis=0)
    between = parts.mean(axis=1).var(axis=0, ddof=1)
    return float(np.sqrt(1 - 1 / half + between / within).max())
