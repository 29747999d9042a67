# SPDX-License-Identifier: MIT
"""The shares on a terminal."""

import argparse
import os
import pathlib

from validation.coverage.bands import HEADS, rows_of, tallies
from validation.outside import ROOT

words = argparse.ArgumentParser(prog="validation.coverage", description="Whether bands of 90 % hold 90 % where no law is the true one")
words.add_argument("--build", type=pathlib.Path, default=ROOT / "build", help="build directory")
words.add_argument("--campaigns", type=int, default=2, help="campaigns of each truth (2)")
words.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="campaigns at the same time")
given = words.parse_args()
for row in rows_of(tallies(given.build.resolve() / "arris", given.campaigns, given.jobs)):
    print("\n".join(f"{head}: {cell}" for head, cell in zip(HEADS, row)), end="\n\n")
