# SPDX-License-Identifier: MIT
"""What is installed works where it stands, other projects find it, and nothing of it is left when it is taken away."""

import json
import os
import pathlib
import shutil
import subprocess

import pytest

SOURCE = pathlib.Path(os.environ["ARRIS_SOURCE_DIR"])
BUILD = pathlib.Path(os.environ["ARRIS_BUILD_DIR"])
BOATYARD = SOURCE / "configs/boatyard/boatyard.toml"


def run(*words, **options):
    done = subprocess.run([str(w) for w in words], capture_output=True, text=True, **options)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def installed(tmp_path_factory):
    """A copy of the build folder's rules, so that the manifest of a real installation is left alone."""
    prefix = tmp_path_factory.mktemp("installed") / "prefix"
    kept = {m: m.read_bytes() for m in BUILD.glob("install_manifest*.txt")}
    for manifest in kept:
        manifest.unlink()
    run("cmake", "--install", BUILD, "--prefix", prefix)
    yield prefix
    for manifest in BUILD.glob("install_manifest*.txt"):
        manifest.unlink()
    for manifest, content in kept.items():
        manifest.write_bytes(content)


def last_readings(program):
    told = json.loads(run(program, "simulate", BOATYARD, "--json", "-"))
    return {edge["name"]: edge["steps"][-1]["reading_after_N"] for edge in told["edges"]}


def test_program_runs_where_it_was_installed(installed, tmp_path):
    moved = tmp_path / "elsewhere"
    shutil.copytree(installed, moved)
    assert run(moved / "bin/arris", "--version").startswith("arris ")
    assert (moved / "share/man/man1/arris.1").exists()
    assert last_readings(moved / "bin/arris") == last_readings(BUILD / "arris")


def test_another_project_finds_the_library(installed, tmp_path):
    run("cmake", "-S", SOURCE / "tests/packaging/consumer", "-B", tmp_path, "-G", "Ninja", f"-DCMAKE_PREFIX_PATH={installed}")
    run("cmake", "--build", tmp_path)
    rows = [line.split("\t") for line in run(tmp_path / "consumer", BOATYARD).splitlines()]
    assert {name: float(value) for name, value in rows} == last_readings(BUILD / "arris")


def test_python_package_is_found_where_it_was_installed(installed):
    if not (BUILD / "python/arris").exists():
        pytest.skip("built without Python")
    folder = next(installed.glob("lib/python3*/dist-packages"))
    code = "import arris; print(arris.__file__, sum(name.endswith('/track') for name in arris.simulate(%r)))" % str(BOATYARD)
    environment = {**os.environ, "PYTHONPATH": str(folder)}
    path, edges = run("/usr/bin/python3", "-B", "-c", code, env=environment).split()
    assert path.startswith(str(folder))
    assert int(edges) == len(last_readings(BUILD / "arris"))
    # tools that look for packages find it too
    code = "import arris, importlib.metadata as m; print(m.version('arris') == arris.__version__, m.metadata('arris')['Requires-Dist'])"
    assert run("/usr/bin/python3", "-B", "-c", code, env=environment).startswith("True numpy")


def test_nothing_is_left_after_taking_it_away(installed):
    """Last in this file: it takes away what the others use."""
    assert any(installed.rglob("*.hpp"))
    run("cmake", f"-DBUILD={BUILD}", "-P", SOURCE / "cmake/uninstall.cmake")
    assert not installed.exists()
