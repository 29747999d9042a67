# SPDX-License-Identifier: MIT
"""Work spread over processes: by Dask, with a worker that is killed on the way; by Snakemake and by an array of jobs, as the docs have it."""

import os
import pathlib
import shutil
import signal
import subprocess
import sys
import threading
import time

import numpy as np
import pytest
import xarray as xr
from conftest import SMALL, SOURCE

import arris

distributed = pytest.importorskip("distributed")
RANGES = {"tool.iron.micro_bevel_deg": (27.0, 38.0), "wear.crushing_um_per_m": (5e-5, 3e-4, "log")}


@pytest.fixture(scope="module")
def client():
    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster, distributed.Client(cluster) as client:
        yield client


def slow(r, severity, k):
    """A wear law that leaves the time to kill who works it out; not where it is tried at its own k, as each worker does first."""
    if k > 1.2e-3:
        time.sleep(3e-4)
    return k * severity / (r + 0.05)


def test_rows_are_those_of_one_process(client, small):
    rows = arris.design(RANGES, 500)
    ours = arris.simulate_many(small, list(rows), rows, client=client, dataset=True)
    xr.testing.assert_identical(ours, arris.simulate_many(small, list(rows), rows, dataset=True))
    with pytest.raises(arris.ConfigurationError):
        arris.simulate_many(small, ["no.such.path"], [[1.0]], client=client)


def test_a_sweep_is_that_of_one_process(client, small):
    for asked in ({"over": {"tool.iron.micro_bevel_deg": (27, 38, 200), "step.4.passes": [10, 50, 100]}}, {"rows": arris.design(RANGES, 300)}):
        ours, alone = arris.sweep(small, **asked, client=client), arris.sweep(small, **asked)
        xr.testing.assert_identical(ours.map, alone.map)
        assert ours.sentence == alone.sentence and ours.failed == 0
    with pytest.raises(ValueError, match="do not go together"):
        arris.sweep(small, over="step.4.passes=1:9:100", shard="1/2", client=client)


def test_what_a_killed_worker_had_to_do_is_done_by_others(client, small):
    campaign = small.with_wear_law(slow, {"k": 1e-3})
    rows = np.linspace(1.5e-3, 2e-3, 60)[:, None]
    swept = {"over": {"wear.k": list(rows[:, 0])}}

    def with_a_kill(work):
        killed = []

        def kill():
            time.sleep(0.3)
            pid = next(iter(client.run(os.getpid).values()))
            os.kill(pid, signal.SIGKILL)  # a worker that this test has started
            killed.append(time.monotonic())

        killer = threading.Thread(target=kill)
        killer.start()
        done, end = work(), time.monotonic()
        killer.join()
        assert len(killed) == 1 and killed[0] < end
        return done

    ours = with_a_kill(lambda: arris.simulate_many(campaign, ["wear.k"], rows, client=client))
    assert np.array_equal(ours, arris.simulate_many(campaign, ["wear.k"], rows))
    whole = with_a_kill(lambda: arris.sweep(campaign, **swept, client=client))
    xr.testing.assert_identical(whole.map, arris.sweep(campaign, **swept).map)


def recipe(heading):
    """The first block of code below a heading of the docs."""
    text = (SOURCE / "docs" / "recipes.md").read_text(encoding="utf-8")
    return text.split(f"## {heading}\n")[1].split("```")[1].split("\n", 1)[1]


@pytest.fixture
def folder(tmp_path):
    """A folder with the configuration of the recipes, and the program on the path."""
    (tmp_path / "my.toml").write_text(SMALL, encoding="utf-8")
    (tmp_path / "bin").mkdir()
    (tmp_path / "bin" / "arris").symlink_to(pathlib.Path(os.environ["ARRIS_PROGRAM"]).resolve())
    return tmp_path


def run(folder, *words, **variables):
    path = f"{folder / 'bin'}:{os.environ['PATH']}"
    subprocess.run(words, cwd=folder, env={**os.environ, "PATH": path, "HOME": str(folder), **variables}, check=True, capture_output=True)


def test_the_recipe_of_an_array_of_jobs_runs(folder):
    script = recipe("An array of jobs (Slurm)")
    # its last task as it stands
    run(folder, "sh", "-c", script, SLURM_ARRAY_TASK_ID="100", SLURM_CPUS_PER_TASK="1")
    assert arris.open_result(folder / "share-100.h5").attributes["shard"] == "100/100"
    # and all of 3 tasks of some rows
    script = script.replace("/100", "/3").replace(":20000", ":200").replace(":500:50", ":100:5")
    for task in (3, 1, 2):
        run(folder, "sh", "-c", script, SLURM_ARRAY_TASK_ID=str(task), SLURM_CPUS_PER_TASK="1")
    whole = arris.merge([folder / f"share-{i}.h5" for i in (1, 2, 3)])
    alone = arris.sweep(folder / "my.toml", over=["tool.iron.micro_bevel_deg=26:40:200", "step.4.passes=10:100:5"])
    xr.testing.assert_identical(whole.map, alone.map)


@pytest.mark.skipif(shutil.which("snakemake") is None, reason="there is no Snakemake")
def test_the_recipe_of_snakemake_runs(folder):
    (folder / "Snakefile").write_text(recipe("Snakemake"), encoding="utf-8")
    run(folder, "snakemake", "--cores", "1", "--quiet")
    alone = arris.sweep(folder / "my.toml", over="tool.iron.micro_bevel_deg=26:40:200")
    xr.testing.assert_identical(arris.open_result(folder / "whole.h5")["map"], alone.map)


def test_the_recipe_of_executors_runs(folder, monkeypatch):
    # mpi4py's executor has the interface of Python's own, which stands in its place
    script = recipe("MPI").replace("from mpi4py.futures import MPIPoolExecutor", "from concurrent.futures import ProcessPoolExecutor as MPIPoolExecutor")
    (folder / "sweep.py").write_text(script, encoding="utf-8")
    run(folder, sys.executable, "sweep.py")
    alone = arris.sweep(folder / "my.toml", over="tool.iron.micro_bevel_deg=26:40:200")
    xr.testing.assert_identical(arris.open_result(folder / "whole.h5")["map"], alone.map)


@pytest.mark.skipif(shutil.which("mpiexec") is None, reason="there is no MPI")
def test_the_recipe_of_mpi_runs(folder):
    pytest.importorskip("mpi4py")
    (folder / "sweep.py").write_text(recipe("MPI"), encoding="utf-8")
    # more processes than cores, and as root, as machines that test have it
    variables = {"OMPI_MCA_rmaps_base_oversubscribe": "1", "OMPI_ALLOW_RUN_AS_ROOT": "1", "OMPI_ALLOW_RUN_AS_ROOT_CONFIRM": "1"}
    run(folder, "mpiexec", "-n", "3", sys.executable, "-m", "mpi4py.futures", "sweep.py", **variables)
    alone = arris.sweep(folder / "my.toml", over="tool.iron.micro_bevel_deg=26:40:200")
    xr.testing.assert_identical(arris.open_result(folder / "whole.h5")["map"], alone.map)


def test_a_lazy_sweep_is_worked_out_where_it_is_asked_for(client, small, tmp_path):
    pytest.importorskip("dask.array")
    over = {"tool.iron.micro_bevel_deg": (27, 38, 200), "step.4.passes": [10, 50, 100]}
    arris.design(RANGES, 300).to_csv(tmp_path / "rows.csv", index=False)
    for asked in ({"over": over}, {"over": "step.4.passes=1:100:100"}, {"over": "step.4.cut=teak|sugar maple|ipe"}, {"rows": tmp_path / "rows.csv"}):
        lazy, whole = arris.lazy_sweep(small, **asked, pieces=5), arris.sweep(small, **asked).map
        assert lazy["reading_gf"].chunks is not None and lazy["status"].chunks is not None
        xr.testing.assert_identical(lazy.compute(), whole)  # by the workers of the client, which is there
        xr.testing.assert_identical(lazy.compute(scheduler="threads"), whole)
    lazy.to_netcdf(tmp_path / "whole.nc", engine="h5netcdf")  # as the docs have it
    with xr.open_dataset(tmp_path / "whole.nc", engine="h5netcdf") as kept:
        xr.testing.assert_equal(kept, whole)
    with pytest.raises(arris.ConfigurationError):
        arris.lazy_sweep(small, over="no.such.path=1:2:3")


def test_of_a_lazy_sweep_only_what_is_looked_at_is_worked_out(small):
    pytest.importorskip("dask.array")
    campaign = small.with_wear_law(lambda r, severity, k: k * severity / (r + 0.05), {"k": 1e-3})
    # hundred million combinations: with all of them this test would take hours
    lazy = arris.lazy_sweep(campaign, over={"wear.k": (1e-3, 2e-3, 1_000_000), "step.4.passes": (1, 100, 100)}, pieces=2000)
    assert lazy["reading_gf"].shape == (1_000_000, 100) and len(lazy["reading_gf"].chunks[0]) == 2000
    some = lazy["reading_gf"][:3, -1].compute(scheduler="threads")
    alone = arris.sweep(campaign, over={"wear.k": list(some["wear_k"].values), "step.4.passes": (1, 100, 100)})
    assert np.array_equal(some, alone.map["reading_gf"][:, -1])


def test_without_dask_it_is_said_what_to_install(small, monkeypatch):
    monkeypatch.setitem(sys.modules, "dask.array", None)
    rows = arris.design(RANGES, 10)
    with pytest.raises(ImportError, match="python3-dask"):
        arris.lazy_sweep(small, over="step.4.passes=1:9:5")
    with pytest.raises(ImportError, match="python3-dask"):
        arris.simulate_many(small, list(rows), rows, dataset=True, chunks=5)


def test_lazy_rows_are_those_of_one_process(client, small):
    pytest.importorskip("dask.array")
    rows = arris.design(RANGES, 500)
    lazy = arris.simulate_many(small, list(rows), rows, at=["end", "after step 1"], dataset=True, chunks=120)
    assert lazy["reading_gf"].chunks[0] == (120, 120, 120, 120, 20)
    xr.testing.assert_identical(lazy.compute(), arris.simulate_many(small, list(rows), rows, at=["end", "after step 1"], dataset=True))
    with pytest.raises(ValueError, match="dataset=True"):
        arris.simulate_many(small, list(rows), rows, chunks=10)
    with pytest.raises(arris.ConfigurationError):
        arris.simulate_many(small, ["no.such.path"], [[1.0]], dataset=True, chunks=10)


def test_a_table_in_parquet_is_named_for_what_it_is(small, tmp_path, monkeypatch):
    (tmp_path / "my.toml").write_text(SMALL, encoding="utf-8")
    file = tmp_path / "design.parquet"
    file.write_bytes(b"PAR1 and what follows")
    done = subprocess.run([os.environ["ARRIS_PROGRAM"], "sweep", tmp_path / "my.toml", "--rows", file], capture_output=True, text=True, check=False)
    assert done.returncode == 3 and "[not-csv]" in done.stderr and "read_parquet" in done.stderr
    rows = arris.design(RANGES, 16)

    def absent(path):
        raise ImportError("Unable to find a usable engine")

    monkeypatch.setattr("pandas.read_parquet", absent)
    with pytest.raises(ImportError, match="pyarrow or fastparquet"):
        arris.sweep(small, rows=file)
    # where there is a reader
    monkeypatch.setattr("pandas.read_parquet", lambda path: rows)
    xr.testing.assert_identical(arris.sweep(small, rows=file).map, arris.sweep(small, rows=rows).map)
