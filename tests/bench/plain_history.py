# SPDX-License-Identifier: MIT
"""The right-hand sides of plain_history.hpp as somebody would write them for scipy: y = [radius, scratch, burr, depth].

Each function takes the numbers of one step and returns f(n, y). A slip here shows as an error of solve_ivp against the reference.
"""

from math import exp, sqrt, tan


def smooth_positive(x, width):
    if x <= -width:
        return 0.0
    if x >= width:
        return x
    t = (x + width) / (2 * width)
    return 2 * width * t**3 * (1 - 0.5 * t)


def honing(p):
    def rates(n, y):
        r, s, b, h = y.tolist()
        land_mm = 1e-3 * p["land_per_depth"] * h
        a = p["section_per_stroke"] / land_mm
        a *= p["glaze_floor"] + (1 - p["glaze_floor"]) * exp(-(p["used"] + n) / p["glaze_strokes"])
        floor = sqrt((p["radius_per_scratch"] * s) ** 2 + p["least_um2"])
        over = p["force_per_width"] / (1e-3 * land_mm)
        active = p["active_fraction"] * (over / p["reference_Pa"]) ** p["load_exponent"]
        own = tan(p["grit_angle"]) * p["size_um"] * sqrt(2 * over / (3.141592653589793 * p["hardness_Pa"] * active)) * p["protrusion"]
        opening = exp(-smooth_positive(r - floor, p["opening_half_width"] * floor) / floor)
        return [
            -0.5 * a / (1 - p["sin_half"]) * (1 - (floor / r) ** p["exponent"]),
            -a * (s - own) / (s + own),
            p["burr_growth"] * a / p["sin_included"] * opening - p["burr_loss"] * b,
            a,
        ]

    return rates


def stropping(p):
    def rates(n, y):
        r, s, b, _ = y.tolist()
        worked = p["reach"] * p["removal_um"]
        floor2 = (p["radius_per_scratch"] * s) ** 2 + p["least_um2"]
        leads_to = sqrt(floor2 + (p["drape"] * p["sink_um"]) ** 2)
        return [
            -worked / (1 - p["sin_half"]) * (1 - (leads_to / r) ** p["exponent"]),
            -worked * (s - p["own_scratch_um"]) / (s + p["own_scratch_um"]),
            -p["reach"] * p["burr_loss"] * b,
            0.0,
        ]

    return rates


def cutting(p):
    def rates(n, y):
        r, _, b, _ = y.tolist()
        thin = smooth_positive(p["critical_radius_um"] - r, 0.1 * p["critical_radius_um"]) / p["collapse_length_m"]
        return [
            p["pass_m"] * (0.5 * p["parting_um2_per_m"] / r + p["crushing_um_per_m"] + thin),
            0.0,
            -p["pass_m"] * b / p["burr_break_off_m"],
            0.0,
        ]

    return rates
