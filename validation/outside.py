# SPDX-License-Identifier: MIT
"""Where the numbers come from: the program, its Python package, the small C++ program beside it, R."""

from __future__ import annotations

import csv
import dataclasses
import json
import pathlib
import subprocess
import sys
from typing import Any

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parent


@dataclasses.dataclass(frozen=True)
class Place:
    """What the checks run on.

    build      build directory with the program, the Python package and, unless ``fast``, arris_numbers
    fast       only what takes seconds, needs no packages beyond those of the tests, and no arris_numbers
    campaigns  invented campaigns behind the coverage of intervals
    """

    build: pathlib.Path
    fast: bool = False
    campaigns: int = 200

    @property
    def program(self) -> pathlib.Path:
        return self.build / "arris"

    def run(self, *words: Any) -> str:
        """Standard output of the program."""
        return _output([str(self.program), *map(str, words)])

    @property
    def numbers_program(self) -> pathlib.Path:
        return self.build / "arris_numbers"

    def numbers(self, *words: str, given: Any = None) -> Any:
        """A group of numbers of the library (validation/numbers)."""
        text = None if given is None else json.dumps(given)
        return json.loads(_output([str(self.numbers_program), *words], text))

    def page(self, report: Any) -> str:
        """The report as a page in HTML, made as the program makes those of results."""
        return _output([str(self.numbers_program), "report"], json.dumps(report))

    def r(self, script: str, given: Any) -> Any:
        """What an R script of validation/ makes of what it is given, as JSON in and out."""
        return json.loads(_output(["Rscript", "--vanilla", str(HERE / script)], json.dumps(given)))

    def package(self) -> Any:
        """The Python package of the build."""
        folder = str(self.build / "python")
        if folder not in sys.path:
            sys.path.insert(0, folder)
        import arris  # noqa: PLC0415 (its place is known only now)

        return arris


def _output(words: list[str], text: str | None = None) -> str:
    done = subprocess.run(words, input=text, capture_output=True, text=True)
    if done.returncode != 0:
        raise RuntimeError(f"{' '.join(words)} ended with {done.returncode}:\n{done.stderr}")
    return done.stdout


def table(path: str) -> list[dict[str, str]]:
    """Rows of a CSV file below the root of the project; lines that begin with # are left out."""
    lines = [line for line in (ROOT / path).read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))
