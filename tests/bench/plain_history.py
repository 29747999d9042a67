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


def share_met(depth, excess):
    if excess <= 0:
        return 1.0
    t = min(max(depth / excess - 0.5, 0.0), 1.0)
    return t * t * (3 - 2 * t)


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
        met = a * share_met(h - p["start_depth_um"], p["excess_um"])
        opening = exp(-smooth_positive(r - floor, p["opening_half_width"] * floor) / floor)
        return [
            -0.5 * met / (1 - p["sin_half"]) * (1 - (floor / r) ** p["exponent"]),
            -a * (s - own) / (s + own),
            p["burr_growth"] * met * opening * (1 - b / p["burr_limit_um"]) - p["burr_loss"] * (b - p["burr_limit_um"]),
            a,
        ]

    return rates


LEAST_UM = 1e-4  # below it a solver only tries: where it strides upon a tip that was not met before


def stropping(p):
    def rates(n, y):
        r, s, b, _ = y.tolist()
        r, s = max(r, LEAST_UM), max(s, LEAST_UM)
        laps = n
        if p["excess_um"] > 0:
            laps = smooth_positive(p["down_um"] * n - p["excess_um"], 0.5 * p["excess_um"]) / p["down_um"]
        load = p["length_um"] / (p["worn_in_share"] * (p["start_worn_in_um"] + p["per_MPa"] * p["modulus_MPa"] * laps) + r) + p["strain"] ** 2
        worked = share_met(p["down_um"] * n, p["excess_um"]) * p["per_MPa"] * p["modulus_MPa"] * sqrt(load / (1 + load))
        leads_to = sqrt((p["radius_per_scratch"] * s) ** 2 + p["least_um2"])
        return [
            -worked / (1 - p["sin_half"]) * (1 - (leads_to / r) ** p["exponent"]),
            -worked * (s - p["own_scratch_um"]) / (s + p["own_scratch_um"]),
            -p["burr_loss"] * b,
            0.0,
        ]

    return rates


def cutting(p):
    def rates(n, y):
        r, _, b, _ = y.tolist()
        r += p["borne_um"]  # what a dub adds to the radius that the load meets
        thin = smooth_positive(p["critical_radius_um"] - r, 0.1 * p["critical_radius_um"]) / p["collapse_length_m"]
        return [
            p["pass_m"] * (0.5 * p["parting_um2_per_m"] / r + p["crushing_um_per_m"] + thin),
            0.0,
            -p["pass_m"] * b / p["burr_break_off_m"],
            0.0,
        ]

    return rates
