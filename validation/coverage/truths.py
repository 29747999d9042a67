# SPDX-License-Identifier: MIT
"""Edges whose readings follow curves that no built-in law of wear has, drawn with numpy alone.

    F(x) = F₀·exp(a)·( 1 + A·exp(b)·h(x) ),   h(0) = 0, h(150 passes) = 1

``a`` is the luck of an edge when it is honed, ``b`` that of its rate of wear; a reading is that times what its operator and
its filament lot add, times scatter. All numbers here are inventions of this project (estimates of what a workshop may see).
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import numpy as np

#: Passes at which edges are read, and at which bands are held against the truth: the last is twice the last reading.
READ_AT = (0, 10, 20, 40, 60, 100, 150)
ASKED_AT = (20, 60, 150, 300)

#: Passes after which the edge in hand is asked how it goes on: it was read up to there.
IN_HAND_READ_TO = 40
HAND_ASKED_AT = tuple(at for at in ASKED_AT if at > IN_HAND_READ_TO)

LAST = 150.0


@dataclasses.dataclass(frozen=True)
class Truth:
    """A shape of wear.

    shape     h, of passes
    formula   its slope as a law of this program would state it: µm of radius per metre of path ``x``; {m} is metres a pass, and k of the
              order of the mean slope up to ``LAST``, where its prior is (campaigns.py)
    """

    name: str
    shape: Callable[[np.ndarray], np.ndarray]
    formula: str


def _settles(x: np.ndarray) -> np.ndarray:
    return (1 - np.exp(-x / 40)) / (1 - np.exp(-LAST / 40))


def _logarithmic(x: np.ndarray) -> np.ndarray:
    return np.log1p(x / 8) / np.log1p(LAST / 8)


def _steady(x: np.ndarray) -> np.ndarray:
    return x / LAST


def _late(x: np.ndarray) -> np.ndarray:
    return 0.4 * x / LAST + 0.6 * (x / LAST) ** 2


def _in_three_stages(x: np.ndarray) -> np.ndarray:
    return x**3 / (x**3 + 70**3) * (1 + (70 / LAST) ** 3)


TRUTHS = (
    Truth("a curve that settles", _settles, "k*exp(-x/{m}/40)"),
    Truth("logarithmic", _logarithmic, "k/(1 + x/{m}/8)"),
    Truth("steady in the reading", _steady, "k"),
    Truth("speeding up late", _late, "k*(0.4 + 1.2*x/{m}/150)"),
    # no law is slow, fast and slow again: all miss it by more than edges scatter
    Truth("in three stages", _in_three_stages, "k*7*(x/{m}/70)^2/((x/{m}/70)^3 + 1)^2"),
)


@dataclasses.dataclass(frozen=True)
class Workshop:
    """How much is luck: standard deviations of logs."""

    fresh_gf: float = 110.0
    rise: float = 0.9  # A: by how much the reading grows over 150 passes
    edge: float = 0.08
    rate: float = 0.20
    reading: float = 0.05
    operator: float = 0.05
    lot: float = 0.04


@dataclasses.dataclass(frozen=True)
class Reading:
    edge: int
    passes: int
    gf: float
    replicate: int
    operator: str
    lot: str


@dataclasses.dataclass
class Drawn:
    """One campaign: what was read, and what edges that were not read would show without scatter."""

    truth: Truth
    edges: int
    readings: list[Reading]
    next_gf: np.ndarray  # next edges × ASKED_AT
    hand_gf: np.ndarray  # the last edge, at HAND_ASKED_AT: it is read up to IN_HAND_READ_TO only


NEXT_EDGES = 40
OPERATORS = ("K", "M")
LOTS = ("N-07", "N-09", "N-11")


def curve(workshop: Workshop, truth: Truth, passes: np.ndarray, luck: np.ndarray, rate_luck: np.ndarray) -> np.ndarray:
    """Readings without scatter, edges × passes, in gram-force."""
    grown = workshop.rise * np.exp(rate_luck)[:, None] * truth.shape(np.asarray(passes, float))[None, :]
    return workshop.fresh_gf * np.exp(luck)[:, None] * (1 + grown)


def draw(truth: Truth, number: int, edges: int, workshop: Workshop = Workshop()) -> Drawn:
    """Campaign ``number`` of a truth: the same number, the same campaign."""
    rng = np.random.default_rng([20811, TRUTHS.index(truth), number])
    luck, rate = (rng.normal(0, sd, edges + NEXT_EDGES) for sd in (workshop.edge, workshop.rate))
    operators = dict(zip(OPERATORS, rng.normal(0, workshop.operator, len(OPERATORS))))
    lots = dict(zip(LOTS, rng.normal(0, workshop.lot, len(LOTS))))
    passes = np.array(READ_AT)
    smooth = curve(workshop, truth, passes, luck[:edges], rate[:edges])
    readings = []
    for e in range(edges):
        for k, at in enumerate(READ_AT):
            if e == edges - 1 and at > IN_HAND_READ_TO:
                continue
            # operators and lots take turns, so that neither goes with an edge or a moment
            operator = OPERATORS[(e + k) % len(OPERATORS)]
            lot = LOTS[(e + k // 2) % len(LOTS)]
            for replicate in (1, 2):
                log = operators[operator] + lots[lot] + rng.normal(0, workshop.reading)
                readings.append(Reading(e, at, float(smooth[e, k] * np.exp(log)), replicate, operator, lot))
    asked = curve(workshop, truth, np.array(ASKED_AT), luck, rate)
    return Drawn(truth, edges, readings, asked[edges:], asked[edges - 1, -len(HAND_ASKED_AT):])
