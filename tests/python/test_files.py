# SPDX-License-Identifier: MIT
"""What the scientific stack sees in a result file: dimensions, coordinates, units, provenance."""

import csv
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
            assert file.attrs["schema_version"] == 1
            assert "boatyard.toml sha1:" in file.attrs["inputs"]


def test_a_fitted_configuration_simulates_closer_to_the_readings(fitted, tmp_path):
    def typical_error(config):
        out = tmp_path / "out.json"
        run("simulate", config, "--quiet", "--json", out)
        import json

        return json.loads(out.read_text())["comparison"]["typical_error"]

    assert typical_error(fitted / "fitted.toml") < 0.6 * typical_error(YARD)


def test_the_covariance_of_a_fit_is_symmetric_and_positive(fitted):
    with xr.open_dataset(fitted / "fit.h5", group="parameters", engine="h5netcdf") as parameters:
        covariance = parameters.covariance
        assert covariance.dims == ("parameter", "other")
        assert np.allclose(covariance, covariance.T, rtol=1e-12)
        assert np.linalg.eigvalsh(covariance).min() > 0
