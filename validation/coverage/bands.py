# SPDX-License-Identifier: MIT
"""How often bands hold the truth, over campaigns of every truth; the section of the report, and the command."""

from __future__ import annotations

import concurrent.futures
import dataclasses
import math
import os
import pathlib
import tempfile

import numpy as np

from validation.checks import Check, Section
from validation.coverage.campaigns import Bands, answered, holds
from validation.coverage.truths import ASKED_AT, HAND_ASKED_AT, NEXT_EDGES, READ_AT, TRUTHS, Truth, draw
from validation.outside import Place

SOURCE = "nominal coverage"

#: What must hold: shares within and beyond the readings, width beside a fit that knows the curve, misfits found, and found by mistake.
WITHIN, ABOVE, BEYOND, WIDEST, FOUND, FALSE_ALARMS = 85.0, 95.0, 80.0, 1.6, 90.0, 5.0


def edges_of(number: int) -> int:
    """One campaign in thirteen has three edges only."""
    return 3 if number % 13 == 12 else 12


@dataclasses.dataclass
class Tally:
    """Campaigns of one truth."""

    truth: Truth
    wanted: int
    converged: int = 0
    next_held: list[np.ndarray] = dataclasses.field(default_factory=list)  # shares along ASKED_AT, a campaign each
    hand_held: list[np.ndarray] = dataclasses.field(default_factory=list)
    width: list[np.ndarray] = dataclasses.field(default_factory=list)  # of next edges, as log ratios
    told_width: list[np.ndarray] = dataclasses.field(default_factory=list)
    told_held: list[np.ndarray] = dataclasses.field(default_factory=list)
    told_hand_held: list[np.ndarray] = dataclasses.field(default_factory=list)
    misfits: list[bool] = dataclasses.field(default_factory=list)
    told_misfits: list[bool] = dataclasses.field(default_factory=list)

    def share(self, held: list[np.ndarray]) -> np.ndarray:
        return 100 * np.mean(held, axis=0) if held else np.full(1, math.nan)

    def wider(self) -> np.ndarray:
        """Median width over that of the fit that knows the curve."""
        if not self.width or not self.told_width:
            return np.full(len(ASKED_AT), math.nan)
        return np.median(self.width, axis=0) / np.median(self.told_width, axis=0)


def _one(program: pathlib.Path, truth: Truth, number: int) -> tuple[int, int, Bands | None, Bands | None]:
    drawn = draw(truth, number, edges_of(number))
    with tempfile.TemporaryDirectory() as folder:
        plain = answered(program, drawn, pathlib.Path(folder) / "plain")
        told = answered(program, drawn, pathlib.Path(folder) / "told", told=True)
    return TRUTHS.index(truth), number, plain, told


def tallies(program: pathlib.Path, campaigns: int, jobs: int) -> list[Tally]:
    """All campaigns, their first as many as asked for; the same numbers, whatever ``jobs``."""
    out = [Tally(truth, campaigns) for truth in TRUTHS]
    with concurrent.futures.ThreadPoolExecutor(jobs) as pool:  # the work is done by processes
        waiting = [pool.submit(_one, program, truth, number) for number in range(campaigns) for truth in TRUTHS]
        for done in waiting:
            which, number, plain, told = done.result()
            tally, drawn = out[which], draw(TRUTHS[which], number, edges_of(number))
            if plain is not None:
                tally.converged += 1
                tally.next_held.append(holds(plain.next_gf, drawn.next_gf).mean(axis=0))
                tally.width.append(np.log(plain.next_gf[:, 1] / plain.next_gf[:, 0]))
                if plain.hand_gf is not None:
                    tally.hand_held.append(holds(plain.hand_gf, drawn.hand_gf).astype(float))
                if plain.misfit is not None:
                    tally.misfits.append(plain.misfit)
            if told is not None:
                tally.told_held.append(holds(told.next_gf, drawn.next_gf).mean(axis=0))
                if told.hand_gf is not None:
                    tally.told_hand_held.append(holds(told.hand_gf, drawn.hand_gf).astype(float))
                tally.told_width.append(np.log(told.next_gf[:, 1] / told.next_gf[:, 0]))
                if told.misfit is not None:
                    tally.told_misfits.append(told.misfit)
    return out


def _checks(tally: Tally) -> list[Check]:
    name, checks = tally.truth.name, []
    for what, held, asked, units in (("next edges", tally.next_held, ASKED_AT, NEXT_EDGES), ("edges in hand", tally.hand_held, HAND_ASKED_AT, 1)):
        if not held:
            continue
        for at, share in zip(asked, tally.share(held)):
            inside = at <= READ_AT[-1]
            # edges of one campaign share its band: campaigns are what is counted
            spread = math.sqrt(0.9 * 0.1) if units == 1 else float(np.std(held, axis=0)[asked.index(at)])
            wide = 100 * 2 * spread / math.sqrt(len(held))
            low = (WITHIN if inside else BEYOND) - wide
            checks.append(Check(
                what=f"truth {name}: {what} within the band of 90 % after {at} passes",
                source=SOURCE, theirs=90.0, ours=float(share), unit="%",
                tolerance=f"{low:.0f} … {ABOVE + wide:.0f} %" if inside else f"≥ {low:.0f} %",
                why=f"{WITHIN:.0f} to {ABOVE:.0f} % among the readings, {BEYOND:.0f} % at twice the last, and two standard errors of {len(held)} campaigns",
                passed=low <= share and (not inside or share <= ABOVE + wide),
                explained="No law of the program has this curve, and what it adds for that falls short here.",
            ))
    for at, ratio in zip(ASKED_AT, tally.wider()):
        if at > READ_AT[-1] or math.isnan(ratio):
            continue
        checks.append(Check(
            what=f"truth {name}: width of the band after {at} passes, over that of a fit that is told the curve",
            source=SOURCE, theirs=1.0, ours=float(ratio), tolerance=f"≤ {WIDEST}",
            why="what not knowing the law may cost", passed=ratio <= WIDEST,
            explained="The laws do not have this curve, and the band is wide for it.",
        ))
    if tally.misfits:
        share = 100 * float(np.mean(tally.misfits))
        wide = 100 * 2 * math.sqrt(0.9 * 0.1 / len(tally.misfits))
        # the other curves are missed by less than edges scatter
        judged = tally.truth.name == "in three stages"
        checks.append(Check(
            what=f"truth {name}: misfits that are found",
            source=SOURCE, theirs=FOUND, ours=share, unit="%", tolerance=f"≥ {FOUND - wide:.0f} %",
            why=f"nine in ten where a law misses by more than edges scatter, and two standard errors of {len(tally.misfits)} campaigns",
            passed=share >= FOUND - wide if judged else None,
            explained="A mixture of laws, or its correction along the passes, leaves less to be found.",
        ))
    if tally.told_misfits:
        share = 100 * float(np.mean(tally.told_misfits))
        wide = 100 * 2 * math.sqrt(0.05 * 0.95 / len(tally.told_misfits))
        checks.append(Check(
            what=f"truth {name}: misfits claimed of fits that are told the curve",
            source=SOURCE, theirs=FALSE_ALARMS, ours=share, unit="%", tolerance=f"≤ {FALSE_ALARMS + wide:.0f} %",
            why=f"one in twenty, and two standard errors of {len(tally.told_misfits)} campaigns", passed=share <= FALSE_ALARMS + wide,
            explained="Luck in the rate of an edge is no misfit, and is taken for one here.",
        ))
    return checks


def _spaced(numbers: np.ndarray, form: str) -> str:
    return "–" if np.isnan(numbers).all() else " / ".join(form.format(x) for x in numbers)


def rows_of(done: list[Tally]) -> list[list[str]]:
    return [[
        t.truth.name, f"{t.converged} of {t.wanted}", _spaced(t.share(t.next_held), "{:.0f}"), _spaced(t.share(t.hand_held), "{:.0f}"),
        _spaced(100 * np.expm1(np.median(t.width, axis=0)) if t.width else np.full(1, math.nan), "{:.0f}"),
        _spaced(t.share(t.told_held), "{:.0f}"), _spaced(t.share(t.told_hand_held), "{:.0f}"), _spaced(t.wider(), "{:.2f}"),
        f"{sum(t.misfits)} of {len(t.misfits)}" if t.misfits else "–", f"{sum(t.told_misfits)} of {len(t.told_misfits)}" if t.told_misfits else "–",
    ] for t in done]


IN_HAND_AT = "/".join(map(str, HAND_ASKED_AT))
HEADS = ["truth", "fits that converged", "next edges held %", f"edges in hand held % at {IN_HAND_AT}", "width %", "told the curve: held %", f"told the curve: in hand held % at {IN_HAND_AT}", "width over that of told", "misfit said", "the same, told the curve"]


def sections(place: Place) -> list[Section]:
    campaigns = 2 if place.fast else max(2, place.campaigns // 5)  # 40 of the usual 200: each has two fits with draws
    done = tallies(place.program, campaigns, os.cpu_count() or 1)
    return [Section(
        "Where no law is the true one",
        [
            f"{campaigns} campaigns for each of five curves that no law of the program has, drawn without it: twelve edges (in one of thirteen campaigns three), read twice at "
            f"{', '.join(map(str, READ_AT))} passes, with luck in how each edge is honed and in how fast it wears, two operators, three lots of filament. Bands are those of `arris forecast --fit`; "
            f"each is held against {NEXT_EDGES} edges that were not read, without scatter, after {', '.join(map(str, ASKED_AT))} passes.",
        ],
        [check for tally in done for check in _checks(tally)],
        tables=[(f"After {' / '.join(map(str, ASKED_AT))} passes", HEADS, rows_of(done))],
    )]
