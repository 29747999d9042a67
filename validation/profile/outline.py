# SPDX-License-Identifier: MIT
"""The outline of an edge in cross-section as a front of points, symmetric about its bisector.

Only one half is kept: from the tip (x = 0) along the arc, the land and the bevel behind it. x across, y into the blade, µm.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
from scipy.interpolate import PchipInterpolator


@dataclasses.dataclass
class Outline:
    """Half an outline.

    alpha   half of the included angle at the apex, rad
    x, y    points from the tip on, µm
    spacing distances between the points along the outline that are kept up, µm
    """

    alpha: float
    x: np.ndarray
    y: np.ndarray
    spacing: np.ndarray

    @classmethod
    def fresh(cls, included_deg: float, radius_um: float, land_um: float, step_deg: float, behind_um: float, finest_um: float) -> Outline:
        """An arc of ``radius_um`` tangent to a land, and a bevel lower by ``step_deg`` behind that.

        The points begin ``finest_um`` apart and grow by 7 % from one to the next.
        """
        alpha = math.radians(included_deg) / 2
        turn = math.pi / 2 - alpha  # of the arc, from the tip to the land
        length = radius_um * turn + (land_um - radius_um / math.tan(alpha)) + behind_um
        spacing = [finest_um]
        while sum(spacing) < length:
            spacing.append(min(spacing[-1] * 1.07, 60.0))
        s = np.concatenate([[0.0], np.cumsum(spacing)])
        arc = radius_um * turn
        land = land_um - radius_um / math.tan(alpha)
        top = radius_um * (1 / math.sin(alpha) - 1)  # ideal apex at y = 0: the tip of the arc
        phi = np.minimum(s, arc) / radius_um
        x = radius_um * np.sin(phi)
        y = top + radius_um * (1 - np.cos(phi))
        on_land = np.clip(s - arc, 0, land)
        x += on_land * math.sin(alpha)
        y += on_land * math.cos(alpha)
        behind = np.clip(s - arc - land, 0, None)
        lower = alpha - math.radians(step_deg)
        x += behind * math.sin(lower)
        y += behind * math.cos(lower)
        return cls(alpha, x, y, np.array(spacing))

    def length(self) -> np.ndarray:
        """Arc length from the tip to each point."""
        return np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(self.x), np.diff(self.y)))])

    def normals(self) -> tuple[np.ndarray, np.ndarray]:
        """Outward unit normals at the points; at the tip along the bisector."""
        dx, dy = np.gradient(self.x), np.gradient(self.y)
        dx[0], dy[0] = self.x[1], 0.0
        size = np.hypot(dx, dy)
        return dy / size, -dx / size

    def recede(self, depth: np.ndarray) -> None:
        """Takes ``depth`` off at every point, along the normal, and spreads the points anew."""
        nx, ny = self.normals()
        self.x = self.x - nx * depth
        self.y = self.y - ny * depth
        self.x[0] = 0.0
        self.spread()

    def spread(self) -> None:
        """Puts the points back to their distances from the tip; monotone cubic interpolation in arc length.

        Where the two flanks have met, the outline above breaks off and a new tip is there.
        """
        met = np.nonzero(self.x[1:] <= 0.0)[0]
        if len(met):
            last = int(met[-1]) + 1
            share = self.x[last] / (self.x[last] - self.x[last + 1])
            tip = self.y[last] + share * (self.y[last + 1] - self.y[last])
            self.x = np.concatenate([[0.0], self.x[last + 1 :]])
            self.y = np.concatenate([[tip], self.y[last + 1 :]])
        s = self.length()
        wanted = np.concatenate([[0.0], np.cumsum(self.spacing)])
        wanted = np.append(wanted[wanted < s[-1]], s[-1])
        if wanted[-1] - wanted[-2] < 0.2 * (wanted[-2] - wanted[-3]):  # no sliver at the far end
            wanted = np.delete(wanted, -2)
        self.x, self.y = PchipInterpolator(s, self.x)(wanted), PchipInterpolator(s, self.y)(wanted)
        self.x[0] = 0.0

    def radius(self, turn_deg: float = 45.0) -> float:
        """Apex radius, µm: the arc length over which the outline turns by ``turn_deg`` on either side of the tip, over that angle."""
        angle = np.degrees(np.arctan2(np.diff(self.y), np.diff(self.x)))
        s = self.length()
        middle = 0.5 * (s[1:] + s[:-1])
        angle, middle = np.concatenate([[0.0], np.maximum.accumulate(angle)]), np.concatenate([[0.0], middle])
        return float(np.interp(turn_deg, angle, middle)) / math.radians(turn_deg)

    def equivalent_radius(self, behind_um: float = 1.0) -> float:
        """Radius of the arc, tangent to faces at the angle of the fresh edge, that is as wide ``behind_um`` below its tip, µm.

        What a dubbed apex counts for where it is met at that scale; 0 for a perfect edge, below 0 for one thinner than that.
        """
        half = float(np.interp(behind_um, self.y - self.y[0], self.x))
        return (half / math.tan(self.alpha) - behind_um) / (1 / math.sin(self.alpha) - 1)

    def depth_to_flat(self) -> float:
        """What a flat face must take off, normal to itself and at the angle of the fresh edge, before it meets the tip, µm."""
        height = self.x * math.cos(self.alpha) - self.y * math.sin(self.alpha)
        return float(height.max() - height[0])

    def included_deg(self, from_tip_um: float) -> float:
        """Angle between the faces where they lie ``from_tip_um`` from the tip along the outline."""
        s = self.length()
        middle = 0.5 * (s[1:] + s[:-1])
        angle = np.degrees(np.arctan2(np.diff(self.x), np.diff(self.y)))
        return 2 * float(np.interp(from_tip_um, middle, angle))

    def section(self) -> float:
        """Cross-section between the outline and the bisector, µm² (of this half)."""
        return float(np.trapezoid(self.x, self.y) if hasattr(np, "trapezoid") else np.trapz(self.x, self.y))
