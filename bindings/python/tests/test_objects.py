# SPDX-License-Identifier: MIT
"""Campaigns, tables and results as objects: built, checked, copied, pickled."""

import copy
import inspect
import keyword
import pickle

import h5py
import numpy as np
import pandas as pd
import pytest
import xarray as xr
from conftest import SMALL, YARD

import arris
from arris import _core


def small_as_objects(**iron):
    blade = {"steel": "O1", "width_mm": 50, "thickness_mm": 3, "primary_bevel_deg": 25, "micro_bevel_deg": 30}
    return arris.Configuration(
        title="One iron",
        tool={"iron": arris.Tool(**{**blade, **iron})},
        edge={
            "A": arris.Edge(
                tool="iron",
                steps=[
                    arris.hone("soft waterstone, JIS #1000", strokes=20, after_burr=True),
                    arris.back("soft waterstone, JIS #1000", strokes=10),
                    arris.read("honed"),
                    arris.cut("sugar maple", passes=100),
                    arris.read("worn"),
                ],
            )
        },
    )


def test_objects_and_text_are_the_same_configuration(small):
    ours = arris.loads(small_as_objects().to_toml())
    assert ours.toml() == small.toml()
    a, b = arris.simulate(small_as_objects()), arris.simulate(small)
    for group in b:
        xr.testing.assert_identical(a[group], b[group])
    for told, given in zip(small.steps("A"), small_as_objects().edge["A"].steps, strict=True):
        assert type(told) is type(given)
        assert given.keys().items() <= told.keys().items()  # what is left out has its default in the other


def test_every_field_of_a_table_is_a_keyword_with_its_meaning():
    """Nothing is listed twice: the classes come out of the lists of fields that the loader reads."""
    for table in _core.tables():
        made = getattr(arris, table["name"])
        told = list(inspect.signature(made).parameters)
        # one that is a word of Python has a line behind it
        fields = [f["key"] + "_" * keyword.iskeyword(f["key"]) for f in table["fields"]]
        assert told == fields + (["free", "laws", "derived", "anew"] if table["name"] == "Fit" else [])
        for field in table["fields"]:
            assert field["says"] in " ".join(made.__doc__.split())


@pytest.mark.parametrize(
    ("make", "code", "key"),
    [
        (lambda: arris.Tool(steel="O1", width_mm=5000, thickness_mm=3, primary_bevel_deg=25), "out-of-range", "width_mm"),
        (lambda: arris.hone("oilstone, 9 µm", strokes=-1), "out-of-range", "strokes"),
        (lambda: arris.Wood(side_hardness_N="hard"), None, "side_hardness_N"),
    ],
)
def test_a_table_checks_itself(make, code, key):
    with pytest.raises(arris.ConfigurationError) as wrong:
        make()
    assert wrong.value.key.endswith(key)
    assert code is None or wrong.value.code == code
    assert "allowed" in str(wrong.value) or wrong.value.next


def test_an_unknown_keyword_is_python_s_own_error():
    with pytest.raises(TypeError, match="widht"):
        arris.Tool(widht_mm=50)


def test_impossible_blades_are_found_when_loaded():
    with pytest.raises(arris.ConfigurationError) as wrong:
        arris.simulate(small_as_objects(micro_bevel_deg=20))
    assert "micro_bevel_deg" in wrong.value.key


def test_stated_values_keep_their_source():
    of = small_as_objects()
    of.wood = {"sugar maple": arris.Wood(silica_pct=arris.Stated(0.05, status="estimate", source="a guess"))}
    row = arris.loads(of.to_toml()).parameters.loc["wood.sugar maple.silica_pct"]
    assert row["value"] == 0.05 and row["status"] == "estimate"


def test_errors_tell_where(tmp_path):
    file = tmp_path / "mine.toml"
    file.write_text(SMALL.replace("width_mm = 50", "widht_mm = 50"), encoding="utf-8")
    with pytest.raises(arris.Error) as wrong:
        arris.load(file)
    error = wrong.value
    assert isinstance(error, arris.ConfigurationError)
    assert error.file == str(file)
    # the table that lacks its width comes first, then the key that nothing is called
    assert [(d.code, d.line, d.column) for d in error.diagnostics] == [("missing-key", 3, 1), ("unknown-key", 5, 1)]
    assert (error.code, error.line, error.column) == ("missing-key", 3, 1)
    assert "widht_mm = 50" in str(error) and "^^^" in str(error)
    copied = pickle.loads(pickle.dumps(error))
    assert str(copied) == str(error) and copied.line == 3 and type(copied) is type(error)


def test_errors_have_a_class_by_their_exit_code(yard, tmp_path):
    with pytest.raises(arris.ConfigurationError) as usage:
        arris.forecast(yard, limit="shaving hairs")
    assert usage.value.code == "unknown-limit" and "shaving hair" in usage.value.next
    assert "--" not in usage.value.what  # it speaks of keywords, not of options
    with pytest.raises(arris.ConfigurationError, match="false_alarm"):
        arris.plan(yard, false_alarm=2.0)
    (tmp_path / "r.csv").write_text("part,reading_gf\nA,oops\n")
    with pytest.raises(arris.DataError) as data:
        arris.gauge(tmp_path / "r.csv")
    assert data.value.line == 2 and data.value.exit_code == 3
    with pytest.raises(arris.ConfigurationError) as missing:
        arris.load(tmp_path / "none.toml")
    assert missing.value.code == "no-such-file"


def test_an_edge_that_fails_is_marked_and_leaves_the_rest():
    failing = SMALL.replace("tool = \"iron\"\nsteps = [", "tool = \"iron\"\nsteps = [ { hone = \"lapping film, 0.02 µm\", strokes = 3, after_burr = true, max_strokes = 7 },")
    good = SMALL[SMALL.index("[edge.A]") :].replace("edge.A", "edge.B")
    result = arris.simulate(arris.loads(failing + good))
    assert len(result.failures) == 1 and "no burr" in result.failures[0]
    assert np.isfinite(result.track("B")["reading_gf"]).all()


@pytest.mark.parametrize("copied", [copy.copy, copy.deepcopy, lambda x: pickle.loads(pickle.dumps(x))])
def test_campaigns_and_results_can_be_copied(copied, yard):
    for of in (yard, yard.with_values({"tester.slope_N_per_um": 3.25})):
        again = copied(of)
        assert again.toml() == of.toml()
        assert again.readings.equals(of.readings)
    result = arris.simulate(yard)
    for group, data in copied(result).items():
        xr.testing.assert_identical(data, result[group])
    for group, data in arris.simulate(again).items():
        xr.testing.assert_identical(data, arris.simulate(of)[group])


def test_a_text_reads_nothing_outside_the_folder_of_its_name(tmp_path):
    inside = tmp_path / "inside"
    inside.mkdir()
    (tmp_path / "other.toml").write_text("a secret = = line\n")
    text = 'include = ["../other.toml"]\n'
    with pytest.raises(arris.ConfigurationError) as found:
        arris.loads(text, inside / "mine.toml")
    assert "[outside-folder]" in str(found.value) and "a secret" not in str(found.value)
    (inside / "mine.toml").write_text(text)
    with pytest.raises(arris.ConfigurationError, match="outside-folder"):
        arris.load(inside / "mine.toml", confined=True)
    with pytest.raises(arris.ConfigurationError, match="a secret"):  # one's own file may
        arris.load(inside / "mine.toml")


def test_a_copy_needs_no_files(tmp_path):
    folder = tmp_path / "here"
    folder.mkdir()
    (folder / "iron.toml").write_text(SMALL, encoding="utf-8")
    (folder / "mine.toml").write_text('include = ["iron.toml"]\n[readings]\nfile = "r.csv"\n')
    (folder / "r.csv").write_text("edge,step,reading_gf\nA,honed,150\nA,worn,210\n")
    campaign = arris.load(folder / "mine.toml")
    packed = pickle.dumps(campaign.with_values({"tester.slope_N_per_um": 5.0}))
    for file in folder.iterdir():
        file.unlink()
    again = pickle.loads(packed)
    assert list(again.readings["reading_gf"]) == [150, 210]
    assert again.parameters.loc["tester.slope_N_per_um", "value"] == 5.0
    assert campaign.with_values({"tester.slope_N_per_um": 5.0}).toml() == again.toml()


def test_values_are_set_to_the_last_bit(yard):
    values = {"wood.white oak.side_hardness_N": 1 / 3 * 2e4, "tester.slope_N_per_um": 0.1 + 0.2, "numerics.relative_tolerance": 1e-8}
    changed = yard.with_values(values)
    assert changed.parameters.loc["wood.white oak.side_hardness_N", "value"] == 1 / 3 * 2e4
    assert changed.parameters.loc["tester.slope_N_per_um", "value"] == 0.1 + 0.2
    assert yard.parameters.loc["tester.slope_N_per_um", "value"] != 0.1 + 0.2
    with pytest.raises(arris.ConfigurationError) as wrong:
        yard.with_values({"tester.slop_N_per_um": 1.0})
    assert wrong.value.code == "unknown-key"


def test_results_open_with_dimensions_coordinates_and_units(yard):
    simulated = arris.simulate(yard)
    fit = arris.fit(yard, free=["tester.slope_N_per_um"], starts=1, draws=200)
    for result in (simulated, fit, arris.gauge(yard)):
        for group, data in result.items():
            for name, variable in data.variables.items():
                assert variable.dims, (group, name)
                assert all(dim in data.coords for dim in variable.dims), (group, name)
                assert variable.attrs["long_name"], (group, name)
                if variable.dtype.kind == "f":
                    assert variable.attrs["units"], (group, name)
    frame = simulated.to_pandas("edge/A1/track")
    assert frame.attrs["units"]["reading_gf"] == "gf"
    assert frame["reading_gf"].iloc[-1] == float(simulated.track("A1")["reading_gf"][-1])
    assert fit.covariance.dims == ("parameter", "other")
    assert set(fit.profiles) == {"tester.slope_N_per_um"}
    assert fit.draws["tester.slope_N_per_um"].between(0.05, 100).all()


def test_open_result_refuses_what_is_none(tmp_path):
    (tmp_path / "x.h5").write_text("no HDF5")
    with pytest.raises(arris.DataError) as wrong:
        arris.open_result(tmp_path / "x.h5")
    assert wrong.value.code == "not-a-result"
    with pytest.raises(arris.DataError) as missing:
        arris.open_result(tmp_path / "none.h5")
    assert missing.value.code == "no-such-file"
    with h5py.File(tmp_path / "other.h5", "w") as other:
        other.attrs["kind"] = "simulate"
    with pytest.raises(arris.DataError) as unsealed:
        arris.open_result(tmp_path / "other.h5")
    assert unsealed.value.code == "damaged-result"


def test_a_run_sheet_is_written_and_nothing_overwritten(tmp_path):
    file = tmp_path / "boatyard.toml"
    file.write_text(YARD.read_text(encoding="utf-8"), encoding="utf-8")
    (tmp_path / "readings.csv").write_text((YARD.parent / "readings.csv").read_text(encoding="utf-8"), encoding="utf-8")
    keywords = {"difference": 30, "groups": "waterstones,film", "moments": 1, "edges": 3, "replicates": 2}
    arris.plan(file, sheet=tmp_path / "next.csv", **keywords)
    with pytest.raises(arris.DataError) as blank:
        arris.load(tmp_path / "next.toml")
    assert blank.value.code == "no-readings"
    sheet = pd.read_csv(tmp_path / "next.csv", comment="#")
    sheet["reading_gf"] = 150.0
    filled = tmp_path / "filled"
    filled.mkdir()
    for name in ("boatyard.toml", "readings.csv", "next.toml"):
        (filled / name).write_text((tmp_path / name).read_text(encoding="utf-8"), encoding="utf-8")
    sheet.to_csv(filled / "next.csv", index=False)
    assert len(arris.load(filled / "next.toml").edges) == 12 + 6
    with pytest.raises(arris.ConfigurationError) as refused:
        arris.plan(file, sheet=tmp_path / "next.csv", **keywords)
    assert refused.value.code == "would-overwrite"


def test_invented_readings_are_those_of_the_seed(yard):
    a, b = arris.invent_readings(yard, seed=5), arris.invent_readings(yard, seed=5)
    assert a.equals(b) and not a.equals(arris.invent_readings(yard, seed=6))
    assert (a["reading_gf"] > 0).all()
