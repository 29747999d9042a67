# SPDX-License-Identifier: MIT
"""Writes what the fit of the default parameters came to (`./dev calibrate`):

    write_defaults.py fitted FITTED.toml RESIDUALS.csv --header CALIBRATED.hpp --result RESULT.md
    write_defaults.py rules SENSITIVITIES.csv --header RULES_OF_THUMB_TABLE.hpp

The header holds the fitted values, for the program to be built with; the other file tells how well each fact is met. FITTED and
RESIDUALS are what `arris fit --fitted FITTED --residuals RESIDUALS` writes. Neither file is touched unless both can be made. The
second form writes what the facts say of all parameters together, by what `arris fit --sensitivities` of a program built with these values says.
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


RULES = """\
// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>
#include <string_view>

/// What facts of the trade say of all parameters together (rules_of_thumb.hpp): common practice, no source. Written by `./dev
/// calibrate` from configs/calibration. One row per parameter: its default, and by how many spreads of each fact the log of
/// that reading moves per width of its prior.
// clang-format off
namespace arris::rules_of_thumb {{

inline constexpr std::size_t facts = {facts};

struct Row {{
  std::string_view          path;
  double                    value;
  std::array<double, facts> by_fact;
}};

inline constexpr std::array<Row, {count}> table{{{{
{rows}}}}};

}}  // namespace arris::rules_of_thumb
"""
LEAST = 0.005  # spreads of any fact: what moves none by as much is not in the table


def rules_of(rows):
    lines = []
    for row in rows:
        path, value, *moves = row.values()
        if max(abs(float(x)) for x in moves) < LEAST:
            continue
        lines.append('    {{"{}", {}, {{{}}}}},\n'.format(path, value, ", ".join(f"{float(x):.3g}" for x in moves)))
    return RULES.format(facts=len(rows[0]) - 2, count=len(lines), rows="".join(lines))


def write(path, text):
    """Leaves a file alone that says so already: nearly all sources read these headers."""
    if not path.exists() or path.read_text(encoding="utf-8") != text:
        path.write_text(text, encoding="utf-8", newline="\n")


def write_fitted(given):
    configuration = tomllib.loads(given.fitted.read_text(encoding="utf-8"))
    with open(given.residuals, encoding="utf-8", newline="") as file:
        facts = list(csv.DictReader(file))
    header, result = header_of(configuration), result_of(facts)
    write(given.header, header)
    write(given.result, result)


def write_rules(given):
    with open(given.sensitivities, encoding="utf-8", newline="") as file:
        header = rules_of(list(csv.DictReader(file)))
    write(given.header, header)


def main():
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    kinds = options.add_subparsers(required=True)
    fitted = kinds.add_parser("fitted")
    fitted.add_argument("fitted", type=pathlib.Path)
    fitted.add_argument("residuals", type=pathlib.Path)
    fitted.add_argument("--header", type=pathlib.Path, required=True)
    fitted.add_argument("--result", type=pathlib.Path, required=True)
    fitted.set_defaults(write=write_fitted)
    rules = kinds.add_parser("rules")
    rules.add_argument("sensitivities", type=pathlib.Path)
    rules.add_argument("--header", type=pathlib.Path, required=True)
    rules.set_defaults(write=write_rules)
    given = options.parse_args()
    given.write(given)


if __name__ == "__main__":
    main()
