# SPDX-License-Identifier: MIT
"""What one set of coefficients can do about the facts of the trade: the least squares of the calibration over again, with more facts heard
or fewer, with priors or without.

The calibration (configs/calibration, ./dev calibrate) hears every fact as a reading of its own. Here the rises of a reading in wood can be
heard too, as gram-force between two readings of one edge. The readings are the program's; the search is SciPy's.
"""

from __future__ import annotations

import dataclasses
import math
import tomllib
from typing import Any

import numpy as np
from scipy.optimize import least_squares

from validation.outside import ROOT, table

CONFIGURATION = ROOT / "configs" / "calibration" / "calibration.toml"
#: Rises along one edge that the trade states: from, to, gf, and the spread in which it is believed: the stated range of the first is 10 to 20.
RISES = [
    (("maple", "fresh"), ("maple", "after 50 passes"), 15.0, 5.0),
    (("maple", "after 50 passes"), ("maple", "after 100 passes"), 4.0, 5.0),
]
#: As good as no prior, and still a problem that has one answer.
FAINT = 0.05
#: Held by the calibration. Its default is an estimate of this project without a source, its prior a factor of 2.
SLOPE = "tester.slope_N_per_um"
SLOPE_FACTOR = 2.0
Moment = tuple[str, str]


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
class Heard:
    """What a fit heard, and what it came to."""

    readings: dict[Moment, float]  # gf
    values: dict[str, float]
    by_facts: float  # χ² of all, heard or not
    by_heard: float  # of those that were heard
    by_priors: float  # of all, at full weight
    farthest: float  # of a fact, in spreads

    def rise(self, k: int) -> float:
        return self.readings[RISES[k][1]] - self.readings[RISES[k][0]]


class Facts:
    """The facts as a problem of least squares in the parameters of the calibration, each over the width of its prior."""

    def __init__(self, arris: Any) -> None:
        self._arris, self._campaign = arris, arris.load(CONFIGURATION)
        stated = tomllib.loads(CONFIGURATION.read_text(encoding="utf-8"))
        self.priors = [
            Prior(path, p["median"], p["factor"], True) if "median" in p else Prior(path, p["mean"], p["sd"], False)
            for path, p in ((path, stated["prior"][path]) for path in stated["fit"]["free"])
        ]
        parameters = self._campaign.parameters
        self.priors.append(Prior(SLOPE, float(parameters["value"][SLOPE]), SLOPE_FACTOR, True))
        self._default = np.array([p.z(float(parameters["value"][p.path])) for p in self.priors])
        # a range may begin at 0, which no logarithm reaches
        self._low = np.array([p.z(max(float(parameters["low"][p.path]), 1e-6 * p.middle)) for p in self.priors])
        self._high = np.array([p.z(float(parameters["high"][p.path])) for p in self.priors])
        self.rows = table("configs/calibration/facts.csv")
        self._wanted = np.log([float(row["reading_gf"]) for row in self.rows])
        self._spread = np.array([float(row["reading_cv"]) for row in self.rows])
        self.of = [(row["edge"], row["step"]) for row in self.rows]
        self._at = self._moments()

    def of_steel(self, steel: str) -> dict[Moment, float]:
        """gf by the defaults, with all tools of another steel than the A2 of the calibration."""
        text = CONFIGURATION.read_text(encoding="utf-8").replace('= "A2"', f'= "{steel}"')
        result = self._arris.simulate(self._arris.loads(text, name=CONFIGURATION))
        out = {}
        for edge in self._at:
            steps = result.steps(edge)
            out.update({(edge, str(s)): float(gf) for v, s, gf in zip(steps["verb"].values, steps["subject"].values, steps["reading_after_gf"].values) if v == "read"})
        return out

    def _moments(self) -> dict[str, dict[str, str]]:
        """By edge and name of a reading, which step it is."""
        result = self._arris.simulate(self._campaign)
        out: dict[str, dict[str, str]] = {}
        for edge in dict.fromkeys(edge for edge, _ in self.of):
            steps = result.steps(edge)
            out[edge] = {str(s): f"after step {k + 1}" for k, (v, s) in enumerate(zip(steps["verb"].values, steps["subject"].values)) if v == "read"}
        return out

    def readings(self, z: np.ndarray) -> dict[Moment, np.ndarray]:
        """gf of rows of parameters, by edge and moment."""
        values = np.column_stack([p.value(z[:, i]) for i, p in enumerate(self.priors)])
        out = {}
        for edge, at in self._at.items():
            told = self._arris.simulate_many(self._campaign, [p.path for p in self.priors], values, edge=edge, at=list(at.values()), threads=1)
            out.update({(edge, name): told[:, k, 0] for k, name in enumerate(at)})
        return out

    def _misses(self, read: dict[Moment, np.ndarray], rises: float) -> np.ndarray:
        """In spreads, rows × facts; those of ``RISES``, which count ``rises`` each, last."""
        of_facts = [(w - np.log(read[m])) / s for m, w, s in zip(self.of, self._wanted, self._spread)]
        of_rises = [rises * (gf - (read[to] - read[start])) / sd for start, to, gf, sd in RISES]
        return np.stack(of_facts + of_rises, axis=1)

    def heard(self, rises: float = 0.0, faint: tuple[str, ...] = (), without: tuple[int, ...] = (), tester: bool = False) -> Heard:
        """The best set of parameters.

        rises    1 hears the rises, 0 does not
        faint    paths whose prior counts a twentieth
        without  facts that are not heard, by row
        tester   whether the slope of the tester is free too
        """
        free = np.array([i for i, p in enumerate(self.priors) if tester or p.path != SLOPE])
        weight = np.array([FAINT if self.priors[i].path in faint else 1.0 for i in free])
        counts = np.array([0.0 if i in without else 1.0 for i in range(len(self.of))] + [1.0] * len(RISES))
        low, high = self._low[free], self._high[free]
        n, step = len(free), 1e-4

        def misses(rows: np.ndarray) -> np.ndarray:
            z = np.tile(self._default, (len(rows), 1))
            z[:, free] = rows
            return counts * self._misses(self.readings(z), rises)

        def residuals(x: np.ndarray) -> np.ndarray:
            return np.concatenate([misses(x[None])[0], weight * x])

        def slopes(x: np.ndarray) -> np.ndarray:
            # at the end of a range to one side
            up, down = np.minimum(x + step, high) - x, x - np.maximum(x - step, low)
            both = misses(np.vstack([x + np.diag(up), x - np.diag(down)]))
            return np.vstack([(both[:n] - both[n:]).T / (up + down), np.diag(weight)])

        found = least_squares(residuals, self._default[free], slopes, bounds=(low, high))
        if not found.success:
            raise RuntimeError(f"the facts came to no answer: {found.message}")
        z = self._default.copy()
        z[free] = found.x
        return self._told(z, counts[: len(self.of)])

    def now(self) -> Heard:
        """The defaults as they are."""
        return self._told(self._default, np.ones(len(self.of)))

    def _told(self, z: np.ndarray, counts: np.ndarray) -> Heard:
        read = self.readings(z[None])
        misses = self._misses(read, 0.0)[0, : len(self.of)]
        return Heard({m: float(r[0]) for m, r in read.items()}, {p.path: float(p.value(z[i])) for i, p in enumerate(self.priors)},
                     float(misses @ misses), float(counts @ misses**2), float(z @ z), float(np.abs(misses).max()))
