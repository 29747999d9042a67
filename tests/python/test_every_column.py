# SPDX-License-Identifier: MIT
"""Every number of a result file, as h5py, xarray and pandas read it, and files of edges that failed."""

import csv
import json
import math
import os
import subprocess

import h5py
import numpy as np
import pytest
import xarray as xr
from shop import IRON, SOURCE

YARD = SOURCE / "configs" / "boatyard" / "boatyard.toml"

FAILS = IRON + """\
[edge."too fine, ½"]
tool = "iron"
steps = [ { hone = "lapping film, 0.02 µm", strokes = 3, after_burr = true, max_strokes = 7 } ]
[edge.fine]
tool = "iron"
steps = [ { read = "new" } ]
"""


def run(*arguments):
    return subprocess.run([os.environ["ARRIS_PROGRAM"], *map(str, arguments)], capture_output=True, text=True)


@pytest.fixture(scope="module")
def yard(tmp_path_factory):
    folder = tmp_path_factory.mktemp("yard")
    outcome = run("simulate", YARD, "--quiet", "--out", folder / "r.h5", "--csv", folder / "r.csv", "--json", folder / "r.json")
    assert outcome.returncode == 0, outcome.stderr
    return folder


@pytest.fixture(scope="module")
def failed(tmp_path_factory):
    folder = tmp_path_factory.mktemp("failed")
    (folder / "f.toml").write_text(FAILS)
    outcome = run("simulate", folder / "f.toml", "--quiet", "--out", folder / "r.h5")
    assert outcome.returncode == 4
    return folder


def test_h5py_reads_the_numbers_of_the_csv(yard):
    """A shortest decimal reads back to the same double, so they are equal, not close."""
    with open(yard / "r.csv", newline="") as file:
        rows = list(csv.DictReader(file))
    names = [name for name in rows[0] if name not in ("edge", "tool", "verb", "subject")]
    assert len(names) == 17
    with h5py.File(yard / "r.h5") as file:
        assert set(file["edge"]) == {row["edge"] for row in rows}
        for edge, group in file["edge"].items():
            own = [row for row in rows if row["edge"] == edge]
            assert set(group["track"]) == {"point", *names}
            for name in names:
                assert np.array_equal(group["track"][name][()], [float(row[name]) for row in own]), (edge, name)


def test_every_group_is_in_the_json_too(yard):
    result = json.loads((yard / "r.json").read_text())

    def same(data, rows):
        for name, variable in data.data_vars.items():
            for got, wanted in zip(variable.values, (row[name] for row in rows), strict=True):
                if wanted is None:
                    assert math.isnan(got), name
                else:
                    assert got == wanted, name

    with xr.open_dataset(yard / "r.h5", group="edges", engine="h5netcdf") as data:
        same(data, result["edges"])
    with xr.open_dataset(yard / "r.h5", group="comparison", engine="h5netcdf") as data:
        same(data, result["comparison"]["moments"])
    for edge in result["edges"]:
        for kind in ("steps", "track"):
            with xr.open_dataset(yard / "r.h5", group=f"edge/{edge['name']}/{kind}", engine="h5netcdf") as data:
                same(data, edge[kind])


def test_dimensions_are_named_and_every_variable_is_described(yard):
    dimension = {"edges": "edge", "comparison": "row", "edge/A1/track": "point", "edge/A1/steps": "row"}
    for group, name in dimension.items():
        with xr.open_dataset(yard / "r.h5", group=group, engine="h5netcdf") as data:
            assert tuple(data.sizes) == (name,)
            assert np.array_equal(data[name].values, np.arange(data.sizes[name]))
            for key, variable in data.variables.items():
                assert variable.dims == (name,), key
                assert variable.attrs["long_name"], key
                if variable.dtype.kind in "fi":
                    assert variable.attrs["units"] in {"1", "m", "mm", "um", "mg", "N", "gf", "degree"}, key
                else:
                    assert all(isinstance(value, str) for value in variable.values), key


def test_h5py_finds_the_scale_of_every_data_set(yard):
    found = 0
    with h5py.File(yard / "r.h5") as file:

        def visit(name, node):
            nonlocal found
            if isinstance(node, h5py.Dataset) and not h5py.h5ds.is_scale(node.id):
                for axis in node.dims:
                    assert len(axis) == 1, name
                    assert axis[0].shape[0] == node.shape[0], name
                found += 1

        file.visititems(visit)
    assert found > 300


def test_a_track_is_a_frame_in_one_call(yard):
    pandas = pytest.importorskip("pandas")
    with xr.open_dataset(yard / "r.h5", group="edge/A1/track", engine="h5netcdf") as data:
        frame = data.to_dataframe()
    assert isinstance(frame, pandas.DataFrame)
    assert frame.index.name == "point"
    assert frame.passes.is_monotonic_increasing
    assert (frame.groupby("step").passes.max().diff().dropna() >= 0).all()


def test_the_file_of_a_failed_edge_opens_and_says_so(failed):
    with xr.open_dataset(failed / "r.h5", group="edges", engine="h5netcdf") as data:
        status = dict(zip(data.name.values, data.status.values))
        assert status["fine"] == "ok"
        assert status["too fine, ½"].startswith('edge "too fine, ½", step 1')
        assert np.isnan(data.passes_to_limit.values).all()
    # no step was finished, but the curve up to there is kept
    with xr.open_dataset(failed / "r.h5", group="edge/too fine, ½/steps", engine="h5netcdf") as data:
        assert data.sizes["row"] == 0
    with xr.open_dataset(failed / "r.h5", group="edge/too fine, ½/track", engine="h5netcdf") as data:
        assert data.sizes["point"] > 0
        assert np.isfinite(data.reading_N.values).all()


def test_the_configuration_in_a_file_can_be_run_again(yard, tmp_path):
    with h5py.File(yard / "r.h5") as file:
        text = file.attrs["configuration"]
    (tmp_path / "again.toml").write_text(text.replace('file = "readings.csv"', 'file = ""'))
    outcome = run("simulate", tmp_path / "again.toml", "--csv", "-")
    assert outcome.returncode == 0, outcome.stderr
    assert outcome.stdout == (yard / "r.csv").read_text()
