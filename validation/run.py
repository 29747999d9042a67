# SPDX-License-Identifier: MIT
"""Runs the checks and writes the report.

    /usr/bin/python3 validation/run.py                     all; validation/REPORT.md and build/validation/report.html
    /usr/bin/python3 validation/run.py --fast              what the tests run: seconds, no report in validation/
    /usr/bin/python3 validation/run.py --only physics,profile

Exit code 0 when every check passes or its failure is explained, 1 when one fails without a reason.
"""

from __future__ import annotations

import argparse
import concurrent.futures
import importlib
import multiprocessing
import os
import pathlib
import sys
import time

# small matrices, two processes: threads of the linear algebra would only get in each other's way
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent))

from validation.checks import Section, markdown, page  # noqa: E402
from validation.outside import HERE, ROOT, Place  # noqa: E402

#: Groups in the order of the report: whether they belong to the tests, and about how many seconds they take.
GROUPS = {
    "physics": (True, 5),
    "standards": (True, 5),
    "common_practice": (True, 1),
    "profile.compare": (False, 150),
    "numerics": (False, 10),
    "fitting": (False, 60),
    "statistics": (False, 60),
    "uncertainty": (False, 350),
}


def run(group: str, place: Place) -> tuple[list[Section], float]:
    """The sections of a group, and how many seconds they took."""
    began = time.monotonic()
    return importlib.import_module(f"validation.{group}").sections(place), time.monotonic() - began


def main() -> int:
    words = argparse.ArgumentParser(description="Checks against the world outside")
    words.add_argument("--build", type=pathlib.Path, default=ROOT / "build", help="build directory")
    words.add_argument("--fast", action="store_true", help="only what takes seconds")
    words.add_argument("--only", default="", help="groups, with commas between; the report then goes to the build directory")
    words.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="groups at the same time")
    words.add_argument("--campaigns", type=int, default=200, help="invented campaigns behind the coverage of intervals")
    given = words.parse_args()
    place = Place(given.build.resolve(), given.fast, given.campaigns)
    wanted = [g for g in given.only.split(",") if g] or [g for g, (fast, _) in GROUPS.items() if fast or not given.fast]
    unknown = sorted(set(wanted) - set(GROUPS))
    if unknown:
        words.error(f"no such group: {', '.join(unknown)}; there are {', '.join(GROUPS)}")

    # the longest first
    with concurrent.futures.ProcessPoolExecutor(given.jobs, multiprocessing.get_context("spawn")) as pool:
        waiting = {g: pool.submit(run, g, place) for g in sorted(wanted, key=lambda g: -GROUPS[g][1])}
        sections: list[Section] = []
        for group in sorted(wanted, key=list(GROUPS).index):
            found, took = waiting[group].result()
            sections += found
            print(f"{group}: {took:.0f} s", file=sys.stderr)

    out = place.build / "validation"
    out.mkdir(parents=True, exist_ok=True)
    whole = not given.fast and not given.only
    report = (HERE if whole else out) / "REPORT.md"
    report.write_text(markdown(sections), encoding="utf-8")
    (out / "report.html").write_text(page(sections, HERE / "figures"), encoding="utf-8")

    unexplained = 0
    for section in sections:
        print(f"{section.title}: {len(section.checks)} checks, {section.count(False)} fail, {section.count(None)} not judged")
        for check in section.checks:
            if check.passed is False:
                unexplained += not check.explained
                print(f"  FAIL{'' if check.explained else ', not explained'}: {check.what}: there {check.theirs}, here {check.ours}")
    print(f"wrote {report} and {out / 'report.html'}")
    return 1 if unexplained else 0


if __name__ == "__main__":
    sys.exit(main())
