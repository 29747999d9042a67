# SPDX-License-Identifier: MIT
"""What two builds of arris, by two compilers, make of the same configurations: every number of every curve, side by side.

    compare_programs.py ONE OTHER CONFIGURATION...

Texts (names, steps) are the same, and numbers agree to a relative 1e-9, as those of the bench page's module do: what compilers and
libraries of mathematics round otherwise is some 1e-16 an operation, and the control of step sizes goes on smoothly from it, so that a
history of ten thousand steps has four orders of magnitude to spare. With one library of mathematics they have been the same bits.
"""

import csv
import pathlib
import subprocess
import sys
import tempfile

TOLERANCE = 1e-9


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
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
