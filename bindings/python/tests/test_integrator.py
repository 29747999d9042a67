# SPDX-License-Identifier: MIT
"""scipy's solve_ivp on the equations at the head of the files in sim/laws, against the integrator, on 50 random histories."""

from math import exp, pi, radians, sin, sqrt, tan

import numpy as np
from scipy.integrate import solve_ivp

import arris

RADIUS, SCRATCH, BURR = 0, 1, 2


def positive(x, w):  # smooth.hpp
    if x <= -w:
        return 0.0
    if x >= w:
        return x
    t = (x + w) / (2 * w)
    return 2 * w * t**3 * (1 - 0.5 * t)


class Equations:
    """The right-hand sides of honing, stropping and cutting, from the numbers of a campaign."""

    def __init__(self, campaign):
        values = campaign.parameters["value"].to_dict()
        self.p = values.__getitem__
        self.c = lambda key: self.p(f"coefficients.{key}")
        self.primary, self.micro = radians(self.p("tool.iron.primary_bevel_deg")), radians(self.p("tool.iron.micro_bevel_deg"))
        self.alpha = self.micro / 2
        self.width = 1e-3 * self.p("tool.iron.width_mm")
        self.hardness = 1e9 * self.p("steel.O1.hardness_GPa")
        self.least2 = (self.c("carbide_share") * self.p("steel.O1.carbide_um")) ** 2 + self.c("floor_radius_um") ** 2
        # geometry.hpp: land over depth of a micro-bevel
        self.land_per_depth = sin(self.primary) / (sin(self.micro) * sin(self.micro - self.primary))

    def floor(self, scratch):  # honing_floor.hpp
        return sqrt((self.c("radius_per_scratch") * scratch) ** 2 + self.least2)

    def distance(self, r, equilibrium):
        return 1 - (equilibrium / r) ** self.c("floor_exponent")

    def own_scratch(self, kind, size_um, pressure):  # scratch.hpp
        active = self.p(f"{kind}.active_grit_fraction") * (pressure / 0.8e6) ** self.c("active_grit_load_exponent")
        depth = tan(radians(self.p(f"{kind}.grit_angle_deg"))) * size_um * sqrt(2 * pressure / (pi * self.hardness * active))
        return depth * self.p(f"{kind}.protrusion")

    def least_depth(self, r):  # a land no shorter than the rounded apex
        return r / tan(self.alpha) / self.land_per_depth

    def honed(self, medium, force, stroke_mm, depth0):
        m = f"medium.{medium}"
        chi = (self.p(f"{m}.size_um") / self.c("critical_size_um")) ** self.c("size_exponent")
        k = self.c("abrasion") * self.p(f"{m}.cutting_rate") / self.p(f"{m}.loose_grit_divisor") * chi / (1 + chi)  # abrasion.hpp
        section = 1e6 * k * 1e3 * (force / self.width) * 1e-3 * stroke_mm / self.hardness  # µm·mm
        rest, strokes = self.p(f"{m}.glaze_floor"), self.p(f"{m}.glaze_strokes")

        def depth(n):  # glazing.hpp, land_growth.hpp
            fresh = rest * n + (1 - rest) * strokes * (1 - exp(-n / strokes))
            return sqrt(depth0**2 + 2 * section / (1e-3 * self.land_per_depth) * fresh)

        def rates(n, y):
            r, s, b = y
            h = depth(n)
            land = 1e-3 * self.land_per_depth * h
            a = section / land * (rest + (1 - rest) * exp(-n / strokes))
            pressure = force / self.width / (1e-3 * land)
            own = self.own_scratch(m, self.p(f"{m}.size_um"), pressure)
            r_inf = self.floor(s)
            opening = exp(-positive(r - r_inf, 0.1 * r_inf) / r_inf)  # burr.hpp
            return [
                -0.5 * a / (1 - sin(self.alpha)) * self.distance(r, r_inf),
                -a * (s - own) / (s + own),
                self.c("burr_growth") * a / sin(self.micro) * opening - self.c("burr_loss_one_sided") * b,
            ]

        return rates, depth

    def stropped(self, backing, compound, force, lap_mm, error_deg, depth):
        b, k = f"backing.{backing}", f"compound.{compound}"
        land = 1e-6 * self.land_per_depth * depth
        full = 1e-3 * self.p("tool.iron.thickness_mm") / sin(self.primary)
        load, thickness = force / (self.width * 1e6 * self.p(f"{b}.modulus_MPa")), 1e-3 * self.p(f"{b}.thickness_mm")
        step = self.micro - self.primary
        # pad_contact.hpp: a quadratic for the contact
        roots = np.roots([1 / thickness, 0.5 - land / thickness, -0.5 * land - load / tan(step)])
        contact = max(roots.real)
        if contact > full:
            contact = full
        sink = load / (1 / thickness + 1 / (2 * contact)) / contact
        pressure = force / (self.width * contact)
        sink_um = 1e6 * sink
        gap = tan(radians(error_deg)) * 1e6 * land + self.p(f"{b}.unevenness_um")  # stropping.hpp
        reach = 1 - exp(-sink_um / gap)
        removal = 1e-3 * self.p(f"{k}.removal_nm") * pressure / 40e3 * lap_mm / 200 * 7.1e9 / self.hardness
        own = self.own_scratch(k, self.p(f"{k}.size_um"), pressure)

        def rates(_, y):
            r, s, burr = y
            round_off = sqrt(self.floor(s) ** 2 + (self.c("drape") * sink_um) ** 2)
            a = reach * removal
            return [
                -a / (1 - sin(self.alpha)) * self.distance(r, round_off),
                -a * (s - own) / (s + own),
                -reach * self.c("burr_loss_strop") * burr,
            ]

        return rates

    def severity(self, wood):  # wood_severity.hpp, geometry.hpp
        w = f"wood.{wood}"

        def section(beta):
            return 1 / tan(beta / 2) - (pi / 2 - beta / 2)

        of_wood = (self.p(f"{w}.side_hardness_N") / 3150) ** self.c("wood_hardness_exponent") * self.p(f"{w}.extractive_factor")
        of_wood *= 1 + self.c("silica_per_pct") * self.p(f"{w}.silica_pct")
        return of_wood * self.p("steel.O1.wear_ratio") * 7.1e9 / self.hardness * section(radians(30)) / section(self.micro)

    def worn(self, law, wood, pass_m):
        s = self.severity(wood)
        k = lambda key: self.p(f"wear.{key}")  # noqa: E731
        laws = {
            "shared-load": lambda r, x: s * (0.5 * k("parting_um2_per_m") / r + k("crushing_um_per_m")),
        }
        critical = 1e6 * 1.5 * self.c("collapse_load_N_per_m") / (self.hardness / 3) * (1 + 1 / sin(self.alpha))  # collapse.hpp

        def rates(n, y):
            collapse = positive(critical - y[0], 0.1 * critical) / self.c("collapse_length_m")
            return [pass_m * (laws[law](y[0], pass_m * n) + collapse)]

        return rates


def solve(rates, start, end):
    done = solve_ivp(rates, (0.0, end), start, method="DOP853", rtol=1e-12, atol=1e-14)
    assert done.success
    return done.y[:, -1]


def test_fifty_random_histories():
    rng = np.random.default_rng(7)
    media = ["soft waterstone, JIS #1000", "oilstone, 9 µm", "plated diamond, 25 µm", "lapping film, 5 µm"]
    backings, compounds = ["thin hide on wood", "soft hide", "MDF"], ["chromium oxide 0.5 µm", "alumina 1 µm", "diamond 1 µm"]
    woods = ["sugar maple", "white oak", "teak", "coast Douglas-fir"]
    worst = 0.0
    for _ in range(50):
        medium, backing, compound, wood = (str(rng.choice(x)) for x in (media, backings, compounds, woods))
        primary = rng.uniform(20, 28)
        tool = arris.Tool(
            steel="O1",
            width_mm=rng.uniform(20, 60),
            thickness_mm=rng.uniform(2.5, 5),
            primary_bevel_deg=primary,
            micro_bevel_deg=primary + rng.uniform(2, 10),
            apex_radius_um=rng.uniform(0.3, 3),
            scratch_um=rng.uniform(0.05, 0.8),
            land_mm=rng.uniform(0.3, 1.2),
        )
        hone, strop, cut = (
            arris.hone(medium, strokes=rng.uniform(5, 80), force_N=rng.uniform(8, 25), stroke_mm=rng.uniform(60, 150)),
            arris.strop(backing, compound=compound, laps=rng.uniform(5, 60), force_N=rng.uniform(4, 15)),
            arris.cut(wood, passes=rng.uniform(20, 400), pass_m=rng.uniform(0.1, 1.0)),
        )
        campaign = arris.loads(
            arris.Configuration(
                tool={"iron": tool},
                edge={"A": arris.Edge(tool="iron", steps=[hone, strop, cut])},
                numerics=arris.Numerics(relative_tolerance=1e-9),
            ).to_toml()
        )
        steps = arris.simulate(campaign).steps("A")
        e = Equations(campaign)
        depth0 = max(1e3 * tool.land_mm / e.land_per_depth, e.least_depth(tool.apex_radius_um))
        rates, depth = e.honed(medium, hone.force_N, hone.stroke_mm, depth0)
        y = solve(rates, [tool.apex_radius_um, tool.scratch_um, 0.0], hone.strokes)
        got = [y]
        h = max(depth(hone.strokes), e.least_depth(y[RADIUS]))
        y = solve(e.stropped(backing, compound, strop.force_N, 200.0, 0.5, h), y, strop.laps)
        got.append(y)
        r = solve(e.worn("shared-load", wood, cut.pass_m), [y[RADIUS]], cut.passes)
        burr = y[BURR] * exp(-cut.passes * cut.pass_m / e.c("burr_break_off_m"))
        got.append(np.array([r[0], y[SCRATCH], burr]))
        for i, ours in enumerate(got):
            theirs = [float(steps[name][i]) for name in ("apex_radius_after_um", "scratch_after_um", "burr_after_um")]
            for a, b in zip(ours, theirs):
                worst = max(worst, abs(a - b) / max(abs(a), 0.01))
    # each step of the integration may err by 1e-9 relative (and 1e-11 µm); a history has some 100 of them, and errors shrink where
    # honing and stropping have an equilibrium: 1e-7 in the worst case. scipy's own are a thousand times less
    assert worst < 1e-7
