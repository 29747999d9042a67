# SPDX-License-Identifier: MIT
"""What a check is, and the report that all of them go into.

A check sets a number of this project beside one from outside. It passes, fails, or is not judged (there is nothing to judge
by, and the numbers are shown). One that fails stays in the report; if the reason is known it says so in ``explained``.
"""

from __future__ import annotations

import dataclasses
import html
import math
import pathlib
import re
from collections.abc import Iterable
from typing import Optional, Union

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


def _with_unit(value: Number, unit: str) -> str:
    text = show(value)
    # a word needs no unit
    return f"{text} {unit}".strip() if re.fullmatch(r"[-+\d.e … ]+", text) else text


def _cells(check: Check) -> list[str]:
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


def _row(cells: Iterable[str]) -> str:
    return "| " + " | ".join(c.replace("|", "\\|").replace("\n", " ") for c in cells) + " |"


def _grid(columns: list[str], rows: Iterable[list[str]]) -> list[str]:
    return [_row(columns), "|" + "---|" * len(columns), *(_row(r) for r in rows), ""]


def _failed(sections: list[Section]) -> list[tuple[Section, Check]]:
    return [(s, c) for s in sections for c in s.checks if c.passed is False]


def _summary_rows(sections: list[Section]) -> list[list[str]]:
    rows = []
    for s in sections:
        rows.append([s.title, str(len(s.checks)), str(s.count(True)), str(s.count(False)), str(s.count(None))])
    total = ["all", *(str(sum(int(r[i]) for r in rows)) for i in range(1, 5))]
    return [*rows, total]


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


def markdown(sections: list[Section]) -> str:
    """The whole report as Markdown."""
    lines = ["<!-- SPDX-License-Identifier: MIT. Written by ./dev validate. -->", "# Checked against the world outside", ""]
    for paragraph in INTRODUCTION:
        lines += [paragraph, ""]
    lines += _grid(SUMMARY, _summary_rows(sections))
    failed = _failed(sections)
    lines += ["## What fails", ""]
    if failed:
        for section, check in failed:
            lines += [
                f"- **{section.title}: {check.what}** – there {_with_unit(check.theirs, check.unit)}, here "
                f"{_with_unit(check.ours, check.unit)} ({check.use}). {check.explained or 'Not explained.'}"
            ]
        lines.append("")
    else:
        lines += ["Nothing.", ""]
    for section in sections:
        lines += [f"## {section.title}", ""]
        for paragraph in section.text:
            lines += [paragraph, ""]
        for caption, columns, rows in section.tables:
            lines += [f"*{caption}*", ""] + _grid(columns, rows)
        for figure in section.figures:
            lines += [f"![{figure.caption}](figures/{figure.file})", "", f"*{figure.caption}*", ""]
        lines += _grid(COLUMNS, map(_cells, section.checks))
    return "\n".join(lines).rstrip() + "\n"


_STYLE = """
:root { color-scheme: light dark; }
body { font: 15px/1.5 Georgia, 'DejaVu Serif', serif; max-width: 76rem; margin: 2rem auto; padding: 0 1rem; }
h1, h2 { font-weight: normal; } h2 { margin-top: 3rem; border-bottom: 1px solid #8886; }
table { border-collapse: collapse; width: 100%; font: 13px/1.4 'DejaVu Sans', sans-serif; margin: .8rem 0 1.5rem; }
th, td { text-align: left; vertical-align: top; padding: .25rem .6rem .25rem 0; border-bottom: 1px solid #8884; }
th { font-weight: 600; } td.number { font-variant-numeric: tabular-nums; white-space: nowrap; }
.pass { color: #2a7d3a; } .fail { color: #b3261e; font-weight: 700; } .open { color: #777; }
figure { margin: 1.5rem 0; } figure svg { width: 100%; height: auto; background: #fff; } figcaption { font-size: 13px; }
details > summary { cursor: pointer; margin: .6rem 0; }
code { font-size: 90%; }
"""


def _words(text: str) -> str:
    """Text with `code` and **bold** as HTML."""
    text = html.escape(text)
    text = re.sub(r"`([^`]+)`", r"<code>\1</code>", text)
    text = re.sub(r"\*\*([^*]+)\*\*", r"<b>\1</b>", text)
    return re.sub(r"\*([^*]+)\*", r"<i>\1</i>", text)


def _html_table(columns: list[str], rows: Iterable[list[str]], judged: bool = False) -> str:
    out = ["<table><thead><tr>", *(f"<th>{_words(c)}</th>" for c in columns), "</tr></thead><tbody>"]
    for row in rows:
        out.append("<tr>")
        for i, cell in enumerate(row):
            kind = ""
            if judged and i == len(row) - 1:
                kind = f' class="{ {"pass": "pass", "**FAIL**": "fail"}.get(cell, "open") }"'
            elif judged and i in (2, 3):
                kind = ' class="number"' if len(cell) < 24 else ""
            out.append(f"<td{kind}>{_words(cell)}</td>")
        out.append("</tr>")
    return "".join([*out, "</tbody></table>"])


def page(sections: list[Section], figures: pathlib.Path) -> str:
    """The whole report as one HTML page, figures included."""
    out = [
        "<!doctype html><html lang=\"en\"><head><meta charset=\"utf-8\">",
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>Checked against the world outside</title><style>{_STYLE}</style></head><body>",
        "<h1>Checked against the world outside</h1>",
        *(f"<p>{_words(p)}</p>" for p in INTRODUCTION),
        _html_table(SUMMARY, _summary_rows(sections)),
        "<h2>What fails</h2>",
    ]
    failed = _failed(sections)
    if not failed:
        out.append("<p>Nothing.</p>")
    else:
        out.append("<ul>")
        for section, check in failed:
            out.append(
                f"<li><b>{_words(section.title)}: {_words(check.what)}</b> – there {_words(_with_unit(check.theirs, check.unit))}, here "
                f"{_words(_with_unit(check.ours, check.unit))} ({check.use}). {_words(check.explained or 'Not explained.')}</li>"
            )
        out.append("</ul>")
    for section in sections:
        out.append(f"<h2>{_words(section.title)}</h2>")
        out += [f"<p>{_words(p)}</p>" for p in section.text]
        for caption, columns, rows in section.tables:
            out.append(f"<p><i>{_words(caption)}</i></p>{_html_table(columns, rows)}")
        for figure in section.figures:
            svg = (figures / figure.file).read_text(encoding="utf-8")
            svg = svg[svg.index("<svg") :]
            # ids of one drawing must not meet those of another on the same page
            stem = re.sub(r"\W", "-", figure.file)
            svg = re.sub(r'(\bid="|url\(#|href="#)', rf"\g<1>{stem}-", svg)
            out.append(f"<figure>{svg}<figcaption>{_words(figure.caption)}</figcaption></figure>")
        table = _html_table(COLUMNS, map(_cells, section.checks), judged=True)
        if len(section.checks) > 60:
            table = f"<details><summary>all {len(section.checks)} checks</summary>{table}</details>"
        out.append(table)
    out.append("</body></html>")
    return "\n".join(out) + "\n"
