# SPDX-License-Identifier: MIT
"""Standards and handbooks: sizes of abrasives, hardness of steel, hardness of wood."""

from __future__ import annotations

import json
import math
from typing import Any

from validation.checks import Check, Section, near, printed
from validation.outside import Place, table

STANDARDS = {
    "FEPA P": "ISO 6344 (FEPA 43), coated abrasives",
    "FEPA F": "ISO 8486 (FEPA 42), bonded abrasives",
    "JIS R 6001": "JIS R 6001, electrical resistance",
    "CAMI": "CAMI scale of coated abrasives",
}
HANDBOOK = "USDA Forest Products Laboratory, Wood Handbook FPL-GTR-282, Table 5-3a"


def abrasives(place: Place) -> list[Check]:
    ours = {row["grade"]: row["size_um"] for row in json.loads(place.run("materials", "grit", "--json"))}
    out = []
    for row in table("validation/data/abrasive_sizes.csv"):
        grade, size = row["grade"], ours[row["grade"]]
        source = STANDARDS[row["standard"]]
        if row["sieve_low_um"]:
            low, high = float(row["sieve_low_um"]), float(row["sieve_high_um"])
            middle = math.sqrt(low * high)
            out.append(
                Check(
                    what=f"{grade}: mean size against the middle of its main sieve fraction",
                    source=source,
                    status=row["status"],
                    theirs=middle,
                    ours=size,
                    unit="µm",
                    tolerance="± 9 %",
                    why="half way from the geometric middle of the sieves to either of them",
                    passed=near(middle, size, relative=0.09),
                    note="the mean itself is from memory",
                )
            )
            continue
        theirs, half = printed(row["size_um"])
        out.append(
            Check(
                what=f"{grade}: size",
                source=source,
                status=row["status"],
                theirs=theirs,
                ours=size,
                unit="µm",
                tolerance=f"± {half:g} µm",
                why="half of the last digit printed",
                passed=near(theirs, size, absolute=half) if row["status"].startswith("verified") else None,
                use="input",
            )
        )
    ratio = ours["P800"] / ours["F800"]
    out.append(
        Check(
            what="P800 over F800: the same number in two standards is not the same size",
            source="ISO 6344 and ISO 8486",
            status="verified for P, from memory for F",
            theirs=21.8 / 6.5,
            ours=ratio,
            tolerance="± 1 %, and never 1",
            why="three digits each",
            passed=near(21.8 / 6.5, ratio, relative=0.01) and ours["P800"] != ours["F800"],
            use="input",
        )
    )
    return out


def steel(arris: Any) -> list[Check]:
    out = []
    for row in table("validation/data/astm_e140.csv"):
        text = f"""
[tool.iron]
steel = "O1"
hardness_hrc = {row["hrc"]}
width_mm = 50
thickness_mm = 3
primary_bevel_deg = 30
[edge.A]
tool = "iron"
steps = [{{ cut = "sugar maple", passes = 1 }}]
"""
        values = arris.loads(text).parameters["value"]
        ours = float(values[f"steel.O1 at {row['hrc']} HRC.hardness_GPa"]) / 9.80665e-3
        theirs, half = printed(row["hv"])
        out.append(
            Check(
                what=f"{row['hrc']} HRC in Vickers, from the pressure that the model uses",
                source="ASTM E140, non-austenitic steels",
                status="verified",
                theirs=theirs,
                ours=ours,
                unit="HV",
                tolerance=f"± {half:g}",
                why="half of the last digit printed",
                passed=near(theirs, ours, absolute=half),
                use="input",
            )
        )
    return out


def woods(arris: Any, place: Place) -> list[Check]:
    ours: dict[str, float] = {}
    for row in json.loads(place.run("materials", "wood", "--json")):
        if row.get("side_hardness_N", {}).get("value") is not None:
            for name in (row["name"], *row.get("also", "").split("; ")):
                ours[name.casefold()] = float(row["side_hardness_N"]["value"])
    out = []
    for row in table("validation/data/janka_metric.csv"):
        theirs = float(row["side_hardness_N"])
        mine = ours[row["species"].casefold()]
        out.append(
            Check(
                what=f"side hardness of {row['species'].lower() if ',' not in row['species'] else row['species']}",
                source=HANDBOOK,
                status="verified",
                theirs=theirs,
                ours=mine,
                unit="N",
                tolerance="± 60 N",
                why="the metric table is rounded to 100 N and was rounded from other digits than the pound table (5-3b), which the project converts",
                passed=near(theirs, mine, absolute=60),
                note=f"{row['side_hardness_lbf']} lbf in Table 5-3b",
            )
        )
    # the pressure that a formula of wear is given
    text = """
[tool.iron]
steel = "O1"
width_mm = 50
thickness_mm = 3
primary_bevel_deg = 30
apex_radius_um = 1
[wear]
rate = "k*load"
k = { value = 1e-3, unit = "µm/m" }
[coefficients]
collapse_load_N_per_m = 0
[edge.A]
tool = "iron"
steps = [{ cut = "sugar maple", passes = 1, pass_m = 1 }]
"""
    data = arris.simulate(arris.loads(text))["edge/A/track"]["apex_radius_um"].values
    pressure = float(data[-1] - data[0]) / 1e-3
    area = math.pi * 11.28**2 / 4
    theirs = 1450 * 4.4482216 / area
    out.append(
        Check(
            what="crushing pressure of sugar maple out of the geometry of the Janka ball",
            source="ASTM D143: a ball of 11.28 mm pressed in to half its diameter; 1450 lbf in Table 5-3b",
            status="verified",
            theirs=theirs,
            ours=pressure,
            unit="MPa",
            tolerance="± 0.1 %",
            why="the model takes 100 mm² for the 99.93 mm² of the projected ball",
            passed=near(theirs, pressure, relative=1e-3),
        )
    )
    return out


def sections(place: Place) -> list[Section]:
    arris = place.package()
    return [
        Section(
            "Standards and handbooks",
            [
                "Tables of the project are copies of these sources, so most rows check copying, conversion and the way to the model. "
                "The metric table of the Wood Handbook, the sieves of the coarse F grits and the geometry of the Janka ball were not "
                "copied: those rows are independent. Moisture is not in the model, so the handbook's equation 5-3 has nothing to check.",
            ],
            [*abrasives(place), *steel(arris), *woods(arris, place)],
        )
    ]
