# SPDX-License-Identifier: MIT
"""This year against last, from Python as from the program."""

import json

import pytest

import arris

CAMPAIGN = """
[readings]
file = "readings.csv"
[tool.iron]
kind = "plane iron"
steel = "O1"
width_mm = 50
thickness_mm = 3.2
primary_bevel_deg = 25
[route.film]
steps = [ { hone = "lapping film, 15 µm", strokes = 30 } ]
"""
EDGES = ["E1", "E2", "E3", "E4"]


@pytest.fixture
def campaign(tmp_path):
    edges = "".join(f'[edge.{e}]\ntool = "iron"\nroute = "film"\nsteps = [ {{ read = "ready" }} ]\n' for e in EDGES)
    (tmp_path / "my.toml").write_text(CAMPAIGN + edges, encoding="utf-8")
    rows = [
        f"{edge},ready,{(150 + 4 * k + 3 * ((5 * k + 7 * n) % 4)) * (1.25 if year == 2026 else 1):.0f},{year}-04-0{n + 1}"
        for k, edge in enumerate(EDGES)
        for year in (2025, 2026)
        for n in range(2)
    ]
    (tmp_path / "readings.csv").write_text("edge,step,reading_gf,date\n" + "\n".join(rows) + "\n", encoding="utf-8")
    return tmp_path / "my.toml"


def test_years_are_told_as_by_the_program_and_drawn(campaign, program, tmp_path):
    result = arris.compare(campaign, between="years")
    assert "Readings of 2026 are 1.2" in result.sentence and "the change is real" in result.sentence
    periods = result["periods"]
    assert list(periods["period"].values) == ["2025", "2026"]
    assert float(periods["ratio_low"][1]) < 1.25 < float(periods["ratio_high"][1])
    by_program = json.loads(program("compare", campaign, "--between", "years", "--json", "-"))
    assert by_program["periods"][1]["ratio"] == pytest.approx(float(periods["ratio"][1]), rel=1e-9)
    result.save(tmp_path / "periods.h5")
    program("report", tmp_path / "periods.h5", "--figure", "periods", "--out", tmp_path / "periods.svg")
    assert "no change" in (tmp_path / "periods.svg").read_text(encoding="utf-8")


def test_what_is_about_ways_is_refused_beside_periods(campaign):
    with pytest.raises(arris.ConfigurationError, match="--between compares readings of the same"):
        arris.compare(campaign, between="years", members=10)
    with pytest.raises(arris.ConfigurationError, match="no length of a period"):
        arris.compare(campaign, between="weeks")
    with pytest.raises(arris.DataError, match="one year"):
        text = (campaign.parent / "readings.csv").read_text(encoding="utf-8").replace("2026-", "2025-")
        (campaign.parent / "readings.csv").write_text(text, encoding="utf-8")
        arris.compare(campaign, between="years")
