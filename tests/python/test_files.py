# SPDX-License-Identifier: MIT
"""What the scientific stack sees in a result file: dimensions, coordinates, units, provenance."""

import csv
import hashlib
import os
import pathlib
import subprocess

import h5py
import numpy as np
import pytest
import xarray as xr

SOURCE = pathlib.Path(os.environ["ARRIS_SOURCE_DIR"])
YARD = SOURCE / "configs" / "boatyard" / "boatyard.toml"


def run(*arguments):
    return subprocess.run([os.environ["ARRIS_PROGRAM"], *map(str, arguments)], check=True, capture_output=True, text=True)


@pytest.fixture(scope="module")
def simulated(tmp_path_factory):
    folder = tmp_path_factory.mktemp("simulated")
    run("simulate", YARD, "--quiet", "--out", folder / "yard.h5", "--csv", folder / "yard.csv")
    return folder


@pytest.fixture(scope="module")
def gauged(tmp_path_factory):
    folder = tmp_path_factory.mktemp("gauged")
    run("gauge", YARD, "--quiet", "--out", folder / "gauge.h5", "--csv", folder / "gauge.csv")
    return folder


@pytest.fixture(scope="module")
def fitted(tmp_path_factory):
    folder = tmp_path_factory.mktemp("fitted")
    run("fit", YARD, "--quiet", "--starts", "2", "--out", folder / "fit.h5", "--fitted", folder / "fitted.toml")
    return folder


def groups_with_data(path):
    """Every group that holds data sets itself."""
    found = []
    with h5py.File(path) as file:
        file.visititems(lambda name, node: found.append(name) if isinstance(node, h5py.Group) and any(isinstance(c, h5py.Dataset) for c in node.values()) else None)
    return found


@pytest.mark.parametrize("which", ["simulated", "fitted", "gauged"])
def test_every_group_opens_with_named_dimensions_and_units(which, request):
    folder = request.getfixturevalue(which)
    path = next(folder.glob("*.h5"))
    groups = groups_with_data(path)
    assert groups
    for group in groups:
        with xr.open_dataset(path, group=group, engine="h5netcdf") as data:
            assert data.sizes, group
            assert not any(str(name).startswith("phony") for name in data.dims), group
            for name, variable in data.variables.items():
                assert variable.attrs["long_name"], (group, name)
                if variable.dtype.kind == "f":
                    assert variable.attrs["units"], (group, name)


def test_the_track_of_an_edge_is_the_one_in_the_csv(simulated):
    with open(simulated / "yard.csv", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["edge"] == "A1"]
    with xr.open_dataset(simulated / "yard.h5", group="edge/A1/track", engine="h5netcdf") as track:
        assert track.sizes == {"point": len(rows)}
        assert track.apex_radius_um.attrs["units"] == "um"
        for name in ("apex_radius_um", "burr_um", "passes", "reading_N", "reading_gf"):
            # CSV writes the shortest decimal that reads back to the same double
            assert np.array_equal(track[name].values, [float(row[name]) for row in rows])


def test_the_root_says_how_the_file_came_to_be(simulated, fitted):
    for path, kind in ((simulated / "yard.h5", "simulate"), (fitted / "fit.h5", "fit")):
        with h5py.File(path) as file:
            for name in ("Conventions", "title", "history", "kind", "version", "commit", "compiler", "flags", "numerics", "rests_on", "inputs", "configuration"):
                assert isinstance(file.attrs[name], str), name
            assert file.attrs["kind"] == kind
            assert file.attrs["schema_version"] == 4
            assert file.attrs["headline"]
            assert "boatyard.toml sha1:" in file.attrs["inputs"]


def test_a_fitted_configuration_simulates_closer_to_the_readings(fitted, tmp_path):
    def typical_error(config):
        out = tmp_path / "out.json"
        run("simulate", config, "--quiet", "--json", out)
        import json

        return json.loads(out.read_text())["comparison"]["typical_error"]

    # edges differ by 14 % and readings by 9 % in the invented truth, which no fit of the mean edge takes away: of an error of
    # 0.13 some 0.11 must stay
    assert typical_error(fitted / "fitted.toml") < 0.9 * typical_error(YARD)


def test_the_covariance_of_a_fit_is_symmetric_and_positive(fitted):
    with xr.open_dataset(fitted / "fit.h5", group="parameters", engine="h5netcdf") as parameters:
        covariance = parameters.covariance
        assert covariance.dims == ("parameter", "other")
        assert np.allclose(covariance, covariance.T, rtol=1e-12)
        assert np.linalg.eigvalsh(covariance).min() > 0


@pytest.fixture(scope="module")
def swept(tmp_path_factory):
    folder = tmp_path_factory.mktemp("swept")
    words = ("sweep", YARD, "--edge", "A2", "--quiet", "--over", "backing.soft hide.modulus_MPa=1:100:70:log", "--over", "step.6.laps=0:40:21", "--at", "after step 6")
    run(*words, "--out", folder / "whole.h5")
    for i in (1, 2, 3):
        run(*words, "--shard", f"{i}/3", "--out", folder / f"share{i}.h5")
    for name, how in (("merged", ()), ("linked", ("--link",))):
        run("merge", *(folder / f"share{i}.h5" for i in (3, 1, 2)), "--out", folder / f"{name}.h5", "--quiet", *how)
    return folder


def test_a_sweep_opens_with_its_inputs_as_coordinates(swept):
    with xr.open_dataset(swept / "whole.h5", group="map", engine="h5netcdf") as data:
        assert data.sizes == {"backing_modulus_MPa": 70, "step_6_laps": 21}
        assert data.backing_modulus_MPa.attrs["units"] == "MPa"
        # pow rounds within a few ulp
        assert np.allclose(data.backing_modulus_MPa, np.geomspace(1, 100, 70), rtol=1e-14)
        assert np.array_equal(data.step_6_laps, np.linspace(0, 40, 21))
        assert data.reading_gf.dims == ("backing_modulus_MPa", "step_6_laps")
        assert data.reading_gf.attrs["units"] == "gf"
        assert (data.status == 0).all()
        assert np.isfinite(data.apex_radius_um).all()
        # before the first lap the pad has done nothing
        assert np.ptp(data.reading_gf.sel(step_6_laps=0).values) == 0
    with h5py.File(swept / "whole.h5") as file:
        assert file.attrs["kind"] == "sweep"
        stored = file["map/reading_gf"]
        assert stored.chunks == (70, 21) and stored.shuffle and stored.compression == "gzip"
        assert file["map/status"].dtype == np.int8 and file["map/status"].compression == "gzip"


@pytest.mark.parametrize("way", ["merged", "linked"])
def test_a_merged_sweep_reads_as_the_whole_by_itself_or_through_links(swept, way):
    with h5py.File(swept / f"{way}.h5") as file:
        assert file["map/reading_gf"].is_virtual == (way == "linked")
    with xr.open_dataset(swept / "whole.h5", group="map", engine="h5netcdf") as whole, xr.open_dataset(swept / f"{way}.h5", group="map", engine="h5netcdf") as merged:
        assert whole.equals(merged)


def test_shares_are_blocks_that_follow_each_other(swept):
    """So that xarray puts them together too (open_mfdataset, which needs dask, does the same)."""
    shares = [xr.open_dataset(swept / f"share{i}.h5", group="map", engine="h5netcdf") for i in (1, 2, 3)]
    with xr.open_dataset(swept / "whole.h5", group="map", engine="h5netcdf") as whole:
        assert xr.combine_by_coords([shares[2], shares[0], shares[1]], combine_attrs="override").equals(whole)
    for share in shares:
        share.close()


def test_a_copied_sweep_needs_no_shares_and_a_linked_one_is_refused_without_them(swept, tmp_path):
    for name in ("merged", "linked"):
        (tmp_path / f"{name}.h5").write_bytes((swept / f"{name}.h5").read_bytes())
    run("report", tmp_path / "merged.h5", "--quiet", "--out", tmp_path / "merged.html")
    for words in (["report", tmp_path / "linked.h5", "--quiet", "--out", tmp_path / "linked.html"],
                  ["forecast", YARD, "--fit", tmp_path / "linked.h5", "--quiet"]):
        with pytest.raises(subprocess.CalledProcessError) as refused:
            run(*words)
        assert refused.value.returncode == 3
        assert "share-changed" in refused.value.stderr
        assert all(f"share{i}.h5 is not there" in refused.value.stderr for i in (1, 2, 3))
    assert not (tmp_path / "linked.html").exists()


def test_what_counts_or_says_yes_or_no_is_kept_as_integers(simulated, fitted, swept):
    for path, name in ((simulated / "yard.h5", "edge/A1/track/step"), (simulated / "yard.h5", "readings/line"),
                       (fitted / "fit.h5", "parameters/determined"), (fitted / "fit.h5", "starts/evaluations")):
        with h5py.File(path) as file:
            assert file[name].dtype == np.int64, name
    with h5py.File(swept / "share2.h5") as file:
        assert {name: int(file.attrs[name]) for name in ("first_row", "rows_per_chunk", "members")} == {"first_row": 23, "rows_per_chunk": 1, "members": 23 * 21}
        assert all(np.asarray(file.attrs[name]).dtype == np.int64 for name in ("first_row", "members", "failed", "schema_version"))


def test_names_are_coordinates_too(tmp_path):
    run("sweep", YARD, "--edge", "A2", "--quiet", "--over", "step.8.cut=white oak|teak", "--output", "passes_to_limit,apex_radius_um", "--out", tmp_path / "woods.h5")
    with xr.open_dataset(tmp_path / "woods.h5", group="map", engine="h5netcdf") as data:
        assert list(data.step_8_cut.values) == ["white oak", "teak"]
        assert data.passes_to_limit.dims == ("step_8_cut",)


def test_docs_name_every_group_and_attribute(simulated, fitted, gauged, tmp_path):
    """docs/results.md is the layout: what it does not name, no file has."""
    told = (SOURCE / "docs" / "results.md").read_text()
    run("forecast", YARD, "--quiet", "--members", "20", "--out", tmp_path / "forecast.h5")
    run("compare", YARD, "--quiet", "--members", "20", "--out", tmp_path / "compare.h5")
    run("upkeep", YARD, "--quiet", "--members", "5", "--out", tmp_path / "upkeep.h5")
    run("plan", YARD, "--quiet", "--out", tmp_path / "plan.h5")
    run("weigh", YARD, "--quiet", "--starts", "1", "--law", "shared-load", "--law", "constant-rate", "--out", tmp_path / "weigh.h5")
    for question in ("soft-strop", "strokes"):
        run("sweep", YARD, "--quiet", "--question", question, "--out", tmp_path / f"{question}.h5")
    paths = [next(folder.glob("*.h5")) for folder in (simulated, fitted, gauged)] + sorted(tmp_path.glob("*.h5"))
    assert len(paths) == 10
    for path in paths:
        for group in groups_with_data(path):
            first, *rest = group.split("/")
            name = {"edge": "/edge/NAME/" + "".join(rest[1:]), "profile": "/profile/PATH"}.get(first, f"/{first}")
            if group.startswith("derived/profile/"):
                name = "/derived/profile/N"
            assert f"`{name}`" in told, (path.name, group)
        with h5py.File(path) as file:
            settings = {name for name, value in file.attrs.items() if np.issubdtype(np.asarray(value).dtype, np.number)}
            for name in file.attrs:
                assert f"`{name}`" in told or name in settings, (path.name, name)


def test_an_answer_names_the_fit_that_it_read(tmp_path):
    run("fit", YARD, "--quiet", "--starts", "1", "--no-profiles", "--draws", "200", "--out", tmp_path / "fit.h5")
    before = (tmp_path / "fit.h5").read_bytes()
    for words in (["forecast", "--members", "20"], ["simulate"], ["sweep", "--over", "step.1.strokes=20:40:2"]):
        run(words[0], YARD, *words[1:], "--quiet", "--fit", tmp_path / "fit.h5", "--out", tmp_path / "answer.h5")
        with h5py.File(tmp_path / "answer.h5") as file:
            inputs = file.attrs["inputs"].split("\n")
        assert [line.split(" ")[0] for line in inputs] == [str(YARD), str(YARD.with_name("readings.csv")), str(tmp_path / "fit.h5")]
        assert inputs[-1].split("sha1:")[1] == hashlib.sha1(before).hexdigest()
    # and it is not written over
    with pytest.raises(subprocess.CalledProcessError) as refused:
        run("forecast", YARD, "--quiet", "--fit", tmp_path / "fit.h5", "--out", tmp_path / "fit.h5")
    assert "would-overwrite" in refused.value.stderr
    assert (tmp_path / "fit.h5").read_bytes() == before
