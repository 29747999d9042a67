# SPDX-License-Identifier: MIT
"""A wheel carries the libraries that it needs: it is made of the package that was built, and looked at and run as others get it."""

import importlib.metadata
import json
import os
import re
import shutil
import subprocess
import sys

import pytest
from wheels import BUILD, SOURCE, made_wheel, make_wheel

CODE = """
import json, arris
with open("/proc/self/maps") as maps:
    mapped = sorted({line.split()[-1] for line in maps if ".so" in line})
yard = arris.load(%r)
fit = arris.fit(yard, free=["tester.slope_N_per_um"], starts=1)
print(json.dumps({"mapped": mapped, "edges": len(arris.simulate(yard).to_pandas("edges")), "converged": fit.converged}))
""" % str(SOURCE / "configs/boatyard/boatyard.toml")


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    if not (BUILD / "python/arris").exists():
        pytest.skip("built without Python")
    for module in ("setuptools", "wheel", "pip"):
        pytest.importorskip(module)
    if shutil.which("patchelf") is None:
        pytest.skip("there is no patchelf")
    return made_wheel(tmp_path_factory.mktemp("wheel"))


@pytest.fixture(scope="module")
def installed(wheel, tmp_path_factory):
    folder = tmp_path_factory.mktemp("installed")
    words = [sys.executable, "-m", "pip", "install", "-q", "--no-index", "--no-deps", "--target", folder, wheel]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return folder


def test_its_name_says_which_linux_takes_it(wheel):
    assert re.fullmatch(r"arris-[\d.]+-cp3\d+-cp3\d+-manylinux_2_\d+_\w+\.whl", wheel.name)


def test_every_file_finds_what_it_needs_in_the_wheel(installed):
    (module,) = installed.glob("arris/_core.*.so")
    libraries = {path.name for path in (installed / "arris.libs").glob("*.so*")}
    assert any(name.startswith("libtbb-") for name in libraries)
    asked = set()
    for file in (module, *(installed / "arris.libs").glob("*.so*")):
        asked |= set(make_wheel.needed(file))
    assert asked == libraries
    # and each has a licence
    assert len(list((installed / "arris.libs/licences").iterdir())) >= 1


def test_it_runs_with_its_own_libraries(installed):
    environment = {**os.environ, "PYTHONPATH": str(installed), "PYTHONDONTWRITEBYTECODE": "1"}
    done = subprocess.run([sys.executable, "-c", CODE], capture_output=True, text=True, check=False, env=environment, cwd=installed)
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert told["converged"] and told["edges"] > 0
    own = {path.split("/")[-1] for path in told["mapped"] if path.startswith(str(installed))}
    assert own >= {path.name for path in (installed / "arris.libs").glob("*.so*")}
    # none of the same name comes from elsewhere: libfmt, libtbb, libmuparser are nobody else's here
    assert not [path for path in told["mapped"] if re.search(r"/lib(fmt|tbb|muparser|tomlplusplus|zip|boost_context)[.-]", path) and not path.startswith(str(installed))]


def test_it_asks_for_a_numpy_that_it_takes(installed):
    code = "import arris, importlib.metadata as m; print(arris._core.takes_numpy_2, [r for r in m.requires('arris') if r.startswith('numpy')])"
    environment = {**os.environ, "PYTHONPATH": str(installed), "PYTHONDONTWRITEBYTECODE": "1"}
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, env=environment, cwd=installed).stdout
    takes, asked = told.split(" ", 1)
    assert (takes, "<2" in asked) in (("True", False), ("False", True)) and ">=1.24" in asked


def test_programs_that_look_for_packages_find_it(installed):
    (found,) = importlib.metadata.distributions(name="arris", path=[str(installed)])
    version = re.search(r"project\(arris VERSION ([\d.]+)", (SOURCE / "CMakeLists.txt").read_text())
    assert version is not None and found.version == version[1]
