# SPDX-License-Identifier: MIT
"""Readings as people keep them, as a DataFrame."""

import inspect
import re

import pandas as pd
import pytest
import xarray as xr

import arris

# invented
SHOP = """
[tool.iron]
steel = "O1"
width_mm = 50
thickness_mm = 3
primary_bevel_deg = 25
[edge.A]
tool = "iron"
steps = [ { hone = "soft waterstone, JIS #1000", strokes = 60 }, { read = "new" }, { cut = "teak", passes = 60 } ]
"""


def test_a_table_of_two_files_goes_into_a_campaign(tmp_path):
    (tmp_path / "a.csv").write_text("Edge;sharp;Datum;weather\nA;176,5;3.6.2025;'=dry\nA;180,5;17.6.2025;\n")
    (tmp_path / "b.csv").write_text("edge,step,reading_gf,operator,date\nA,new,181,NA,2025-06-18\n")
    frame = arris.read_readings(
        [tmp_path / "a.csv", tmp_path / "b.csv"], unit="gf", columns={"Datum": "date"}, moments={"sharp": "new"}
    )
    assert list(frame["reading_gf"]) == [176.5, 180.5, 181.0]
    assert list(frame["date"]) == [pd.Timestamp(2025, 6, 3), pd.Timestamp(2025, 6, 17), pd.Timestamp(2025, 6, 18)]
    assert frame["operator"].iloc[2] == "NA" and frame["note"].iloc[0] == "weather: =dry"
    assert any("decimal comma" in sentence for sentence in frame.attrs["said"])
    campaign = arris.loads(SHOP).with_readings(frame)
    back = campaign.readings
    assert list(back["date"]) == ["2025-06-03", "2025-06-17", "2025-06-18"]
    assert list(back["reading_gf"]) == [176.5, 180.5, 181.0]


def test_what_has_two_readings_is_an_error_that_shows_both(tmp_path):
    (tmp_path / "a.csv").write_text("edge,step,reading_gf,date\nA,new,181,3/6/2025\n")
    with pytest.raises(arris.DataError, match="2025-06-03 with the day first, or 2025-03-06 with the month first"):
        arris.read_readings(tmp_path / "a.csv")
    frame = arris.read_readings(tmp_path / "a.csv", dates="month first")
    assert frame["date"].iloc[0] == pd.Timestamp(2025, 3, 6)
    with pytest.raises(arris.Error, match="bad-form"):
        arris.read_readings(tmp_path / "a.csv", dates="whichever")


def test_several_files_of_a_configuration_are_pickled_as_one_table(tmp_path):
    import pickle

    (tmp_path / "a.csv").write_text("edge;step;reading_gf\nA;new;176,5\n")
    (tmp_path / "b.csv").write_text("edge,step,reading_gf\nA,new,181\n")
    (tmp_path / "shop.toml").write_text(SHOP + '[readings]\nfile = ["a.csv", "b.csv"]\n')
    campaign = arris.load(tmp_path / "shop.toml")
    for path in tmp_path.glob("*.csv"):
        path.unlink()
    again = pickle.loads(pickle.dumps(campaign))
    assert list(again.readings["reading_gf"]) == [176.5, 181.0]
    assert list(campaign.with_values({"tester.slope_N_per_um": 5.0}).readings["reading_gf"]) == [176.5, 181.0]


def test_a_log_is_checked_as_the_command_checks_it(tmp_path, program):
    values = [101, 99, 100, 102, 98, 100, 101, 99, 102, 130]
    rows = [f"A,new,{x},2025-06-{day:02}" for day, x in enumerate(values, 1)]
    log = tmp_path / "log.csv"
    log.write_text("\n".join(["edge,step,reading_gf,date", *rows, ""]))
    (tmp_path / "shop.toml").write_text(SHOP + '[readings]\nfile = "log.csv"\n')
    of_files = arris.log_check(log, edge="A", base=9)
    shop = tmp_path / "shop.toml"
    for source, ours in ((log, of_files), (shop, arris.log_check(shop, edge="A", base=9)), (shop, arris.log_check(arris.load(shop), base=9))):
        program("log", "check", source, "--edge", "A", "--base", 9, "--quiet", "--out", tmp_path / "check.h5")
        theirs = arris.open_result(tmp_path / "check.h5")
        assert ours.kind == theirs.kind
        assert set(ours) == set(theirs) and len(ours) > 0
        for group in ours:
            xr.testing.assert_identical(ours[group], theirs[group])
        assert ours.sentence == theirs.sentence
    assert "10" in of_files.sentence
    with pytest.raises(arris.ConfigurationError) as refused:
        arris.log_check(arris.loads(SHOP))
    assert refused.value.code == "no-readings"
    text = program("log", "--help")
    options = {name for name in re.findall(r"^  (?:-\w,)?--([a-z-]+)", text, re.M)}
    of_add = {"reading", "code", "step", "passes", "replicate", "operator", "lot", "date", "test-day", "note", "excluded", "config"}
    of_files_alone = {"out", "csv", "json", "quiet", "help", "confined", "threads"}
    keywords = {p for p in inspect.signature(arris.log_check).parameters if p != "source"}
    assert {"columns" if name == "column" else name for name in options - of_add - of_files_alone} == keywords
