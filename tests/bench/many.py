# SPDX-License-Identifier: MIT
"""What simulating many histories costs from Python, against the library alone, and against scipy's solve_ivp.

usage: PYTHONPATH=build/python python3 tests/bench/many.py [N]

Ends with 1 where a call takes 1.2 times what the library takes, at the quickest of seven, or a wear law of arrays more than 20 times the
processor time of the like law built in.
"""

import sys
import time

import numpy as np
from plain_history import smooth_positive
from scipy.integrate import solve_ivp

import arris
from arris import _core

TEXT = """
[tool.iron]
steel = "O1"
width_mm = 50
thickness_mm = 3
primary_bevel_deg = 25
micro_bevel_deg = 30
apex_radius_um = 0.1
[edge.A]
tool = "iron"
steps = [ { cut = "sugar maple", passes = 500, pass_m = 0.6 } ]
"""
NAMES = ["wear.parting_um2_per_m", "wear.crushing_um_per_m"]


LAW = {"k": 1.8e-3, "q": 0.7, "r0": 0.05}


def power(r, severity, k, q, r0):
    return k * severity / (r + r0) ** q


def laws(n):
    """What wear laws of Python take, one thread each, against those that are built in; how many times ``power`` each takes."""
    campaign = arris.loads(TEXT)
    built_in = {name: arris.loads(f'{TEXT}[wear]\nlaw = "{name}"\n') for name in ("shared-load", "power")}
    ours = {"of numbers": campaign.with_wear_law(power, LAW), "of arrays": campaign.with_wear_law(power, LAW, vectorized=True)}
    try:
        import numba
    except ImportError:
        print("  there is no numba")
    else:
        ours["of numba"] = campaign.with_wear_law(numba.cfunc("double(double, double, double, double, double)")(power), LAW)

    def seconds(of):
        path = next(p for p in of.parameters.index if p.startswith("wear."))
        rows = np.linspace(0.7, 1.4, n)[:, None] * float(of.parameters.loc[path, "value"])
        spent = []
        for _ in range(5):
            begun = time.process_time()
            arris.simulate_many(of, [path], rows, outputs="apex_radius_um", threads=1)
            spent.append(time.process_time() - begun)
        return min(spent) / n

    base = {name: seconds(of) for name, of in built_in.items()}
    times = {}
    for name, of in ours.items():
        own = seconds(of)
        times[name] = own / base["power"]
        told = ", ".join(f"{own / other:.0f} times {law}" for law, other in base.items())
        print(f"  wear law of Python, {name:10} {1e6 * own:8.2f} µs a history: {told}")
    return times


def main():
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    campaign = arris.loads(TEXT)
    rng = np.random.default_rng(1)
    values = np.column_stack([rng.uniform(1e-3, 5e-3, n), rng.uniform(5e-5, 3e-4, n)])
    whole, library = [], []
    for _ in range(7):
        begun = time.perf_counter()
        ours = arris.simulate_many(campaign, NAMES, values, outputs="apex_radius_um")
        whole.append(time.perf_counter() - begun)
        library.append(_core.simulate_many(campaign._core, NAMES, values, "", ["end"], ["apex_radius_um"], 0)[3])
    ratio = min(whole) / min(library)
    print(f"{n} histories: {min(whole):.4f} s from Python, {min(library):.4f} s in the library, ratio {ratio:.3f} (of the medians of 7: {np.median(whole) / np.median(library):.3f})")

    # the same histories by scipy, at the same relative tolerance: wear alone, with the severity that the library gives
    p = campaign.parameters["value"]
    severity = (p["wood.sugar maple.side_hardness_N"] / 3150) ** p["coefficients.wood_hardness_exponent"]
    severity *= p["wood.sugar maple.extractive_factor"] * (1 + p["coefficients.silica_per_pct"] * p["wood.sugar maple.silica_pct"])
    severity *= p["steel.O1.wear_ratio"] * 7.1 / p["steel.O1.hardness_GPa"]
    critical = 1e6 * 1.5 * p["coefficients.collapse_load_N_per_m"] / (p["steel.O1.hardness_GPa"] * 1e9 / 3) * (1 + 1 / np.sin(np.radians(15)))
    length, width = p["coefficients.collapse_length_m"], 0.1 * critical

    def rate(a, b):
        def f(_, y):
            r = y[0]
            return [0.6 * (severity * (0.5 * a / r + b) + smooth_positive(critical - r, width) / length)]

        return f

    few = min(n, 200)
    best = None
    for method in ("RK45", "RK23", "DOP853", "LSODA", "Radau", "BDF"):
        begun = time.perf_counter()
        theirs = [solve_ivp(rate(a, b), (0, 500), [0.1], method=method, rtol=1e-6, atol=1e-8).y[0, -1] for a, b in values[:few]]
        each = (time.perf_counter() - begun) / few
        apart = np.max(np.abs(np.array(theirs) / ours[:few, 0, 0] - 1))
        print(f"  solve_ivp {method:7} {1e6 * each:8.0f} µs a history, largest relative difference {apart:.1e}")
        best = each if best is None else min(best, each)
    per = np.median(whole) / n
    print(f"  arris            {1e6 * per:8.2f} µs a history; the fastest of scipy takes {best / per:.0f} times as long")
    slow = [f"a call takes {ratio:.2f} times the library"] if ratio >= 1.2 else []
    slow += [f"a law {name} takes {times:.0f} times power" for name, times in laws(n).items() if name != "of numbers" and times > 20]
    if slow:
        print("too slow: " + "; ".join(slow), file=sys.stderr)
    return int(bool(slow))


sys.exit(main())
