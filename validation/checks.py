# SPDX-License-Identifier: MIT
"""What a check is, and the report that all of them go into.

A check sets a number of this project beside one from outside. It passes, fails, or is not judged (there is nothing to judge
by, and the numbers are shown). One that fails stays in the report; if the reason is known it says so in ``explained``.
"""

from __future__ import annotations

import base64
import dataclasses
import math
import pathlib
import re
from collections.abc import Iterable
from typing import Any, Optional, Union

Number = Union[float, int, str, None]

USES = {
    "validation": "the outside number set no parameter",
    "calibration": "the outside number was used to set a parameter, or the prior of one",
    "input": "the project's table is a copy of the source: only copying and conversion are checked",
    "common practice": "a rule of the trade without a source, which the defaults were fitted to",
}


@dataclasses.dataclass(frozen=True)
class Check:
    """One number beside another.

    what       what is compared, in words a craftsman understands
    source     where the outside number stands, or the program that worked it out
    status     how well the source is known: verified, computed, from memory, common practice
    theirs     the outside number, as printed there where it is printed
    ours       this project's
    tolerance  how far they may be apart, and the reason for that much
    passed     None: not judged
    use        one of USES
    explained  why it fails, where that is known; shown only then
    note       conversions, assumptions: always shown
    """

    what: str
    source: str
    theirs: Number
    ours: Number
    tolerance: str
    why: str
    passed: Optional[bool]
    status: str = "computed"
    use: str = "validation"
    unit: str = ""
    explained: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        if self.use not in USES:
            raise ValueError(f"{self.what}: no such use: {self.use}")
        if self.passed is not None:
            object.__setattr__(self, "passed", bool(self.passed))  # numpy's truth values are other objects


@dataclasses.dataclass(frozen=True)
class Figure:
    """A picture of the report; the file lies in validation/figures."""

    file: str
    caption: str


@dataclasses.dataclass
class Section:
    """One group of checks, with what a reader should know before them."""

    title: str
    text: list[str]
    checks: list[Check]
    figures: list[Figure] = dataclasses.field(default_factory=list)
    tables: list[tuple[str, list[str], list[list[str]]]] = dataclasses.field(default_factory=list)

    def count(self, passed: Optional[bool]) -> int:
        return sum(c.passed is passed for c in self.checks)


def near(theirs: float, ours: float, absolute: float = 0.0, relative: float = 0.0) -> bool:
    """Whether two numbers agree to ``absolute + relative·|theirs|``; never where one of them is no number."""
    return math.isfinite(ours) and abs(ours - theirs) <= absolute + relative * abs(theirs)


def printed(text: str) -> tuple[float, float]:
    """A printed number and half a unit of its last digit."""
    match = re.fullmatch(r"[-+]?\d+(?:\.(\d*))?(?:[eE]([-+]?\d+))?", text.strip())
    if match is None:
        raise ValueError(f"not a number: {text}")
    digits = len(match.group(1) or "")
    return float(text), 0.5 * 10.0 ** (int(match.group(2) or 0) - digits)


def show(value: Number) -> str:
    """A number as the report prints it: six significant digits."""
    if value is None:
        return "–"
    if isinstance(value, str):
        return value
    if isinstance(value, int):
        return str(value)
    if not math.isfinite(value):
        return "no number"
    text = f"{value:.6g}"
    if "e" in text:
        mantissa, exponent = text.split("e")
        return f"{float(mantissa):.4g}e{int(exponent)}"
    return text


def verdict(check: Check) -> str:
    return "not judged" if check.passed is None else "pass" if check.passed else "**FAIL**"


# ---- the report ----------------------------------------------------------------------------------------------------------

COLUMNS = ["check", "source", "there", "here", "tolerance, and why", "used for", "verdict"]
SUMMARY = ["group", "checks", "pass", "fail", "not judged"]

INTRODUCTION = [
    "Numbers of this project beside numbers from outside it: published measurements, standards, certified problems, other people's "
    "solvers. `./dev validate` works all of it out anew and writes this file and `build/validation/report.html`; `validation/` holds "
    "the checks, the outside numbers and their sources.",
    "*Status* of an outside number: **verified** (the source's text was read), **computed** (worked out by the program named, from "
    "verified data, when this report was made or by the version named), **from memory** (believed to be published, not read: shown, "
    "but nothing rests on it alone), **common practice** (no source). *Used for*: "
    + "; ".join(f"**{name}**: {text}" for name, text in USES.items())
    + ".",
    "A check that fails stays here, with the reason where one is known. Agreement with a solver says that equations are solved as they "
    "are written, not that they are right; what speaks for or against the physics is in the first groups.",
]


@dataclasses.dataclass(frozen=True)
class Grid:
    """A table of texts; ``numbers`` are the places of its columns of numbers, from 0."""

    caption: str
    columns: list[str]
    rows: list[list[str]]
    numbers: list[int] = dataclasses.field(default_factory=list)


@dataclasses.dataclass(frozen=True)
class Part:
    """A section of the report in words."""

    title: str
    text: list[str]
    tables: list[Grid]
    figures: list[Figure]
    checks: Grid


@dataclasses.dataclass(frozen=True)
class Report:
    """All that the report says, as texts with `code`, **bold** and *italics*: Markdown and the page are made from it."""

    title: str
    introduction: list[str]
    summary: Grid
    failures: list[str]
    sections: list[Part]


def report_on(sections: list[Section]) -> Report:
    """What is to be said of these checks."""
    return Report(
        "Checked against the world outside",
        INTRODUCTION,
        Grid("Checks by group", SUMMARY, _summary_rows(sections), [1, 2, 3, 4]),
        [_failure(s, c) for s in sections for c in s.checks if c.passed is False],
        [_part(s) for s in sections],
    )


def _part(section: Section) -> Part:
    tables = [Grid(*table) for table in section.tables]
    checks = Grid("Checks", COLUMNS, [_cells(c) for c in section.checks], [2, 3])
    return Part(section.title, section.text, tables, section.figures, checks)


def _with_unit(value: Number, unit: str) -> str:
    text = show(value)
    # a word needs no unit
    return f"{text} {unit}".strip() if re.fullmatch(r"[-+\d.e … ]+", text) else text


def _cells(check: Check) -> list[str]:
    """A check as a row of its table."""
    what = check.what
    if check.note:
        what += f" ({check.note})"
    return [
        what,
        f"{check.source} [{check.status}]",
        _with_unit(check.theirs, check.unit),
        _with_unit(check.ours, check.unit),
        f"{check.tolerance}: {check.why}" if check.tolerance else check.why,
        check.use,
        verdict(check),
    ]


def _failure(section: Section, check: Check) -> str:
    """A check that fails, in a sentence."""
    return (
        f"**{section.title}: {check.what}** – there {_with_unit(check.theirs, check.unit)}, here "
        f"{_with_unit(check.ours, check.unit)} ({check.use}). {check.explained or 'Not explained.'}"
    )


def _summary_rows(sections: list[Section]) -> list[list[str]]:
    """How many checks each group has, and how they went; all together at the end."""
    rows = []
    for s in sections:
        rows.append([s.title, str(len(s.checks)), str(s.count(True)), str(s.count(False)), str(s.count(None))])
    total = ["all", *(str(sum(int(r[i]) for r in rows)) for i in range(1, 5))]
    return [*rows, total]


def markdown(report: Report) -> str:
    """The whole report as Markdown."""
    lines = ["<!-- SPDX-License-Identifier: MIT. Written by ./dev validate. -->", f"# {report.title}", ""]
    lines += _paragraphs(report.introduction) + _grid(report.summary)
    lines += ["## What fails", "", *([f"- {failure}" for failure in report.failures] or ["Nothing."]), ""]
    for part in report.sections:
        lines += [f"## {part.title}", "", *_paragraphs(part.text)]
        for table in part.tables:
            lines += [f"*{table.caption}*", "", *_grid(table)]
        for figure in part.figures:
            lines += [f"![{figure.caption}](figures/{figure.file})", "", f"*{figure.caption}*", ""]
        lines += _grid(part.checks)
    return "\n".join(lines).rstrip() + "\n"


def _paragraphs(texts: Iterable[str]) -> list[str]:
    return [line for text in texts for line in (text, "")]


def _row(cells: Iterable[str]) -> str:
    return "| " + " | ".join(c.replace("|", "\\|").replace("\n", " ") for c in cells) + " |"


def _grid(grid: Grid) -> list[str]:
    return [_row(grid.columns), "|" + "---|" * len(grid.columns), *map(_row, grid.rows), ""]


def as_json(report: Report, figures: pathlib.Path) -> dict[str, Any]:
    """The report for the program that makes the page of it, with the pictures of this folder in it."""
    content = dataclasses.asdict(report)
    for part in content["sections"]:
        for figure in part["figures"]:
            figure["image"] = _address(figures / figure.pop("file"))
    return content


def _address(picture: pathlib.Path) -> str:
    """An SVG file as an address that holds all of it, so that a page needs no other file."""
    return "data:image/svg+xml;base64," + base64.b64encode(picture.read_bytes()).decode("ascii")
