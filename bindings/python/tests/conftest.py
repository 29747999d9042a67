# SPDX-License-Identifier: MIT
import os
import pathlib
import subprocess

import pytest

import arris

SOURCE = pathlib.Path(os.environ["ARRIS_SOURCE_DIR"])
YARD = SOURCE / "configs" / "boatyard" / "boatyard.toml"

SMALL = """
title = "One iron"
[tool.iron]
steel = "O1"
width_mm = 50
thickness_mm = 3
primary_bevel_deg = 25
micro_bevel_deg = 30
[edge.A]
tool = "iron"
steps = [
  { hone = "soft waterstone, JIS #1000", strokes = 20, after_burr = true },
  { back = "soft waterstone, JIS #1000", strokes = 10 },
  { read = "honed" },
  { cut = "sugar maple", passes = 100 },
  { read = "worn" },
]
"""


@pytest.fixture(scope="session")
def yard():
    return arris.load(YARD)


@pytest.fixture(scope="session")
def small():
    return arris.loads(SMALL)


@pytest.fixture(scope="session")
def program():
    """Runs the command line; its standard output."""

    def run(*words, code=0):
        done = subprocess.run([os.environ["ARRIS_PROGRAM"], *map(str, words)], capture_output=True, text=True)
        assert done.returncode == code, done.stderr
        return done.stdout

    return run
