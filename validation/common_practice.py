# SPDX-License-Identifier: MIT
"""The facts of the trade that the defaults were fitted to: how well the defaults, as they are built in, meet each, and what any one set
of coefficients could."""

from __future__ import annotations

import dataclasses

from configs.calibration.facts import SLOPE, Facts, Heard
from validation.checks import Check, Section, near
from validation.outside import Place

SOURCE = "common practice, no source"
WEAR_RATE = "wear.parting_um2_per_m"
OFF, STROPPED = ("30°", "off the last stone"), ("30°", "hard strop")
#: Where readings are to lie by the trade, gf: off a plate sequence that ends at 9 µm, and after the thin hard strop; A2.
OFF_PLATES, AFTER_STROP = (205.0, 265.0), (120.0, 160.0)
FARTHEST = 1.5  # spreads, of any fact
WITHIN = "one and a half of the spread in which the fact is believed: what the calibration aims at"
IN_MAPLE = ("fresh", "after 50 passes", "after 100 passes")
PAIR = "two readings of 10 % scatter, each a mean of three: their ratio is good to 16 % (twice its standard error)"


@dataclasses.dataclass(frozen=True)
class Fits:
    """The defaults, and what else the same facts and priors come to."""

    now: Heard
    unequal: Heard  # without the rule that a strop takes 40 % off
    slower: Heard  # the prior of the wear rate faint
    tester: Heard  # the slope of the tester free
    alone: Heard  # all priors faint

    @classmethod
    def of(cls, facts: Facts) -> Fits:
        forty = len(facts.levels) + [(f.start, f.end) for f in facts.rises].index((OFF, STROPPED))
        every = tuple(p.path for p in facts.priors)
        return cls(facts.now(), facts.heard(without=(forty,)), facts.heard((WEAR_RATE,)), facts.heard(tester=True), facts.heard(every))


def fall(heard: Heard, edge: str = "30°", moment: str = "hard strop") -> float:
    """Per cent that a strop takes off what the edge reads off the last stone."""
    return 100 * (1 - heard.readings[edge, moment] / heard.readings[OFF])


def rise(heard: Heard, k: int) -> float:
    """gf, of the passes in maple: 0 up to 50, 1 from there to 100."""
    start, end = IN_MAPLE[k : k + 2]
    return heard.readings["maple", end] - heard.readings["maple", start]


def each(facts: Facts, now: Heard) -> list[Check]:
    checks = []
    for level, miss in zip(facts.levels, now.misses):
        checks.append(
            Check(
                what=f"{level.note} ({', '.join(level.moment)})",
                source=SOURCE,
                status="common practice",
                theirs=level.gf,
                ours=now.readings[level.moment],
                unit="gf",
                tolerance=f"± {100 * FARTHEST * level.spread:.0f} %",
                why=WITHIN,
                passed=abs(miss) <= FARTHEST,
                use="common practice",
            )
        )
    for fact, miss in zip(facts.rises, now.misses[len(facts.levels) :]):
        to = ", ".join(fact.end if fact.end[0] != fact.start[0] else fact.end[1:])
        checks.append(
            Check(
                what=f"{fact.note} (from {', '.join(fact.start)} to {to})",
                source=SOURCE,
                status="common practice",
                theirs=fact.gf,
                ours=fact.of(now.readings),
                unit="gf",
                tolerance=f"± {FARTHEST * fact.spread:.3g} gf",
                why=WITHIN,
                passed=abs(miss) <= FARTHEST,
                use="common practice",
            )
        )
    return checks


def between(what: str, theirs: str, ours: float, low: float, high: float, unit: str, why: str, explained: str = "") -> Check:
    return Check(what=what, source=SOURCE, status="common practice", theirs=theirs, ours=ours, unit=unit, tolerance=f"{low:g} … {high:g}", why=why,
                 passed=low <= ours <= high, use="common practice", explained=explained)


def statements(now: Heard) -> list[Check]:
    """What the trade says of pairs of readings without a number."""
    read = now.readings
    return [
        between("plates ending at 9 µm over stones ending at 1.2 µm: clearly higher", "above 1", read["plates", "off the last plate"] / read[OFF], 1.16, 4.0, "", "beyond what scatters; " + PAIR),
        between("film ending at 0.3 µm over stones: lower", "below 1", read["film", "off the last film"] / read[OFF], 0.3, 1.0, "", "the direction is all that is stated"),
    ]


def together(facts: Facts, fits: Fits) -> list[Check]:
    """All facts at once: by the defaults, and by any one set of coefficients."""
    checks = [between("the fact that the defaults are farthest from, in spreads in which it is believed", "0", fits.now.farthest, 0, FARTHEST, "", "what the calibration aims at")]
    alike = "what the calibration aims at, for iron and chisel alike"
    for edge in ("plates", "chisel, plates"):
        checks.append(between(f"{edge}: off the last plate", "230", fits.now.readings[edge, "off the last plate"], *OFF_PLATES, "gf", alike))
    for edge in ("30°", "plates", "chisel, waterstones", "chisel, plates"):
        checks.append(between(f"{edge}: after the thin hard strop", "130 … 140", fits.now.readings[edge, "hard strop"], *AFTER_STROP, "gf", alike))
    for steel in ("O1", "D2"):
        read = facts.of_steel(steel)
        checks.append(
            Check(f"{steel} in the place of A2, after the thin hard strop: off plates / off waterstones", SOURCE, "130 … 140", f"{read['plates', 'hard strop']:.0f} / {read[STROPPED]:.0f}", "",
                  "the trade names a steel for the edge in maple alone; by the model the carbides of a steel set how fine its edges get", None, "common practice", "common practice", "gf")
        )
    return checks


def table_of(fits: Fits) -> tuple[str, list[str], list[list[str]]]:
    rows = []
    for name, of in (
        ("the defaults", fits.now),
        ("the same facts but “takes 40 % off”", fits.unequal),
        ("all facts, a faint prior of the wear rate", fits.slower),
        ("all facts, slope of the tester free", fits.tester),
        ("all facts, faint priors", fits.alone),
    ):
        read = of.readings
        rows.append([
            name, f"{of.by_facts:.1f}", f"{of.by_priors:.1f}", f"{of.farthest:.2f}", f"{read['plates', 'off the last plate']:.0f} / {read['plates', 'hard strop']:.0f}",
            f"{read[OFF]:.0f} / {read[STROPPED]:.0f}", f"{fall(of):.0f} %", f"{rise(of, 0):.1f}", f"{rise(of, 1):.1f}", f"{of.values[WEAR_RATE]:.2g}",
            f"{of.values['coefficients.burr_loss_strop']:.2g}", f"{of.values['coefficients.carbide_share']:.2g}", f"{of.values[SLOPE]:.2g}",
        ])
    return (
        "What one set of coefficients can do: χ² of all facts and of all priors, and what it reads",
        ["what was heard", "χ² facts", "χ² priors", "farthest fact, spreads", "plates: off / stropped gf", "stones: off / stropped gf", "the strop takes off", "rise over 50 passes gf",
         "from 50 to 100 gf", "wear rate µm²/m", "burr lost per lap", "radius per carbide", "slope N/µm"],
        rows,
    )


def sections(place: Place) -> list[Section]:
    facts = Facts(place.package())
    fits = Fits.of(facts)
    now, alone, free = fits.now, fits.alone, fits.tester
    text = [
        "Rules of thumb as readings in gram-force. Nobody measured them, and the defaults were fitted to them: these rows say how well one set of defaults can meet all of them at once, and nothing "
        "about the world.",
        f"**What stands against what.** The table repeats the calibration with more heard or less. By the defaults χ² of the {len(facts.facts)} facts is {now.by_facts:.1f}, that of the priors {now.by_priors:.1f}: the laws could do better "
        f"({alone.by_facts:.1f}) with coefficients far from what was believed before ({alone.by_priors:.0f}). That a strop takes 40 % off and that it brings an edge off waterstones to 130 cannot both be: the defaults take {fall(now):.0f} % off, and {fall(fits.unequal):.0f} % without the first rule. "
        "What the trade says of one reading beside another, such as that a chisel reads like an iron or that an edge is hardly different after 50 passes more, is heard as a difference. All of this is about A2.",
        f"**The scale of all lengths.** Readings alone cannot tell a steeper tester from finer edges, and the calibration holds the slope of the tester, {facts.slope:.2g} N/µm, an estimate. Free within a factor of 2 about 2 N/µm it comes to "
        f"{free.values[SLOPE]:.2g} N/µm by what is believed of lengths, and χ² of facts and priors falls from {now.by_facts + now.by_priors:.1f} to {free.by_facts + free.by_priors:.1f}; the wear rate goes from {now.values[WEAR_RATE]:.2g} to "
        f"{free.values[WEAR_RATE]:.2g} µm²/m (see Physics for radiata pine). Readings of the same histories stay as they are within a few gram-force. That scale is known to a factor of 1.5 at best.",
    ]
    return [Section("Common practice", text, each(facts, now) + statements(now) + together(facts, fits), tables=[table_of(fits)])]
