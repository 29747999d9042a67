# SPDX-License-Identifier: MIT
"""Wear of a resolved outline in wood: steel taken off in proportion to local pressure and path (Archard).

Two loads act on whatever part of the outline faces the way, more steeply than the faces do: with θ between the normal and the way, and
h(θ) = (cos θ − sin α)/(1 − sin α) where that is positive,

    crushing  p = σ·h                        σ the wood's Janka pressure: its load is in proportion to the size of the tip, f₁·r
    parting   p = (1 − q)·f₀·h·v/∫h·v·cos θ ds  f₀ the energy of a new surface, N/m, whatever the tip is like; fibres part within a few µm of
                                              the tip, v = 1/(1 + (s/s_v)⁴)
              + q·f₀·exp(−s²/2w²)/(w·√(2π))   a share q of it carried by the faces behind the tip, over w (wedging fibres apart)

σ comes from the Janka ball, f₀ from fracture energies of the order of 200 to 500 J/m² (from memory); q, w and s_v are estimates. What is asked
is whether a radius that is one number follows such an outline, not how large these are.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from validation.profile.outline import Outline


@dataclasses.dataclass(frozen=True)
class Wood:
    """crushing in MPa, parting in N/m, the share of it that faces carry, over how many µm (one standard deviation), and s_v in µm."""

    name: str
    crushing: float
    parting: float
    on_faces: float = 0.0
    zone: float = 2.0
    nose: float = 5.0


def crushing_per_radius(wood: Wood, alpha: float) -> float:
    """f₁ in N/m per µm: load along the way, per edge length and radius, on an arc tangent to both faces."""
    turn = math.pi / 2 - alpha
    along = 0.5 * (turn + math.sin(turn) * math.cos(turn)) - math.sin(alpha) * math.sin(turn)  # ∫ (cos θ − sin α)·cos θ dθ
    return 2 * wood.crushing * along / (1 - math.sin(alpha))


def pressure(outline: Outline, wood: Wood) -> np.ndarray:
    """At the points, MPa."""
    _, ny = outline.normals()
    sin_half = math.sin(outline.alpha)
    facing = np.clip((-ny - sin_half) / (1 - sin_half), 0, None)
    s = outline.length()
    parting = facing / (1 + (s / wood.nose) ** 4)
    bent = parting * -ny
    whole = float(np.sum((bent[1:] + bent[:-1]) * np.diff(s)))  # both halves
    tip = wood.crushing * facing + (1 - wood.on_faces) * wood.parting * parting / whole
    return tip + wood.on_faces * wood.parting / (wood.zone * math.sqrt(2 * math.pi)) * np.exp(-0.5 * (s / wood.zone) ** 2)


def cut(outline: Outline, wood: Wood, wear: float, path: list[float]) -> list[tuple[float, float]]:
    """Radius, and radius as seen from 1 µm, at each path, m; ``wear`` in µm per MPa and metre. The outline is changed."""
    out, done = [], 0.0
    for goal in path:
        while done < goal - 1e-12:
            rate = wear * pressure(outline, wood)
            # a fiftieth of the radius, or a fifth of two points' distance, at once
            step = min(goal - done, max(0.02 * outline.radius(), 0.2 * float(outline.spacing[0])) / float(rate.max()))
            outline.recede(rate * step)
            done += step
        out.append((outline.radius(), outline.equivalent_radius()))
    return out
