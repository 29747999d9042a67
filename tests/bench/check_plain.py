# SPDX-License-Identifier: MIT
"""Holds plain_history.py against plain_history.hpp: check_plain.py FILE, where FILE has a line of JSON for each step of a history.

A line has the function, its numbers, and places n, y with the dy that C++ has there. Exit code 1 where Python's are others.
"""

import json
import pathlib
import sys

import numpy as np

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))

import plain_history  # noqa: E402


def main():
    worst, places, by_function = 0.0, 0, {}
    for line in pathlib.Path(sys.argv[1]).read_text(encoding="utf-8").splitlines():
        step = json.loads(line)
        rates = getattr(plain_history, step["function"])(step["numbers"])
        for place in step["places"]:
            here, there = np.array(rates(place["n"], np.array(place["y"]))), np.array(place["dy"])
            off = float(np.max(np.abs(here - there) / np.maximum(np.abs(there), 1e-6)))  # differences that all but cancel, near rest
            worst, places = max(worst, off), places + 1
            by_function[step["function"]] = max(by_function.get(step["function"], 0.0), off)
    print(f"{places} places, worst {worst:.2g}, by function {by_function}")
    return 0 if places >= 100 and len(by_function) == 3 and worst < 1e-9 else 1


if __name__ == "__main__":
    sys.exit(main())
