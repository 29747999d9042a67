# SPDX-License-Identifier: MIT
"""Runs the checks and writes the report.

    /usr/bin/python3 validation/run.py                     all; validation/REPORT.md and build/validation/report.html
    /usr/bin/python3 validation/run.py --fast              what the tests run: seconds, no report in validation/, no page
    /usr/bin/python3 validation/run.py --only physics,profile.compare
    /usr/bin/python3 validation/run.py --resume            goes on with a run that was cut off, if nothing has changed since

Exit code 0 when every check passes or its failure is explained, 1 when one fails without a reason.
"""

from __future__ import annotations

import argparse
import concurrent.futures
import hashlib
import importlib
import multiprocessing
import os
import pathlib
import pickle
import sys
import time

# small matrices, two processes: threads of the linear algebra would only get in each other's way
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent))

from validation.checks import Section, as_json, markdown, report_on  # noqa: E402
from validation.outside import HERE, ROOT, Place  # noqa: E402

#: Groups in the order of the report: whether they belong to the tests, and about how many seconds they take.
GROUPS = {
    "physics": (True, 5),
    "standards": (True, 5),
    "common_practice": (True, 1),
    "profile.compare": (False, 400),
    "numerics": (False, 10),
    "fitting": (False, 60),
    "statistics": (False, 60),
    "uncertainty": (False, 350),
    "coverage": (False, 450),
}


def run(group: str, place: Place, kept: pathlib.Path) -> tuple[list[Section], float]:
    """The sections of a group, and how many seconds they took; kept in a file for --resume."""
    began = time.monotonic()
    found = importlib.import_module(f"validation.{group}").sections(place)
    kept.parent.mkdir(parents=True, exist_ok=True)
    kept.with_suffix(".part").write_bytes(pickle.dumps(found))
    kept.with_suffix(".part").rename(kept)
    return found, time.monotonic() - began


def state_of_sources() -> str:
    """A name for everything that results depend on; it changes with any file of it."""
    digest = hashlib.sha256()
    for folder in ("sim", "bindings", "configs", "validation", "tests"):
        for path in sorted((ROOT / folder).rglob("*")):
            made_here = path.name == "REPORT.md" or "figures" in path.parts or "__pycache__" in path.parts
            if path.is_file() and not made_here:
                digest.update(str(path.relative_to(ROOT)).encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:16]


def arguments() -> tuple[argparse.Namespace, list[str]]:
    """What was asked for, and the groups that it takes."""
    words = argparse.ArgumentParser(description="Checks against the world outside")
    words.add_argument("--build", type=pathlib.Path, default=ROOT / "build", help="build directory")
    words.add_argument("--fast", action="store_true", help="only what takes seconds")
    words.add_argument("--only", default="", help="groups, with commas between; the report then goes to the build directory")
    words.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="groups at the same time")
    words.add_argument("--resume", action="store_true", help="take what a run that was cut off has finished, if no source has changed")
    words.add_argument("--campaigns", type=int, default=200, help="invented campaigns behind the coverage of intervals")
    given = words.parse_args()
    wanted = [g for g in given.only.split(",") if g] or [g for g, (fast, _) in GROUPS.items() if fast or not given.fast]
    unknown = sorted(set(wanted) - set(GROUPS))
    if unknown:
        words.error(f"no such group: {', '.join(unknown)}; there are {', '.join(GROUPS)}")
    return given, wanted


def run_all(wanted: list[str], place: Place, jobs: int, resume: bool) -> list[Section]:
    """The sections of these groups, in the order of the report."""
    folder = place.build / "validation" / f"kept-{state_of_sources()}-{place.campaigns}{'-fast' if place.fast else ''}"
    kept = {g: folder / f"{g}.pickle" for g in wanted}
    sections: list[Section] = []
    with concurrent.futures.ProcessPoolExecutor(jobs, multiprocessing.get_context("spawn")) as pool:
        # the longest first
        waiting = {
            g: pool.submit(run, g, place, kept[g])
            for g in sorted(wanted, key=lambda g: -GROUPS[g][1])
            if not (resume and kept[g].exists())
        }
        for group in sorted(wanted, key=list(GROUPS).index):
            if group in waiting:
                found, took = waiting[group].result()
                print(f"{group}: {took:.0f} s", file=sys.stderr)
            else:
                found = pickle.loads(kept[group].read_bytes())  # noqa: S301 (written by this program)
                print(f"{group}: as it was kept", file=sys.stderr)
            sections += found
    return sections


def write(sections: list[Section], place: Place, whole: bool) -> list[pathlib.Path]:
    """Writes the report, in validation/ if it is whole, and the page of it where the program for that is built; returns their paths."""
    out = place.build / "validation"
    out.mkdir(parents=True, exist_ok=True)
    report = report_on(sections)
    written = [(HERE if whole else out) / "REPORT.md"]
    written[0].write_text(markdown(report), encoding="utf-8")
    if not place.fast and place.numbers_program.exists():
        written.append(out / "report.html")
        written[1].write_text(place.page(as_json(report, HERE / "figures")), encoding="utf-8")
    return written


def print_outcome(sections: list[Section]) -> int:
    """Prints how each group went; returns how many checks fail without a reason."""
    unexplained = 0
    for section in sections:
        print(f"{section.title}: {len(section.checks)} checks, {section.count(False)} fail, {section.count(None)} not judged")
        for check in section.checks:
            if check.passed is False:
                unexplained += not check.explained
                print(f"  FAIL{'' if check.explained else ', not explained'}: {check.what}: there {check.theirs}, here {check.ours}")
    return unexplained


def main() -> int:
    given, wanted = arguments()
    place = Place(given.build.resolve(), given.fast, given.campaigns)
    sections = run_all(wanted, place, given.jobs, given.resume)
    written = write(sections, place, whole=not given.fast and not given.only)
    unexplained = print_outcome(sections)
    print(f"wrote {' and '.join(map(str, written))}")
    return 1 if unexplained else 0


if __name__ == "__main__":
    sys.exit(main())
