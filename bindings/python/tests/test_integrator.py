# SPDX-License-Identifier: MIT
"""scipy's solve_ivp on the equations at the head of the files in sim/laws, against the integrator, on 50 random histories."""

import dataclasses
import pathlib
import re
from math import exp, hypot, log, log1p, pi, radians, sin, sqrt, tan

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

import arris

#: constants that are fitted to the outline, by name: numbers of the laws of stropping, as no configuration has them
CONSTANTS = pathlib.Path(__file__).resolve().parents[3] / "sim" / "laws" / "outline_constants.hpp"
OUTLINE = {name: float(value) for name, value in re.findall(r"constexpr double (\w+) = ([-+.\de]+);", CONSTANTS.read_text(encoding="utf-8"))}


def positive(x, w):  # smooth.hpp
    if x <= -w:
        return 0.0
    if x >= w:
        return x
    t = (x + w) / (2 * w)
    return 2 * w * t**3 * (1 - 0.5 * t)


def step(x, w):  # its slope
    if x <= -w:
        return 0.0
    if x >= w:
        return 1.0
    t = (x + w) / (2 * w)
    return t * t * (3 - 2 * t)


@dataclasses.dataclass(frozen=True)
class State:
    """An edge between two steps, µm."""

    radius: float
    scratch: float
    burr: float
    bevel_depth: float
    dub: float = 0.0
    dub_depth: float = 0.0
    chip: float = 0.0


COLUMNS = {
    "radius": "apex_radius_after_um",
    "scratch": "scratch_after_um",
    "burr": "burr_after_um",
    "met_dub": "dub_after_um",
    "dub_depth": "dub_depth_after_um",
    "chip": "chip_after_um",
}


def solve(rates, start, end, joints, method="DOP853", rtol=1e-11, atol=1e-13):
    """The solution at `end`, from joint to joint, as no step is to pass one."""
    y = start
    between = [0.0, *sorted(n for n in joints if 0 < n < end), end]
    for a, b in zip(between[:-1], between[1:]):
        done = solve_ivp(rates, (a, b), y, method=method, rtol=rtol, atol=atol)
        if not done.success:
            raise RuntimeError(f"{method} did not get to the end: {done.message}")
        y = done.y[:, -1]
    return y


class Tip:
    """dub.hpp: a tip that is met once `excess` is off, here before there."""

    def __init__(self, excess):
        self.excess = excess

    def share(self, off):
        return step(off - self.excess, 0.5 * self.excess) if self.excess > 0 else 1.0

    def at_tip(self, off):
        return positive(off - self.excess, 0.5 * self.excess) if self.excess > 0 else off

    def left(self, off):
        return positive(self.excess - off, 0.5 * self.excess) if self.excess > 0 else 0.0

    def joints(self, off, end):
        """Strokes after which the tip begins to be met, and is met all along; `off` is what is off after so many."""
        goals = (0.5 * self.excess, 1.5 * self.excess) if self.excess > 0 else ()
        return [brentq(lambda n: off(n) - goal, 0, end, xtol=1e-12) for goal in goals if off(end) > goal]


class Equations:
    """Honing, stropping and cutting with one iron, from the numbers of a campaign."""

    def __init__(self, campaign, solve=solve):
        values = campaign.parameters["value"].to_dict()
        self.solve = solve
        self.p = values.__getitem__
        self.c = lambda key: self.p(f"coefficients.{key}")
        self.primary, self.micro = radians(self.p("tool.iron.primary_bevel_deg")), radians(self.p("tool.iron.micro_bevel_deg"))
        self.alpha = self.micro / 2
        self.width = 1e-3 * self.p("tool.iron.width_mm")
        self.hardness = 1e9 * self.p("steel.O1.hardness_GPa")
        self.rough2, self.exponent = self.c("radius_per_scratch") ** 2, self.c("floor_exponent")
        self.least2 = (self.c("carbide_share") * self.p("steel.O1.carbide_um") ** (1 / 3)) ** 2 + self.c("floor_radius_um") ** 2
        self.full_land = self.p("tool.iron.thickness_mm") / sin(self.primary)  # mm
        self.met_at = self.p("tester.contact_distance_um")
        # geometry.hpp: land over depth of a micro-bevel; a whole bevel touches over so much at most
        self.land_per_depth = 0.0
        if self.micro > self.primary:
            self.land_per_depth = sin(self.primary) / (sin(self.micro) * sin(self.micro - self.primary))
        else:
            self.full_land = min(self.full_land, self.p("tool.iron.bevel_contact_mm"))

    def begin(self):
        t = {key: self.p(f"tool.iron.{key}") for key in ("apex_radius_um", "scratch_um", "burr_um", "land_mm", "chip_um")}
        depth = 1e3 * t["land_mm"] / self.land_per_depth if self.land_per_depth else 0.0
        return State(t["apex_radius_um"], t["scratch_um"], t["burr_um"], depth, chip=t["chip_um"])

    def land(self, depth):  # mm
        return 1e-3 * self.land_per_depth * depth if self.land_per_depth else self.full_land

    def depth_at_start(self, state):  # a land no shorter than the rounded apex
        if not self.land_per_depth:
            return state.bevel_depth
        return max(state.bevel_depth, state.radius / tan(self.alpha) / self.land_per_depth)

    def floor(self, scratch):  # honing_floor.hpp
        return sqrt(self.rough2 * scratch**2 + self.least2)

    def distance(self, r, equilibrium):
        return 1 - (equilibrium / r) ** self.exponent

    def own_scratch(self, kind, pressure):  # scratch.hpp
        active = self.p(f"{kind}.active_grit_fraction") * (pressure / 0.8e6) ** self.c("active_grit_load_exponent")
        flank, size = tan(radians(self.p(f"{kind}.grit_angle_deg"))), self.p(f"{kind}.size_um")
        return flank * size * sqrt(2 * pressure / (pi * self.hardness * active)) * self.p(f"{kind}.protrusion")

    def met_dub(self, state):
        """dub.hpp: what counts of a dub beside the arc of the tip."""
        return state.dub * positive(1 - state.radius * (1 - sin(self.alpha)) / self.met_at, 0.25)

    def wider(self, angle):
        """dub.hpp: what faces steeper by `angle` add to the radius that is met."""
        a = self.alpha
        return self.met_at * (tan(a + angle) - tan(a)) / (tan(a) * (1 / sin(a) - 1))

    def force(self, step, per_mm):
        return step.force_N if step.force_N is not None else per_mm * 1e3 * self.width

    def hone(self, state, step, used=0.0):
        """The state after honing with `step`, on a medium that has taken `used` strokes since it was dressed."""
        m = f"medium.{step.hone}"
        force, stroke_mm = self.force(step, 0.4), step.stroke_mm or 100.0
        chi = (self.p(f"{m}.size_um") / self.c("critical_size_um")) ** self.c("size_exponent")
        k = self.c("abrasion") * self.p(f"{m}.cutting_rate") / self.p(f"{m}.loose_grit_divisor") * chi / (1 + chi)  # abrasion.hpp
        section = 1e6 * k * 1e3 * (force / self.width) * 1e-3 * stroke_mm / self.hardness  # µm·mm
        rest, strokes = self.p(f"{m}.glaze_floor"), self.p(f"{m}.glaze_strokes")
        depth0 = self.depth_at_start(state)

        def fresh(n):  # glazing.hpp
            return rest + (1 - rest) * exp(-(used + n) / strokes)

        def depth(n):  # land_growth.hpp
            effective = rest * n + (1 - rest) * strokes * (exp(-used / strokes) - exp(-(used + n) / strokes))
            if self.land_per_depth:
                return sqrt(depth0**2 + 2 * section / (1e-3 * self.land_per_depth) * effective)
            return depth0 + section / self.full_land * effective

        # dub.hpp: the hand makes a bevel convex; what a strop left beyond that is honed away before the tip is met
        scatter = radians(step.angle_scatter_deg or 0.0)
        round_depth = scatter * 1e3 * self.land(depth0) / 4
        tip = Tip(positive(state.dub_depth - round_depth, 0.1 * round_depth))
        scratch_at_1_Pa, with_load = self.own_scratch(m, 1.0), 0.5 * (1 - self.c("active_grit_load_exponent"))
        fall, growth = 0.5 / (1 - sin(self.alpha)), self.c("burr_growth") / sin(self.micro)
        # burr.hpp
        limit = self.c("burr_limit_um") * (self.own_scratch(m, 0.8e6) / 0.1) ** self.c("burr_limit_exponent")
        t = min(max((state.burr - limit) / (0.5 * limit), 0.0), 1.0)
        lost = self.c("burr_loss_one_sided") * t * t * (3 - 2 * t)

        def rates(n, y):
            r, s, b = y
            h = depth(n)
            land = self.land(h)
            a = section / land * fresh(n)
            met = a * tip.share(h - depth0)
            own = scratch_at_1_Pa * (force / self.width / (1e-3 * land)) ** with_load
            r_inf = self.floor(s)
            opening = exp(-positive(r - r_inf, 0.1 * r_inf) / r_inf)
            return [
                -met * fall * self.distance(r, r_inf),
                -a * (s - own) / (s + own),
                growth * met * opening * (1 - b / limit) - lost * (b - limit),
            ]

        joints = tip.joints(lambda n: depth(n) - depth0, step.strokes)
        r, s, b = self.solve(rates, [state.radius, state.scratch, state.burr], step.strokes, joints)
        off = depth(step.strokes) - depth0
        made = 1 - exp(-off / round_depth) if round_depth > 0 else 1.0
        by_hand = state.dub_depth - tip.excess
        return State(
            r, s, b, depth(step.strokes),
            state.dub + (self.wider(1.5 * scatter) - state.dub) * tip.share(off) * made,
            tip.left(off) + (by_hand + (round_depth - by_hand) * made if round_depth > 0 else 0.0),
            positive(state.chip - off / sin(self.micro), 0.1 * state.chip),  # chipping.hpp
        )

    def strop(self, state, step):
        b, k = f"backing.{step.strop}", f"compound.{step.compound}"
        force, lap_mm = self.force(step, 0.2), step.stroke_mm or 200.0
        modulus, thickness = self.p(f"{b}.modulus_MPa"), self.p(f"{b}.thickness_mm")
        land = self.land(self.depth_at_start(state))  # mm
        line = force / self.width  # N/m, N/mm of a modulus in MPa is 1e-3 of it
        contact = land
        if self.land_per_depth:  # pad_contact.hpp: a quadratic for the contact
            sunk = 1e-3 * line / modulus / tan(self.micro - self.primary)
            roots = np.roots([1 / thickness, 0.5 - land / thickness, -0.5 * land - sunk])
            contact = min(max(roots.real), self.full_land)
        mean = 1e-3 * line / contact  # MPa
        # stropping.hpp: strength of the pressure at the end of the land, as the blade is held
        per_tilt = OUTLINE["hand"] * 1e3 * modulus * contact / line * (pi / 4 + contact / (2 * thickness))
        scatter = 0.25 if step.angle_scatter_deg is None else step.angle_scatter_deg
        wobble = per_tilt * hypot(radians(scatter), 1e-3 * self.p(f"{b}.unevenness_um") / land)
        held = positive(1 + radians(step.angle_offset_deg or 0.0) * per_tilt, 1.0)
        factor = max(hypot(held, wobble), 1e-3)
        unsteady = (wobble / factor) ** 2
        along = 1e3 * sqrt(land * contact)  # µm
        strength = factor * line / (pi * sqrt(along)) * (1 + (along / (1630 * thickness)) ** 2) ** -0.25
        length, strain = (strength / modulus) ** 2, mean / modulus * sqrt(2 * factor**2 / (1 + factor**2))
        removal = 1e-3 * self.p(f"{k}.removal_nm") / 0.04 * lap_mm / 200 * 7.1e9 / self.hardness  # µm per MPa and lap
        down = removal * mean

        # dub.hpp
        share, depth_share = self.c("dub_share"), self.c("dub_depth_share")

        def depth(w):
            return depth_share * OUTLINE["depth"] * w * sqrt(length / ((1 + w / along) * (w + OUTLINE["depth_onset"] * length)))

        def angle(part, even, w):  # of a pressure whose strength is `part`, and its mean strain `even`
            q = sqrt(part / w + (OUTLINE["mean_share"] * even) ** 2)
            over = w / (1 + OUTLINE["land_share"] * w / along)
            onset = 1 + OUTLINE["onset"] * part / w
            return OUTLINE["angle"] * q * log1p(OUTLINE["reach"] * over / (self.met_at + OUTLINE["even_share"] * part)) / onset

        def dub(w):
            if w <= 0:
                return 0.0
            # the hand meets the edge anew in each lap, and what it adds has worn in over no more than that
            by_hand = angle(unsteady * length, 0.0, 1 / (1 / w + 1 / (removal * modulus)))
            free = hypot(angle((1 - unsteady) * length, strain, w), by_hand)
            return share * self.wider(free / hypot(1, free / (OUTLINE["steepest"] * (pi / 2 - self.alpha))))

        def made(w, r):  # until the pad has worn in over it, it bears on the arc
            return dub(w) * w / (w + r * (1 / sin(self.alpha) - 1)) if w > 0 else 0.0

        deepest = depth_share * OUTLINE["depth"] * sqrt(length * along)

        def worn_in(known):
            return exp(brentq(lambda u: depth(exp(u)) - known, log(1e-9), log(1e9), xtol=1e-13)) if known > 0 else 0.0

        excess = positive(state.dub_depth - 0.95 * deepest, 0.04 * deepest)
        known = state.dub_depth - excess
        # another pad has dubbed the tip by more than this one makes of it
        beyond = max(0.0, state.dub - dub(worn_in(known)))
        back = (1 - sin(self.alpha)) * beyond**2 / (beyond + 0.1 * self.met_at)
        if back > 0:
            excess += back * known / (back + known)
        tip = Tip(excess if excess > 1e-6 else 0.0)
        worn0 = worn_in(state.dub_depth - tip.excess)

        def worn(n):
            return worn0 + removal * modulus * tip.at_tip(down * n) / down

        own, fall = self.own_scratch(k, 1e6 * mean), 1 / (1 - sin(self.alpha))

        def rates(n, y):
            r, s = y
            load = length / (OUTLINE["worn_in_share"] * worn(n) + r) + strain**2
            off = removal * modulus * sqrt(load / (1 + load)) * tip.share(down * n)
            return [-off * fall * self.distance(r, self.floor(s)), -off * (s - own) / (s + own)]

        r, s = self.solve(rates, [state.radius, state.scratch], step.laps, tip.joints(lambda n: down * n, step.laps))
        w = worn(step.laps)
        return dataclasses.replace(
            state,
            radius=r,
            scratch=s,
            burr=state.burr * exp(-self.c("burr_loss_strop") * step.laps),
            dub=made(w, r) + (state.dub - made(worn0, state.radius)) * exp(-(w - worn0) / self.met_at),
            dub_depth=depth(w) + tip.left(down * step.laps),
        )

    def severity(self, wood):  # wood_severity.hpp, geometry.hpp
        w = f"wood.{wood}"

        def section(beta):
            return 1 / tan(beta / 2) - (pi / 2 - beta / 2)

        of_wood = (self.p(f"{w}.side_hardness_N") / 3150) ** self.c("wood_hardness_exponent") * self.p(f"{w}.extractive_factor")
        of_wood *= 1 + self.c("silica_per_pct") * self.p(f"{w}.silica_pct")
        return of_wood * self.p("steel.O1.wear_ratio") * 7.1e9 / self.hardness * section(radians(30)) / section(self.micro)

    def cut(self, state, step):
        """The state after cutting by the law of shared load."""
        s, pass_m = self.severity(step.cut), step.pass_m
        parting, crushing = self.p("wear.parting_um2_per_m"), self.p("wear.crushing_um_per_m")
        collapse_m = self.c("collapse_length_m")
        critical = 1e6 * 1.5 * self.c("collapse_load_N_per_m") / (self.hardness / 3) * (1 + 1 / sin(self.alpha))  # collapse.hpp

        borne = OUTLINE["borne"] * sin(self.alpha) * state.dub * self.met_at**-0.85  # dub.hpp

        def rates(_, y):
            collapse = positive(critical - y[0], 0.1 * critical) / collapse_m
            return [pass_m * (s * (0.5 * parting / y[0] + crushing) + collapse)]

        (met,) = self.solve(rates, [state.radius + borne], step.passes, [])
        r = met - borne
        # chipping.hpp
        wood = self.p(f"wood.{step.cut}.side_hardness_N") / 6450
        strength = self.hardness / 3 * self.p("steel.O1.carbide_um") ** -0.25
        deepest = 1.5e6 * self.c("chip_load_N_per_m") * wood / strength / tan(self.alpha) ** 2
        most = positive(deepest - self.c("chip_least_um"), 0.1 * self.c("chip_least_um"))
        nicks, length_m = 1e-3 * self.c("nicks_um_per_km") * wood, self.c("chip_length_m")

        def breaking(_, y):
            return [pass_m * (max(0.0, most - y[0]) / length_m + nicks)]

        (chip,) = self.solve(breaking, [state.chip], step.passes, [])
        return dataclasses.replace(state, radius=r, chip=chip, burr=state.burr * exp(-step.passes * pass_m / self.c("burr_break_off_m")))


def as_simulated(steps, row):
    """The components of the state after a step that stand in COLUMNS."""
    return np.array([float(steps[column][row]) for column in COLUMNS.values()])


def components(equations, state):
    met_dub = {"met_dub": equations.met_dub(state)}
    return np.array([met_dub[name] if name in met_dub else getattr(state, name) for name in COLUMNS])


def test_fifty_random_histories():
    rng = np.random.default_rng(7)
    media = ["soft waterstone, JIS #1000", "oilstone, 9 µm", "plated diamond, 25 µm", "lapping film, 5 µm"]
    backings, compounds = ["thin hide on wood", "soft hide", "MDF"], ["chromium oxide 0.5 µm", "alumina 1 µm", "diamond 1 µm"]
    woods = ["sugar maple", "white oak", "teak", "coast Douglas-fir"]
    worst = 0.0

    def hone(strokes):
        by_hand = rng.uniform(0.1, 1.0) if rng.uniform() < 0.5 else 0.0
        # one in three with the usual force
        force = rng.uniform(8, 25) if rng.uniform() < 0.67 else None
        return arris.hone(str(rng.choice(media)), strokes=strokes, force_N=force, stroke_mm=rng.uniform(60, 150), angle_scatter_deg=by_hand)

    def strop():
        held, scatter = rng.uniform(-1, 1), rng.uniform(0, 0.6)
        force = rng.uniform(4, 15) if rng.uniform() < 0.67 else None
        return arris.strop(
            str(rng.choice(backings)), compound=str(rng.choice(compounds)), laps=rng.uniform(5, 60), force_N=force,
            angle_offset_deg=held, angle_scatter_deg=scatter,
        )

    for _ in range(50):
        primary = rng.uniform(20, 28)
        # one in four without a micro-bevel
        micro = {"micro_bevel_deg": primary + rng.uniform(2, 10), "land_mm": rng.uniform(0.3, 1.2)} if rng.uniform() < 0.75 else {}
        tool = arris.Tool(
            steel="O1",
            width_mm=rng.uniform(20, 60),
            thickness_mm=rng.uniform(2.5, 5),
            primary_bevel_deg=primary,
            apex_radius_um=rng.uniform(0.3, 3),
            scratch_um=rng.uniform(0.05, 0.8),
            burr_um=rng.uniform(0, 15),
            chip_um=rng.uniform(0, 10),
            **micro,
        )
        # a harder or a softer pad on what the first one dubbed, then a stone that must come down to the tip
        cut = arris.cut(str(rng.choice(woods)), passes=rng.uniform(20, 400), pass_m=rng.uniform(0.1, 1.0))
        done = [hone(rng.uniform(5, 80)), strop(), strop(), hone(rng.uniform(5, 80)), cut]
        campaign = arris.loads(
            arris.Configuration(
                tool={"iron": tool},
                edge={"A": arris.Edge(tool="iron", steps=done)},
                numerics=arris.Numerics(relative_tolerance=1e-9),
            ).to_toml()
        )
        steps = arris.simulate(campaign).steps("A")
        e = Equations(campaign)
        state, used = e.begin(), {}
        for row, s in enumerate(done):
            if isinstance(s, arris.hone):
                state = e.hone(state, s, used.get(s.hone, 0.0))
                used[s.hone] = used.get(s.hone, 0.0) + s.strokes
            else:
                state = e.strop(state, s) if isinstance(s, arris.strop) else e.cut(state, s)
            ours = components(e, state)
            worst = max(worst, float(np.max(np.abs(ours - as_simulated(steps, row)) / np.maximum(np.abs(ours), 0.01))))
    # each step of the integration may err by 1e-9 relative (and 1e-11 µm); a history has some 100 of them, and errors shrink where
    # honing and stropping have an equilibrium: 1e-7 in the worst case. scipy's own are a thousand times less
    assert worst < 1e-7
