# SPDX-License-Identifier: MIT
"""How often nominal 90 % intervals hold the truth: invented campaigns, with and without the right law of wear."""

from __future__ import annotations

import math

from validation.checks import Check, Section
from validation.outside import Place

SOURCE = "nominal coverage"

RIGHT = (
    "The intervals that a fit prints first are Wald's: symmetric in the log, from the curvature at the optimum. Few edges, a scatter that is estimated from them "
    "and a valley that bends (a round apex on an insensitive tester reads like a finer one on a sensitive tester) make the truth lie outside more often than they say. "
    "Widen them by half for a radius, or ask for draws."
)


def sections(place: Place) -> list[Section]:
    given = place.numbers("coverage", str(place.campaigns))
    checks, rows = [], []
    for row in given:
        is_told = row["truth"].startswith("shared-load") and "not fitted" not in row["truth"]
        # what a single law makes of another's readings, or a fit that leaves out who read them, stands in the table alone
        for name, tally in row["intervals"].items() if is_told else ():
            n = tally["of"]
            share = 100 * tally["held"] / n
            wide = 3 * 100 * math.sqrt(0.9 * 0.1 / n)
            checks.append(
                Check(
                    what=f"truth by the law that is fitted: intervals that hold {name}",
                    source=SOURCE,
                    theirs=90.0,
                    ours=share,
                    unit="%",
                    tolerance=f"≥ {90 - wide:.0f} %",
                    why=f"three standard errors of a share of {n} campaigns; more is expected, since these truths lie nearer the middle of the priors than priors do",
                    passed=share >= 90 - wide,
                    note=f"errors in standard errors: mean {tally['mean']:+.2f}, scatter {tally['sd']:.2f}",
                    explained=RIGHT,
                )
            )
        held = sum(t["held"] for t in row["intervals"].values())
        of = sum(t["of"] for t in row["intervals"].values())
        parameters = [t for k, t in row["intervals"].items() if " of A" not in k]
        told = [t for k, t in row["intervals"].items() if " of A" in k]
        rows.append([
            row["truth"], f"{row['converged']} of {row['campaigns']}",
            f"{100 * sum(t['held'] for t in parameters) / sum(t['of'] for t in parameters):.0f} %",
            f"{100 * sum(t['held'] for t in told) / sum(t['of'] for t in told):.0f} %",
            f"{100 * held / of:.0f} %",
        ])
    return [
        Section(
            "Uncertainty",
            [
                f"{place.campaigns} campaigns like the demonstration's for each truth, each with readings drawn from it and other parameters, fitted with the shared-load law; "
                "intervals are those that a fit prints first (Wald's, with Student's t). The first truth is that law itself, once with the effects of operators and filament lots fitted, as they are in the "
                "readings, and once without. The others wear by a rival that comes to the same radius after "
                "150 m in the reference wood and differs on the way and beyond: what a user meets, who does not know the law either.",
                "Intervals of one law account for scatter, not for that law being wrong, nor for who read where a fit leaves that out (`operator_effect = false`). The table says how far short they fall; "
                "answers rest on all laws, with a term for what they miss, and are held to account in the section \"Where no law is the true one\".",
            ],
            checks,
            tables=[("Share of intervals that hold the truth, nominal 90 %", ["truth", "fits that converged", "parameters", "predictions", "all"], rows)],
        )
    ]
