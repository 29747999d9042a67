# SPDX-License-Identifier: MIT
"""Instructions of four pieces of work (counts.cpp), counted by valgrind's callgrind, against those in counts.csv.

Counts do not depend on how busy a computer is; they do on compiler, C library and instruction set, which Debian 12 on a processor
with AVX2 fixes. Elsewhere nothing is compared.

    counts.py PROGRAM             prints all, and ends with 1 where one is more than 5 % above its number
    counts.py PROGRAM --log FILE  writes what it prints to FILE too
    counts.py PROGRAM --update    writes counts.csv anew: do so, and say why in the commit, when work is meant to take more or much less
"""
from __future__ import annotations

import argparse
import csv
import re
import shutil
import subprocess
import sys
from pathlib import Path

MOST = 1.05  #: a count may grow by so much before it has to be written down
SKIPPED = 77  #: exit code that ctest takes for "skipped"
FILE = Path(__file__).with_name("counts.csv")


def instructions(program: str, work: str) -> int:
    """Instructions within `counted` of one piece of work. Raises RuntimeError when valgrind does not tell."""
    command = ["valgrind", "--tool=callgrind", "--callgrind-out-file=/dev/null", "--toggle-collect=counted", program, work]
    done = subprocess.run(command, capture_output=True, text=True)
    found = re.search(r"Collected : (\d+)", done.stderr)
    if done.returncode != 0 or found is None:
        raise RuntimeError(f"{' '.join(command)} ended with {done.returncode}:\n{done.stderr[-2000:]}")
    return int(found[1])


def has_avx2() -> bool:
    """Whether this processor has the instruction set that the numbers are of."""
    return " avx2" in Path("/proc/cpuinfo").read_text(encoding="utf-8")


def compared(before: dict[str, int], now: dict[str, int]) -> tuple[list[str], list[str]]:
    """A line for each piece of work, and the names of those that take more than is written down."""
    lines = []
    for name, count in now.items():
        change = f"{100.0 * (count / before[name] - 1.0):+.1f} %" if name in before else "new"
        lines.append(f"{name:12} {count:>14,} instructions  {change}")
    return lines, [name for name, count in now.items() if name not in before or count > MOST * before[name]]


def main() -> int:
    """Counts, compares and prints. Exit code 1 when a count has grown, 77 where nothing can be counted."""
    options = argparse.ArgumentParser(description="instructions of four pieces of work")
    options.add_argument("program", help="arris_counts")
    options.add_argument("--log", type=Path, help="a file for what is printed")
    options.add_argument("--update", action="store_true", help="write counts.csv anew")
    given = options.parse_args()
    lines, code = counted(given.program, given.update)
    print("\n".join(lines))
    if given.log is not None:
        given.log.parent.mkdir(parents=True, exist_ok=True)
        given.log.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return code


def counted(program: str, update: bool) -> tuple[list[str], int]:
    """Lines to print, and the exit code."""
    if shutil.which("valgrind") is None or not has_avx2():
        return ["no valgrind here, or no AVX2: nothing was counted"], SKIPPED
    with FILE.open(newline="", encoding="utf-8") as file:
        before = {row["work"]: int(row["instructions"]) for row in csv.DictReader(file)}
    names = subprocess.run([program], capture_output=True, text=True, check=True).stdout.split()
    now = {name: instructions(program, name) for name in names}
    lines, grown = compared(before, now)
    if update:
        FILE.write_text("work,instructions\n" + "".join(f"{name},{count}\n" for name, count in now.items()), encoding="utf-8")
        return lines, 0
    if grown:
        lines.append(f"more than 5 % above tests/counts/counts.csv: {', '.join(grown)}. If it is meant to be so: ./dev counts --update")
    return lines, 1 if grown else 0


if __name__ == "__main__":
    sys.exit(main())
