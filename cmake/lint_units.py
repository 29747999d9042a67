# SPDX-License-Identifier: MIT
"""What clang-tidy reads: units of a build with UNITY_BUILD, from its compile database, each once.

usage: lint_units.py BUILD OUT [LIST]

Writes OUT/compile_commands.json and OUT/units, a file to a line. clang-tidy takes most of its time over headers that a source reads, so
tests are joined too, some to a unit. Their names are unique within a file alone: each stands in a namespace of its own, behind the
headers of all. LIST is a file of sources, one to a line, from the root: then it is these that are read, each by itself.

GCC's precompiled headers are nothing to clang: without them it reads the headers themselves.
"""

import json
import re
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
TESTS_IN_UNIT = 11  # some 1.2 GB


def without_precompiled(command: str) -> str:
    command = re.sub(r"-include \S*cmake_pch\.hxx", "", command)
    return command.replace("-fpch-preprocess", "").replace("-Winvalid-pch", "")


def once(entries: list[dict]) -> list[dict]:
    """Each source as its first target compiles it: a test registry compiles some anew."""
    kept: dict[str, dict] = {}
    for entry in entries:
        if "cmake_pch" not in entry["file"] and "/generated/" not in entry["file"]:
            kept.setdefault(entry["file"], entry)
    return [{**entry, "command": without_precompiled(entry["command"])} for entry in kept.values()]


def sources_of(entry: dict) -> list[str]:
    """What a unit includes; a source that is compiled by itself."""
    if "/Unity/" not in entry["file"]:
        return [entry["file"]]
    return re.findall(r'^#include "(.*\.cpp)"$', Path(entry["file"]).read_text(), re.M)


def joined(tests: list[dict], unit: Path) -> dict:
    """One unit of several tests, in the directory and with the flags of the first."""
    headers = []
    for test in tests:
        for line in re.findall(r"^#include .*$", Path(test["file"]).read_text(), re.M):
            if line not in headers:
                headers.append(line)
    parts = [f'namespace unit_{i} {{\n#include "{test["file"]}"\n}}' for i, test in enumerate(tests)]
    unit.write_text("\n".join(headers + parts) + "\n")
    first = tests[0]
    return {**first, "file": str(unit), "command": first["command"].replace(first["file"], str(unit))}


def units_of(entries: list[dict], out: Path) -> list[dict]:
    tests = [entry for entry in entries if re.search(r"/tests/test_\w+\.cpp$", entry["file"])]
    units = [entry for entry in entries if entry not in tests]
    for begin in range(0, len(tests), TESTS_IN_UNIT):
        units.append(joined(tests[begin : begin + TESTS_IN_UNIT], out / f"tests_{begin // TESTS_IN_UNIT}.cpp"))
    return units


def alone(entries: list[dict], sources: list[str]) -> list[dict]:
    wanted = {str(ROOT / source) for source in sources}
    found: dict[str, dict] = {}
    for entry in entries:
        for source in wanted.intersection(sources_of(entry)):
            found.setdefault(source, {**entry, "file": source, "command": entry["command"].replace(entry["file"], source)})
    return [found[source] for source in sorted(found)]


def main() -> None:
    build, out = Path(sys.argv[1]), Path(sys.argv[2])
    out.mkdir(parents=True, exist_ok=True)
    out = out.resolve()
    entries = once(json.loads((build / "compile_commands.json").read_text()))
    units = alone(entries, Path(sys.argv[3]).read_text().split()) if len(sys.argv) > 3 else units_of(entries, out)
    (out / "compile_commands.json").write_text(json.dumps(units, indent=1))
    (out / "units").write_text("".join(unit["file"] + "\n" for unit in units))


main()
