# SPDX-License-Identifier: MIT
"""The facts of the trade that the defaults were fitted to: how well the defaults, as they are built in, meet each."""

from __future__ import annotations

from validation.checks import Check, Section, near
from validation.outside import ROOT, Place, table

SOURCE = "common practice, no source"


def sections(place: Place) -> list[Section]:
    arris = place.package()
    result = arris.simulate(arris.load(ROOT / "configs" / "calibration" / "calibration.toml"))
    read: dict[tuple[str, str], float] = {}
    steps_of = {}
    checks = []
    for row in table("configs/calibration/facts.csv"):
        edge, moment = row["edge"], row["step"]
        if edge not in steps_of:
            steps_of[edge] = result.steps(edge)
        steps = steps_of[edge]
        here = (steps["verb"].values == "read") & (steps["subject"].values == moment)
        if here.sum() != 1:
            raise LookupError(f"{edge}: there is no one reading called {moment}")
        ours = float(steps["reading_after_gf"].values[here][0])
        theirs, spread = float(row["reading_gf"]), float(row["reading_cv"])
        checks.append(
            Check(
                what=f"{row['note']} ({edge}: {moment})",
                source=SOURCE,
                status="common practice",
                theirs=theirs,
                ours=ours,
                unit="gf",
                tolerance=f"± {200 * spread:.0f} %",
                why="twice the spread in which the fact is believed",
                passed=near(theirs, ours, relative=2 * spread),
                use="common practice",
            )
        )
        read[edge, moment] = ours

    def fall(edge: str, before: tuple[str, str], after: str) -> float:
        return 100 * (1 - read[edge, after] / read[before])

    off = ("30°", "off the last stone")
    steady = (
        "The wear law grows at nearly the same rate over the first hundred passes: a rise that is felt after 50 goes on. A law that "
        "settled within 50 passes would meet both."
    )
    lowest, after_50 = read["maple", "after 10 passes"], read["maple", "after 50 passes"]
    burr = (
        "What burr the strop leaves breaks off in the first passes, and dulling starts from there: the reading falls by "
        f"{read['maple', 'fresh'] - lowest:.0f} gf over 10 passes and rises by {after_50 - lowest:.0f} gf over the next 40. The rule counts "
        "from the fresh edge, and says itself that an edge may read a little lower after 10 passes; the model's falls further than a little."
    )
    alike = (
        "At 25° the whole bevel is honed, at 30° a narrow land: the same strokes on the fine stones take less off the wide bevel, so more "
        "of the scratches of the stone before is left, and the apex stays rounder. At equal radius the two read alike (see Physics)."
    )
    between = (
        "Another rule, that this strop brings edges off waterstones to about 130, says 28 %: the two do not agree, and the defaults lie "
        "between them."
    )
    pair = "two readings of 10 % scatter, each a mean of three: their ratio is good to 16 % (twice its standard error)"
    statements = [
        ("a thin hard strop takes about 40 % off", fall("30°", off, "hard strop"), "40", 30, 50, "%", pair, between),
        ("a thick soft strop takes about a third off", fall("soft strop", off, "soft strop"), "33", 22, 44, "%", pair, ""),
        ("25° over 30°, off the stone: alike", read["25°", "off the last stone"] / read[off], "1", 0.9, 1.1, "",
         "the scatter of a single reading, 10 %: less would not be noticed", alike),
        ("plates ending at 9 µm over stones ending at 1.2 µm: clearly higher", read["plates", "off the last plate"] / read[off],
         "above 1", 1.16, 4.0, "", "beyond what scatters; " + pair, ""),
        ("film ending at 0.3 µm over stones: lower", read["film", "off the last film"] / read[off], "below 1", 0.3, 1.0, "",
         "the direction is all that is stated", ""),
        ("twice the strokes over the usual number: hardly a gain", read["twice the strokes", "off the last stone"] / read[off], "1",
         0.9, 1.1, "", "the scatter of a single reading, 10 %", ""),
        ("maple: higher after 50 passes by", read["maple", "after 50 passes"] - read["maple", "fresh"], "10 … 20", 5, 25, "gf",
         "the stated range and half of its width on both sides", burr),
        ("maple: at 100 passes hardly different from 50, a rise of",
         read["maple", "after 100 passes"] - read["maple", "after 50 passes"], "about 4", -10, 10, "gf",
         "10 gf is what the statement before calls a rise", steady),
    ]
    for what, ours, theirs, low, high, unit, why, explained in statements:
        checks.append(
            Check(
                what=what,
                source=SOURCE,
                status="common practice",
                theirs=theirs,
                ours=ours,
                unit=unit,
                tolerance=f"{low:g} … {high:g}",
                why=why,
                passed=low <= ours <= high,
                use="common practice",
                explained=explained,
            )
        )
    return [
        Section(
            "Common practice",
            [
                "Rules of thumb as readings in gram-force. Nobody measured them, and the defaults were fitted to them: these rows say how "
                "well one set of defaults can meet all of them at once, and nothing about the world.",
            ],
            checks,
        )
    ]
