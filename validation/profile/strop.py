# SPDX-License-Identifier: MIT
"""Stropping of a resolved outline: an elastic layer pressed on it, and steel taken off in proportion to pressure and sliding.

The layer (modulus E, thickness t, glued to a rigid base, no friction, no sideways strain) answers a pressure wave of wave number k by

    û(k) = 2/(E·k)·L(k·t)·p̂(k),   L(w) = (6·sinh 2w − 4w)/(6·cosh 2w + 4w² + 10)

for a Poisson's ratio of 0: a half-plane for short waves, springs of stiffness E/t for long ones. Plane strain; small slopes, which the
arc itself is not. In space the kernel is −ln|x/t| and a smooth rest, integrated over the elements in closed form and by their
middles. Source: bonded layer after Johnson, Contact Mechanics (from memory); both limits are checked.

Contact: pressure nowhere negative nor above the strength of the pad, pad nowhere inside the blade, and the sum of pressure the force. Steel recedes along its normal by
κ times the load on its area per lap and side, the blade being turned over in between: κ·(p·cos φ here + the same at the mirror point),
φ the slope against the face that lies on the pad. A step solves for the pressure at its
end (implicit), since a pad answers a step of nanometres over a micrometre at once.
"""

from __future__ import annotations

import dataclasses
import functools
import math

import numpy as np
from scipy.integrate import quad
from scipy.linalg import solve

from validation.profile.outline import Outline

SEEN_FROM = (0.5, 1.0, 2.0)  # µm behind the tip


@functools.lru_cache(maxsize=1)
def smooth_rest() -> tuple[np.ndarray, np.ndarray]:
    """R(ξ) = ∫ [(L(w) − 1)·cos(wξ) + e^−w]/w dw, for −ln ξ + R(ξ); beyond the table the kernel is 0."""

    def response(w: float) -> float:
        if w > 40:
            return 1.0
        return (6 * math.sinh(2 * w) - 4 * w) / (6 * math.cosh(2 * w) + 4 * w * w + 10)

    grid = np.concatenate([[0.0], np.geomspace(1e-3, 12.0, 160)])
    values = []
    for xi in grid:
        near = quad(lambda w: ((response(w) - 1) * math.cos(w * xi) + math.exp(-w)) / w, 1e-9, 12.0, limit=400, epsabs=1e-8)[0]
        values.append(near + quad(lambda w: math.exp(-w) / w, 12.0, 60.0)[0])
    return grid, np.array(values)


def kernel(edges: np.ndarray, thickness: float, modulus: float) -> np.ndarray:
    """Sink at the middle of each element for a unit pressure on each; lengths in one unit, moduli in the unit of pressure."""
    middle = 0.5 * (edges[1:] + edges[:-1])
    a, b = edges[None, :-1] - middle[:, None], edges[None, 1:] - middle[:, None]

    def primitive(x: np.ndarray) -> np.ndarray:  # of ln|x/t|
        size = np.maximum(np.abs(x), 1e-300)
        return x * (np.log(size / thickness) - 1)

    width = edges[1:] - edges[:-1]
    distance = np.abs(middle[None, :] - middle[:, None]) / thickness
    grid, rest = smooth_rest()
    smooth = np.interp(distance, grid, rest)
    whole = -(primitive(b) - primitive(a)) + smooth * width[None, :]
    whole[distance > grid[-1]] = 0.0
    return 2 / (math.pi * modulus) * whole


@dataclasses.dataclass(frozen=True)
class Pad:
    """modulus in Pa, thickness in µm; nowhere more pressure than ``strength`` moduli, a strain at which a pad gives way sideways."""

    name: str
    modulus: float
    thickness: float
    strength: float = 1.0

    @property
    def limit(self) -> float:
        return self.strength * self.modulus


@dataclasses.dataclass(frozen=True)
class Contact:
    """Elements on the face that the pad looks at, from the back to beyond the tip: pressures in Pa, sink in µm."""

    u: np.ndarray
    width: np.ndarray
    pressure: np.ndarray
    sink: float
    state: np.ndarray  # -1 apart, 0 touching, 1 at the strength of the pad


def _faced(outline: Outline, steepest_deg: float = 82.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The whole outline as the pad sees it, from the back to beyond the tip: along the face, height above it, and which point of the
    half each is (negative: mirrored). Ends where the outline is steeper than ``steepest_deg``."""
    n = len(outline.x)
    # from the far end of this face to the tip, then down the other side
    index = np.concatenate([np.arange(n - 1, -1, -1), -np.arange(1, n)])
    x = np.sign(index + 0.5) * outline.x[np.abs(index)]
    y = outline.y[np.abs(index)]
    u = -(x * math.sin(outline.alpha) + y * math.cos(outline.alpha))
    z = x * math.cos(outline.alpha) - y * math.sin(outline.alpha)
    slope = np.diff(z) / np.where(np.diff(u) > 0, np.diff(u), 1e-12)
    steep = np.nonzero((np.diff(u) <= 0) | (slope < -math.tan(math.radians(steepest_deg))))[0]
    end = steep[0] + 1 if len(steep) else len(u)
    return u[:end], z[:end], index[:end]


def press(
    outline: Outline, pad: Pad, force_per_width: float, removal: float = 0.0, tilt: float = 0.0, start: np.ndarray | None = None
) -> tuple[Contact, np.ndarray]:
    """Pad on outline, and what is taken off each point of the half, µm.

    force_per_width  N/m
    removal          µm per Pa that this step takes off, κ·laps; 0 presses only
    tilt             rad, by which the blade is held too low: the apex is lifted off the pad
    start            states of the elements to begin the search with, those of a contact a little earlier
    """
    u, z, index = _faced(outline)
    tip = int(np.argmin(np.abs(index)))
    width = np.diff(u)
    slope = np.diff(z) / width
    middle_u, gap = 0.5 * (u[1:] + u[:-1]), -0.5 * (z[1:] + z[:-1])
    gap = gap + tilt * (middle_u - middle_u[0])
    influence = kernel(u, pad.thickness, pad.modulus)
    level = 1 / np.sqrt(1 + slope * slope)  # cosine of the slope: true area to area seen from the pad
    # what the other side takes off here: the load at the mirror point, where the pad reaches that
    mirror = np.zeros((len(width), len(width)))
    reach = len(u) - 1 - tip  # elements beyond the tip
    for i in range(tip - reach, tip + reach):
        mirror[i, 2 * tip - 1 - i] = level[2 * tip - 1 - i] / level[i]
    system = influence + removal * (np.eye(len(width)) + mirror)

    total = force_per_width * 1e6  # N/m in Pa·µm
    most = pad.limit
    n = len(width)
    scale = 1 / np.diag(system)  # Pa per µm
    state = np.zeros(n, int)  # -1 apart, 0 touching, 1 at the limit
    if start is not None:  # as it was, counted from the back
        state[: min(n, len(start))] = start[:n]
    pressure, sink = np.zeros(n), 0.0
    for attempt in range(300):
        free, full = state == 0, state == 1
        k = int(free.sum())
        matrix = np.zeros((k + 1, k + 1))
        matrix[:k, :k] = system[np.ix_(free, free)] * pad.modulus  # pressures in units of the modulus
        matrix[:k, k] = -1.0
        matrix[k, :k] = width[free] * pad.modulus
        right = np.append(-gap[free] - system[np.ix_(free, full)].sum(axis=1) * most, total - width[full].sum() * most)
        answer = solve(matrix, right)
        pressure = np.where(full, most, 0.0)
        pressure[free], sink = answer[:k] * pad.modulus, answer[k]
        overlap = sink - gap - system @ pressure
        tried = pressure + scale * np.where(free, 0.0, overlap)
        wanted = np.where(tried < -1e-9 * most, -1, np.where(tried > most * (1 + 1e-9), 1, 0))
        wanted = np.where(~free & (np.abs(overlap) < 1e-12), state, wanted)
        if (wanted == state).all():
            break
        # after a while only the worst of them changes, so that no two keep changing places
        if attempt < 40:
            state = wanted
        else:
            off = np.where(wanted != state, np.abs(tried - np.clip(tried, 0, most)) + np.where(free, 0, np.abs(scale * overlap)), -1.0)
            worst = int(np.argmax(off))
            state = state.copy()
            state[worst] = wanted[worst]
    else:
        raise RuntimeError(f"no contact was found on {pad.name}")

    # back to the points: a point takes the mean of the elements beside it
    load = pressure * level  # on the true area
    at_points = np.zeros(len(u))
    at_points[1:-1] = 0.5 * (load[1:] + load[:-1])
    at_points[0] = load[0]
    off = np.zeros(len(outline.x))
    for k, i in enumerate(index):
        off[abs(i)] += removal * at_points[k]
    off[0] *= 2.0  # the tip is its own mirror point: both sides
    return Contact(middle_u, width, pressure, sink, state), off


@dataclasses.dataclass(frozen=True)
class Shape:
    """What is told of an outline, µm: its depth to flat, and radii of the tip itself and as it is met ``SEEN_FROM`` behind it."""

    radius: float
    seen: tuple[float, ...]
    depth: float

    @classmethod
    def of(cls, outline: Outline) -> Shape:
        return cls(outline.radius(), tuple(outline.equivalent_radius(y) for y in SEEN_FROM), outline.depth_to_flat())


def strop(outline: Outline, pad: Pad, force_per_width: float, removal_per_lap: float, laps: list[float], most: float = 1.0) -> list[Shape]:
    """The shape at each count of laps; the outline is changed. ``removal_per_lap`` in µm per Pa."""
    shapes, done, step, state = [], 0.0, 0.02, None
    for goal in laps:
        while done < goal - 1e-9:
            now = min(step, goal - done)
            contact, off = press(outline, pad, force_per_width, removal_per_lap * now, start=state)
            state = contact.state
            # no more than a fifth of the radius at once, or of two points' distance
            largest = float(off.max())
            limit = max(0.2 * outline.radius(), 0.4 * float(outline.spacing[0]))
            if largest > limit:
                step = 0.5 * now
                continue
            outline.recede(off)
            done += now
            step = min(1.3 * step, most)
        shapes.append(Shape.of(outline))
    return shapes
