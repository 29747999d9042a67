# SPDX-License-Identifier: MIT
"""How often nominal 90 % intervals hold the truth: invented campaigns, with and without the right law of wear."""

from __future__ import annotations

import math

from validation.checks import Check, Section
from validation.outside import Place

SOURCE = "nominal coverage"


def sections(place: Place) -> list[Section]:
    given = place.numbers("coverage", str(place.campaigns))
    checks, rows = [], []
    for row in given:
        right = row["truth"] == "shared-load"
        law = "the law that is fitted" if right else f"a rival, {row['truth']}"
        for name, tally in row["intervals"].items():
            n = tally["of"]
            share = 100 * tally["held"] / n
            wide = 3 * 100 * math.sqrt(0.9 * 0.1 / n)
            quantity = "µm" in name or " of A" in name
            checks.append(
                Check(
                    what=f"truth by {law}: intervals that hold {name}",
                    source=SOURCE,
                    theirs=90.0,
                    ours=share,
                    unit="%",
                    tolerance=f"≥ {90 - wide:.0f} %",
                    why=f"three standard errors of a share of {n} campaigns; more is expected, since these truths lie nearer the middle of the priors than priors do",
                    passed=share >= 90 - wide,
                    note=f"errors in standard errors: mean {tally['mean']:+.2f}, scatter {tally['sd']:.2f}",
                    explained=(
                        "With the right law this is a fault of the intervals: Wald's are symmetric in the log and take the scatter of edges as estimated."
                        if right
                        else "The wear law is wrong and the intervals do not know it. "
                        + ("What is predicted beyond the readings, or between laws of other shape, is off by more than they say. `arris weigh` asks which law the readings speak for."
                           if quantity else "A parameter takes up what the law cannot say.")
                    ),
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
                "intervals are those that a fit prints first (Wald's, with Student's t). The first truth is that law itself. The others wear by a rival that comes to the same radius after "
                "150 m in the reference wood and differs on the way and beyond: what a user meets, who does not know the law either.",
                "Intervals account for scatter, not for a wrong law. With the right law they hold what they promise; with a rival the table says how far short they fall.",
            ],
            checks,
            tables=[("Share of intervals that hold the truth, nominal 90 %", ["truth", "fits that converged", "parameters", "predictions", "all"], rows)],
        )
    ]
