# SPDX-License-Identifier: MIT
"""What two builds of arris, by two compilers, make of the same configurations: every number of every curve, side by side, and the
parameters of a fit where a configuration names readings.

    compare_programs.py ONE OTHER CONFIGURATION...

Texts (names, steps) are the same, and numbers agree to a relative 1e-9, as those of the bench page's module do: what compilers and
libraries of mathematics round otherwise is some 1e-16 an operation, and the control of step sizes goes on smoothly from it, so that a
history of ten thousand steps has four orders of magnitude to spare. With one library of mathematics they have been the same bits.

Where a search ends depends on all histories before it, so that fitted parameters agree to what matters: a thousandth of their own
standard deviation. As many starts have to find the same end.
"""

import csv
import json
import math
import pathlib
import subprocess
import sys
import tempfile

TOLERANCE = 1e-9
FIT_TOLERANCE = 1e-3


def rows_of(program, configuration, folder):
    out = pathlib.Path(folder) / "curves.csv"
    subprocess.run([program, "simulate", configuration, "--quiet", "--csv", out], check=True)
    with open(out, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def number(text):
    try:
        return float(text)
    except ValueError:
        return None


def difference(one, other):
    """Relative to the larger; None where texts differ."""
    if one == other:
        return 0.0
    a, b = number(one), number(other)
    return None if a is None or b is None else abs(a - b) / max(abs(a), abs(b))


def fit_of(program, configuration):
    command = [program, "fit", configuration, "--no-profiles", "--quiet", "--json", "-"]
    return json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)


def apart(one, other):
    """Two values of a parameter, in standard deviations; one that is mostly its prior has that of the prior, as far as it is narrowed."""
    if one["path"] != other["path"]:
        return math.inf
    if one["value"] == other["value"]:
        return 0.0
    prior = one["prior"]
    width = math.log(prior["spread"]) if prior["shape"] == "log-normal" else prior["spread"]
    return abs(math.log(one["value"] / other["value"])) / one.get("log_sd", math.sqrt(one["prior_share"]) * width)


def compare_fits(one, other, configuration):
    """Prints how far the fits are apart; whether that is too far."""
    ours, theirs = fit_of(one, configuration), fit_of(other, configuration)
    worst, where = 0.0, "none"
    for a, b in zip(ours["parameters"], theirs["parameters"], strict=True):
        d = apart(a, b)
        if not d <= worst:
            worst, where = d, f"{a['path']}: {a['value']} and {b['value']}"
    agreeing = [fit["starts_agreeing"] for fit in (ours, theirs)]
    print(f"{configuration}: fit, starts that agree {agreeing}, largest difference {worst:.2g} standard deviations ({where})")
    return agreeing[0] != agreeing[1] or not worst <= FIT_TOLERANCE


def main(one, other, *configurations):
    failed = False
    for configuration in configurations:
        with tempfile.TemporaryDirectory() as folder:
            ours, theirs = rows_of(one, configuration, folder), rows_of(other, configuration, folder)
        if len(ours) != len(theirs) or not ours or ours[0].keys() != theirs[0].keys():
            print(f"{configuration}: {len(ours)} points and {len(theirs)}, or other columns")
            failed = True
            continue
        worst, where = 0.0, "none"
        for i, (a, b) in enumerate(zip(ours, theirs)):
            for name in a:
                d = difference(a[name], b[name])
                if d is None or d > worst:
                    worst, where = (float("inf") if d is None else d), f"{name} of point {i}: {a[name]} and {b[name]}"
        print(f"{configuration}: {len(ours)} points, largest relative difference {worst:.2g} ({where})")
        failed |= not worst <= TOLERANCE
        if "[readings]" in pathlib.Path(configuration).read_text(encoding="utf-8"):
            failed |= compare_fits(one, other, configuration)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
