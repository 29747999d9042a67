# SPDX-License-Identifier: MIT
"""Results to keep: saved, opened as what they were, drawn, put together, sealed."""

import json
import os
import re
import shutil
import subprocess

import h5py
import numpy as np
import pandas as pd
import pytest
import xarray as xr
from conftest import YARD
from test_objects import small_as_objects

import arris

OVER = ["backing.soft hide.modulus_MPa=1:100:70:log", "step.6.laps=0:40:5"]


@pytest.fixture(scope="module")
def fit(yard):
    return arris.fit(yard, free=["tester.slope_N_per_um"], starts=1, draws=300, no_profiles=True)


@pytest.fixture(scope="module")
def made(yard, fit):
    return {
        "simulate": arris.simulate(yard),
        "fit": fit,
        "sweep": arris.sweep(yard, edge="A2", over=OVER, at="after step 6"),
        "forecast": arris.forecast(yard, members=20, edge="A1"),
        "gauge": arris.gauge(yard),
    }


KINDS = ["simulate", "fit", "sweep", "forecast", "gauge"]


@pytest.mark.parametrize("kind", KINDS)
def test_what_is_saved_is_opened_as_what_it_was(made, kind, tmp_path, program):
    result = made[kind]
    result.save(tmp_path / "r.h5")
    again = arris.open_result(tmp_path / "r.h5")
    assert type(again) is type(result) and again.kind == kind
    assert list(again) == sorted(result)
    for group in result:
        xr.testing.assert_identical(again[group], result[group])
    assert again.attributes == result.attributes
    for name in ("sentence", "remarks", "cautions", "rests_on"):
        assert getattr(again, name) == getattr(result, name), name
    # the program reads it, and both make the same page of it
    program("report", tmp_path / "r.h5", "--quiet", "--out", tmp_path / "theirs.html")
    ours = again.report(tmp_path / "ours.html")
    assert ours == (tmp_path / "theirs.html").read_text(encoding="utf-8") == (tmp_path / "ours.html").read_text(encoding="utf-8")
    assert [p.name for p in tmp_path.iterdir() if p.name.startswith(".")] == []


@pytest.mark.parametrize("kind", KINDS)
def test_results_say_where_they_come_from(made, kind, yard):
    a = made[kind].attributes
    assert a["command"].startswith(f"arris.{kind}(") and str(YARD) in a["command"]
    assert a["version"] == arris.__version__ and a["commit"] and a["started"].endswith("Z")
    assert a["schema_version"] == 4 and a["title"] == yard.title
    assert "boatyard.toml sha1:" in a["inputs"] and a["configuration"] == yard.toml()
    assert a["rests_on"] == made[kind].rests_on
    assert re.search(r", (no lanes|lanes of (SSE2|AVX2|AVX-512))$", a["system"])


def test_figures_are_those_of_the_program(made, tmp_path, program):
    result = made["sweep"]
    assert list(result.figures)
    figure = result.figure(width=350)
    assert figure._repr_svg_().startswith("<") and "<svg" in figure.svg
    result.save(tmp_path / "r.h5")
    program("report", tmp_path / "r.h5", "--figure", figure.name, "--width", 350, "--quiet", "--out", tmp_path / "x.svg")
    figure.save(tmp_path / "y.svg")
    assert (tmp_path / "x.svg").read_text(encoding="utf-8") == (tmp_path / "y.svg").read_text(encoding="utf-8")
    with pytest.raises(ValueError, match="there are"):
        result.figure("no such figure")
    with pytest.raises(ValueError, match="240 to 4000"):
        result.figure(width=10)


def test_a_notebook_shows_the_answer_and_a_table(made):
    shown = made["forecast"]._repr_html_()
    assert "<table" in shown and made["forecast"].sentence.split(" ")[0] in shown
    assert "<script" not in made["simulate"]._repr_html_()


def test_a_fit_serves_from_its_file(yard, fit, tmp_path, program):
    fit.save(tmp_path / "fit.h5")
    opened = arris.open_result(tmp_path / "fit.h5")
    assert opened.converged and opened.draws_converged and opened.undetermined == fit.undetermined
    assert opened.estimates.equals(fit.estimates) and opened.spread == fit.spread
    assert arris.fitted(yard, opened).toml() == arris.fitted(yard, fit).toml() == arris.fitted(yard, tmp_path / "fit.h5").toml()
    with pytest.raises(arris.DataError, match=r"result of arris simulate, not of a fit"):
        arris.fitted(yard, arris.simulate(yard))
    keywords = {"edge": "A1", "members": 20, "passes": 300}
    a, b = arris.forecast(yard, fit=tmp_path / "fit.h5", **keywords), arris.forecast(yard, fit=fit, **keywords)
    for group in a:
        xr.testing.assert_identical(a[group], b[group])
    assert f"{tmp_path}/fit.h5 sha1:" in a.attributes["inputs"]
    program("forecast", YARD, "--edge", "A1", "--members", 20, "--passes", 300, "--fit", tmp_path / "fit.h5", "--quiet")
    # and from that of the program
    program("fit", YARD, "--free", "tester.slope_N_per_um", "--starts", 1, "--no-profiles", "--quiet", "--out", tmp_path / "theirs.h5")
    theirs = arris.open_result(tmp_path / "theirs.h5")
    assert arris.fitted(yard, theirs).parameters.loc["tester.slope_N_per_um", "value"] == theirs.estimates["tester.slope_N_per_um"]


def test_files_of_earlier_versions_are_read_and_their_fits_refused(yard, fit, made, tmp_path):
    """Written by this version under their numbers: what is looked at is the number."""
    for version in (1, 2, 3):
        for name, result in (("fit", fit), ("simulate", made["simulate"])):
            file = tmp_path / f"{name}.h5"
            result.save(file)
            with h5py.File(file, "r+") as of:
                of.attrs["schema_version"], of.attrs["Conventions"] = version, f"arris-{version}"
            arris.seal(file)
            assert arris.open_result(file).kind == name and "<svg" in arris.open_result(file).report()
        words = [os.environ["ARRIS_PROGRAM"], "simulate", YARD, "--quiet", "--fit", tmp_path / "fit.h5"]
        theirs = subprocess.run(words, capture_output=True, text=True, check=False)
        if version < 3:  # a fit of another model
            assert theirs.returncode == 3 and "[old-fit]" in theirs.stderr
            for use in (lambda: arris.simulate(yard, fit=tmp_path / "fit.h5"), lambda: arris.fitted(yard, tmp_path / "fit.h5")):
                with pytest.raises(arris.DataError) as old:
                    use()
                assert old.value.code == "old-fit"
        else:
            assert theirs.returncode == 0
            assert arris.fitted(yard, tmp_path / "fit.h5").toml() == arris.fitted(yard, fit).toml()


@pytest.fixture(scope="module")
def shares(yard):
    return [arris.sweep(yard, edge="A2", over=OVER, at="after step 6", shard=f"{i}/3") for i in (1, 2, 3)]


def test_shares_make_the_whole_wherever_they_were_made(made, shares, tmp_path, program):
    whole, merged = made["sweep"], arris.merge([shares[2], shares[0], shares[1]])
    for group in whole:
        xr.testing.assert_identical(merged[group], whole[group])
    assert merged.sentence == whole.sentence and merged.members == 350 and merged.failed == 0
    files = [tmp_path / f"s{i}.h5" for i in range(3)]
    for share, file in zip(shares, files):
        share.save(file)
    xr.testing.assert_identical(arris.merge(files).map, whole.map)
    program("merge", *files, "--quiet", "--out", tmp_path / "whole.h5")
    xr.testing.assert_identical(arris.open_result(tmp_path / "whole.h5").map, whole.map)
    merged.save(tmp_path / "ours.h5")
    assert "<svg" in arris.open_result(tmp_path / "ours.h5").report()


def test_shares_that_do_not_fit_are_refused(made, shares, yard):
    other = arris.sweep(yard, edge="A2", over=["backing.soft hide.modulus_MPa=1:100:69:log", OVER[1]], at="after step 6", shard="3/3")
    for given, code in (
        (shares[:2], "share-missing"),
        ([*shares, shares[0]], "share-twice"),
        ([*shares[:2], other], "sweep-differs"),
        ([made["simulate"]], "not-a-sweep"),
        ([], "share-missing"),
    ):
        with pytest.raises(arris.DataError) as wrong:
            arris.merge(given)
        assert wrong.value.code == code
    with pytest.raises(arris.ConfigurationError, match="shard"):
        arris.sweep(yard, edge="A2", over=OVER, shard="4/3")


def test_a_linked_sweep_is_whole_or_refused(shares, tmp_path, program):
    files = [tmp_path / f"s{i}.h5" for i in range(3)]
    for share, file in zip(shares, files):
        share.save(file)
    whole = tmp_path / "whole.h5"
    program("merge", *files, "--link", "--quiet", "--out", whole)
    assert (arris.open_result(whole).map["status"] == 0).all()

    def refusal():
        with pytest.raises(arris.DataError) as wrong:
            arris.open_result(whole)
        assert wrong.value.code == "share-changed"
        return str(wrong.value)

    files[1].rename(tmp_path / "moved.h5")
    assert "s1.h5 is not there" in refusal()
    shutil.copy(files[0], files[1])
    assert "s1.h5 is another file than the one that was linked" in refusal()
    (tmp_path / "moved.h5").replace(files[1])
    assert (arris.open_result(whole).map["status"] == 0).all()


def test_a_result_that_was_changed_is_sealed_again(made, tmp_path):
    file = tmp_path / "r.h5"
    made["simulate"].save(file)
    with h5py.File(file, "r+") as of:
        of.attrs["note"] = "second batch of blanks"
    with pytest.raises(arris.DataError) as wrong:
        arris.open_result(file)
    assert wrong.value.code == "damaged-result"
    arris.seal(file)
    assert arris.open_result(file).attributes["note"] == "second batch of blanks"
    before = file.read_bytes()
    arris.seal(file)
    assert file.read_bytes() == before
    (tmp_path / "x.txt").write_text("no result")
    with pytest.raises(arris.DataError) as none:
        arris.seal(tmp_path / "x.txt")
    assert none.value.code == "not-a-result"


def test_materials_are_those_of_the_program(program):
    frame = arris.materials("wood")
    told = {entry["name"]: entry for entry in json.loads(program("materials", "wood", "--json"))}
    assert set(frame["name"]) == set(told)
    assert set(arris.materials()["kind"]) > {"steel", "wood", "family"}
    assert frame.loc[frame["key"] == "side_hardness_N", "unit"].unique().tolist() == ["N"]
    with pytest.raises(ValueError, match="steel"):
        arris.materials("stele")


def test_readings_can_be_a_table(yard):
    readings = pd.DataFrame({"edge": ["A", "A"], "step": ["honed", "worn"], "reading_gf": [150.0, 210.0]})
    campaign = small_as_objects()
    campaign.readings = readings
    given = arris.loads(campaign.to_toml()).with_readings(readings)
    for of in (given, given.with_values({"tester.slope_N_per_um": 5.0})):
        assert of.readings["reading_gf"].tolist() == [150, 210]
    assert arris.simulate(campaign)["readings"]["reading_gf"].values.tolist() == arris.simulate(given)["readings"]["reading_gf"].values.tolist()
    # what a campaign gives it takes, in the place of its own
    again = yard.with_readings(yard.readings)
    assert again.readings.equals(yard.readings)
    fit = arris.fit(again, free=["tester.slope_N_per_um"], starts=1, no_profiles=True)
    # and keeps them at the values of a fit
    assert arris.fitted(again, fit).readings.equals(yard.readings)
    with pytest.raises(arris.DataError) as wrong:
        given.with_readings(readings.assign(edge="B"))
    assert wrong.value.line == 2


def test_units_are_spelled_as_in_files(yard, fit):
    assert yard.parameters.loc["tester.slope_N_per_um", "unit"] == "N/um"
    units = set(yard.parameters["unit"]) | set(arris.materials()["unit"]) | set(arris.wear_inputs()["unit"])
    units |= set(str(u) for u in fit.parameters["unit"].values)
    assert all(unit.isascii() for unit in units), units
    assert "µm" in arris.simulate(yard).text  # which is for people
    assert np.asarray(arris.simulate(yard).track("A1")["step"]).dtype == np.int64
