# SPDX-License-Identifier: MIT
"""Makes the default parameters out of the facts of the trade (`./dev calibrate`), with the Python module of the program in the path:

    write_defaults.py fitted --header CALIBRATED.hpp --result RESULT.md --moments MOMENTS.toml
    write_defaults.py rules SENSITIVITIES.csv --moments MOMENTS.toml --header RULES_OF_THUMB_TABLE.hpp --draws RULES_OF_THUMB_DRAWS.hpp

The first fits (facts.py) and writes the values, for the program to be built with, and how well each fact is met. MOMENTS names every reading
that a fact speaks of: `arris fit MOMENTS --sensitivities SENSITIVITIES` of a program built with the new values is what the second form
turns into what the facts say of all parameters together: to first order, and as draws. No file is touched unless all can be made.
"""

from __future__ import annotations

import argparse
import csv
import json
import multiprocessing
import pathlib
import tomllib
from typing import TYPE_CHECKING

import facts as trade
import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

FARTHEST = 1.5  # spreads from a fact up to which it counts as met
STARTS = 16  # searches

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

Written by `./dev calibrate`. Every fact is common practice without a source, put into gram-force here; the spread is that in which it is
believed (facts.csv, rises.csv). A residual is what is stated less what the model reads, in spreads; one beyond {farthest:g} counts as not met.

| reading (common practice, no source) | edge, moment | stated gf | model gf | residual in spreads |
|---|---|---|---|---|
{levels}
| rise (common practice, no source) | edge, from, to | stated gf | model gf | residual in spreads |
|---|---|---|---|---|
{rises}"""


def header_of(heard: trade.Heard) -> str:
    fitted = {path: value for path, value in heard.values.items() if path != trade.SLOPE}
    values = (f"inline constexpr double {path.split('.')[-1]} = {value:.3g};\n" for path, value in fitted.items())
    return HEADER.format(values="".join(values))


def row_of(note: str, place: Sequence[str], stated: float, ours: float, miss: float) -> str:
    missed = " **not met**" if abs(miss) > FARTHEST else ""
    return f"| {note} | {', '.join(place)} | {stated:g} | {ours:.{0 if stated > 50 else 1}f} | {miss:+.2f}{missed} |\n"


def result_of(facts: trade.Facts, heard: trade.Heard) -> str:
    n = len(facts.levels)
    levels = [row_of(f.note, f.moment, f.gf, heard.readings[f.moment], miss) for f, miss in zip(facts.levels, heard.misses)]
    rises = [row_of(f.note, (*f.start, *(f.end if f.end[0] != f.start[0] else f.end[1:])), f.gf, f.of(heard.readings), miss) for f, miss in zip(facts.rises, heard.misses[n:])]
    return RESULT.format(farthest=FARTHEST, levels="".join(levels), rises="".join(rises))


MOMENTS = """\
include = [{calibration}]
[fit]
free = {free}
[readings]
file = {readings}
"""


def moments_of(facts: trade.Facts, heard: trade.Heard) -> list[list[str]]:
    """Rows of a readings file: each moment once, as the model reads it, with a relative spread of 1: by how much its log moves is what is asked."""
    return [["edge", "step", "reading_gf", "reading_cv"]] + [[*m, f"{heard.readings[m]:.6g}", "1"] for m in facts.moments]


RULES = """\
// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>
#include <string_view>

/// What facts of the trade say of all parameters together (rules_of_thumb.hpp): common practice, no source. Written by `./dev
/// calibrate` from configs/calibration. One row per parameter: its default, and by how many spreads of each fact, readings
/// and then rises, what the fact is about moves per width of its prior.
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


def moves_of(by_moment: dict[str, float], gf: dict[str, float], levels: list[trade.Level], rises: list[trade.Rise]) -> list[float]:
    """Of each fact, in its spreads, from those of the log of each reading, which are named "edge, moment"."""
    named = ", ".join
    of_levels = [by_moment[named(f.moment)] / f.spread for f in levels]
    of_rises = [(gf[named(f.end)] * by_moment[named(f.end)] - gf[named(f.start)] * by_moment[named(f.start)]) / f.spread for f in rises]
    return of_levels + of_rises


def rules_of(rows: list[dict[str, str]], gf: dict[str, float]) -> str:
    levels, rises, lines = trade.levels(), trade.rises(), []
    for row in rows:
        path, value, *_ = row.values()
        by_moment = {name: float(move) for name, move in list(row.items())[2:]}
        moves = moves_of(by_moment, gf, levels, rises)
        if max(abs(x) for x in moves) < LEAST:
            continue
        lines.append('    {{"{}", {}, {{{}}}}},\n'.format(path, value, ", ".join(f"{x:.3g}" for x in moves)))
    return RULES.format(facts=len(levels) + len(rises), count=len(lines), rows="".join(lines))


DRAWS = """\
// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <string_view>

/// Draws of all parameters together from what facts of the trade and the priors of the program say of them (rules_of_thumb.hpp): common
/// practice, no source. Written by `./dev calibrate` from configs/calibration. In hundredths of the width of a parameter's prior
/// from its default; one row per draw.
// clang-format off
namespace arris::rules_of_thumb {{

struct Drawn {{
  std::string_view path;
  double           value;  ///< default
}};

inline constexpr std::array<Drawn, {count}> drawn{{{{
{paths}}}}};

inline constexpr std::size_t draws = {draws};

inline constexpr std::array<std::array<std::int16_t, drawn.size()>, draws> by_draw{{{{
{rows}}}}};

}}  // namespace arris::rules_of_thumb
"""
KEPT = 500  # draws
CHAINS, STEPS = 4, (6000, 12000, 100000)
R_HAT = 1.1  # at most


def chain_of(work: tuple[trade.Posterior, int, int, np.ndarray]) -> np.ndarray:
    posterior, seed, steps, start = work
    return posterior.chain(seed, steps, start)


def draws_of(posterior: trade.Posterior) -> np.ndarray:
    """Rows (KEPT × parameters) of chains that agree. Raises RuntimeError where they do not."""
    ends, chains = [np.zeros(len(posterior.cover))] * CHAINS, np.empty(0)
    with multiprocessing.get_context("fork").Pool() as pool:
        for k, steps in enumerate(STEPS):
            seeds = range(CHAINS * k, CHAINS * (k + 1))
            chains = np.array(pool.map(chain_of, [(posterior, seed, steps, end) for seed, end in zip(seeds, ends)]))
            ends = list(chains[:, -1])
            if steps != STEPS[-1]:
                posterior.learn(np.concatenate(chains[:, chains.shape[1] // 2 :]))
    agree = trade.largest_r_hat(chains)
    print(f"chains of the posterior: R-hat at most {agree:.3f}")
    if agree > R_HAT:
        raise RuntimeError(f"the chains do not agree: R-hat {agree:.2f} above {R_HAT:g}")
    rows = np.concatenate(chains)
    return np.random.default_rng(1).permutation(rows[np.linspace(0, len(rows) - 1, KEPT).round().astype(int)])


def draws_header(paths: list[str], values: list[float], rows: np.ndarray) -> str:
    named = "".join(f'    {{"{path}", {value:.6g}}},\n' for path, value in zip(paths, values))
    numbers = "".join("    {{" + ",".join(str(round(100 * x)) for x in row) + "}},\n" for row in rows)
    return DRAWS.format(count=len(paths), paths=named, draws=len(rows), rows=numbers)


def write(path: pathlib.Path, text: str) -> None:
    """Leaves a file alone that says so already: nearly all sources read these headers."""
    if not path.exists() or path.read_text(encoding="utf-8") != text:
        path.write_text(text, encoding="utf-8", newline="\n")


def write_fitted(given: argparse.Namespace) -> None:
    import arris

    facts = trade.Facts(arris)
    heard = facts.heard(starts=STARTS)
    header, result, moments = header_of(heard), result_of(facts, heard), moments_of(facts, heard)
    readings = given.moments.with_suffix(".csv")
    with open(readings, "w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows(moments)
    calibration = json.dumps(str(trade.CONFIGURATION))  # a string of JSON is one of TOML
    parameters = arris.load(trade.CONFIGURATION).parameters
    free = [path for path in parameters.index[parameters["fittable"]] if not path.startswith("tool.")]
    write(given.moments, MOMENTS.format(calibration=calibration, free=json.dumps(free, ensure_ascii=False), readings=json.dumps(str(readings.resolve()))))
    write(given.header, header)
    write(given.result, result)


def write_rules(given: argparse.Namespace) -> None:
    import arris

    with open(given.sensitivities, encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    facts, campaign = trade.Facts(arris), arris.load(given.moments)
    gf = {", ".join(m): read for m, read in facts.now().readings.items()}
    paths = tomllib.loads(given.moments.read_text(encoding="utf-8"))["fit"]["free"]
    moves = {row["parameter"]: moves_of({k: float(v) for k, v in list(row.items())[2:]}, gf, facts.levels, facts.rises) for row in rows}
    none = [0.0] * len(facts.facts)  # what moves no reading at the defaults is not among the sensitivities
    by_prior = np.array([moves.get(path, none) for path in paths]).T
    posterior = trade.Posterior(facts, arris.LogDensity(campaign, free=[]), len(paths), by_prior)
    values = [float(campaign.parameters["value"][path]) for path in paths]
    header, draws = rules_of(rows, gf), draws_header(paths, values, draws_of(posterior))
    write(given.header, header)
    write(given.draws, draws)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    kinds = options.add_subparsers(required=True)
    fitted = kinds.add_parser("fitted")
    fitted.add_argument("--result", type=pathlib.Path, required=True)
    fitted.set_defaults(write=write_fitted)
    rules = kinds.add_parser("rules")
    rules.add_argument("sensitivities", type=pathlib.Path)
    rules.add_argument("--draws", type=pathlib.Path, required=True)
    rules.set_defaults(write=write_rules)
    for kind in (fitted, rules):
        kind.add_argument("--header", type=pathlib.Path, required=True)
        kind.add_argument("--moments", type=pathlib.Path, required=True)
    given = options.parse_args()
    given.write(given)


if __name__ == "__main__":
    main()
