# SPDX-License-Identifier: MIT
"""Writes what the fit of the default parameters came to (`./dev calibrate`):

    write_defaults.py FITTED.toml RESIDUALS.csv --header CALIBRATED.hpp --result RESULT.md

The header holds the fitted values, for the program to be built with; the other file tells how well each fact is met. FITTED and
RESIDUALS are what `arris fit --fitted FITTED --residuals RESIDUALS` writes. Neither file is touched unless both can be made.
"""

import argparse
import csv
import pathlib
import tomllib

TABLES = ("coefficients", "tester", "wear")  # whose fitted values are defaults of laws
FARTHEST = 2  # spreads from a fact up to which it counts as met

HEADER = """\
// SPDX-License-Identifier: MIT
#pragma once

/// Default values of the laws that were fitted to facts of the trade: common practice, no source. Written by
/// `./dev calibrate` from configs/calibration, to three figures; how well each fact is met stands there in RESULT.md.
// clang-format off
namespace arris::calibrated {{

{values}
}}  // namespace arris::calibrated
"""

RESULT = """\
# How well the default parameters meet the facts of the trade

Written by `./dev calibrate`. Every fact is common practice without a source, put into gram-force here; the spread is
that in which it is believed (facts.csv), and a residual beyond 2 of it is a fact that the model cannot meet.

| fact (common practice, no source) | edge, moment | stated gf | model gf | residual in spreads |
|---|---|---|---|---|
{facts}"""


def fitted_values(configuration):
    """Name and value of each parameter that the fit set, in the order of the file. Other values stand there without a status."""
    for table in TABLES:
        for name, value in configuration[table].items():
            if isinstance(value, dict) and value.get("status", "").startswith("fitted"):
                yield name, value["value"]


def header_of(configuration):
    values = (f"inline constexpr double {name} = {value:.3g};\n" for name, value in fitted_values(configuration))
    return HEADER.format(values="".join(values))


def row_of(fact):
    missed = " **not met**" if abs(float(fact["in_sd"])) > FARTHEST else ""
    stated, predicted = float(fact["measured"]), float(fact["predicted"])
    return (
        f"| {fact['note']} | {fact['edge']}, {fact['moment']} | {stated:.0f} | {predicted:.0f} "
        f"| {fact['in_sd']}{missed} |\n"
    )


def result_of(facts):
    return RESULT.format(facts="".join(row_of(fact) for fact in facts))


def main():
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("fitted", type=pathlib.Path)
    options.add_argument("residuals", type=pathlib.Path)
    options.add_argument("--header", type=pathlib.Path, required=True)
    options.add_argument("--result", type=pathlib.Path, required=True)
    given = options.parse_args()

    configuration = tomllib.loads(given.fitted.read_text(encoding="utf-8"))
    with open(given.residuals, encoding="utf-8", newline="") as file:
        facts = list(csv.DictReader(file))
    header, result = header_of(configuration), result_of(facts)
    given.header.write_text(header, encoding="utf-8", newline="\n")
    given.result.write_text(result, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
