# SPDX-License-Identifier: MIT
"""The recipe for conda, as far as a machine without conda can tell: its form, its versions, what it needs, and that its commands are understood."""

import os
import pathlib
import re
import shlex
import subprocess
import sys

import pytest

yaml = pytest.importorskip("yaml")

SOURCE = pathlib.Path(os.environ["ARRIS_SOURCE_DIR"])
CMAKE = (SOURCE / "CMakeLists.txt").read_text(encoding="utf-8")
RECIPE = yaml.safe_load((SOURCE / "packaging/conda/meta.yaml").read_text(encoding="utf-8"))

# what CMake looks for, by its name there, and the package of conda-forge that has it
PACKAGES = {
    "Boost": "libboost-devel",
    "Eigen3": "eigen",
    "fmt": "fmt",
    "nlohmann_json": "nlohmann_json",
    "CLI11": "cli11",
    "TBB": "tbb-devel",
    "muparser": "muparser",
    "HDF5": "hdf5",
    "xsimd": "xsimd",
    "tomlplusplus": "tomlplusplus",
    "librsvg-2.0": "librsvg",
    "cairo": "cairo",
    "libzip": "libzip",
    "expat": "expat",
    "xlsxwriter": "libxlsxwriter",
}


def versions(requirements):
    """Names, and the least version of each as it stands: {"fmt": "9"}."""
    return {name: rest[0].removeprefix(">=") if rest else "" for name, *rest in (line.split() for line in requirements)}


def looked_for():
    """What CMake looks for, with the least version where it asks for one."""
    found = dict(re.findall(r"find_package\((\w+)(?: ([\d.]+))?", CMAKE))
    for line in re.findall(r"pkg_check_modules\(\w+ REQUIRED IMPORTED_TARGET ([^)]+)\)", CMAKE):
        found.update((name, version) for name, _, version in (word.partition(">=") for word in line.split()))
    return {name: version for name, version in found.items() if name not in ("Threads", "PkgConfig")}


def test_it_has_the_parts_of_a_recipe():
    assert set(RECIPE) == {"package", "source", "build", "requirements", "test", "about"}
    assert RECIPE["package"]["version"] == re.search(r"^project\(arris VERSION ([\d.]+)", CMAKE, re.M)[1]
    assert (SOURCE / RECIPE["about"]["license_file"]).is_file()
    assert (SOURCE / "packaging/conda" / RECIPE["source"]["path"]).resolve() == SOURCE.resolve()
    assert RECIPE["requirements"]["build"][0].startswith("{{ compiler(")


def test_it_needs_what_the_build_looks_for():
    host = versions(RECIPE["requirements"]["host"])
    wanted = looked_for()
    assert set(wanted) <= set(PACKAGES), "a package that no line here names"
    for name, version in wanted.items():
        assert PACKAGES[name] in host, name
        if version:
            assert host[PACKAGES[name]] == version, name


def test_it_runs_with_what_the_python_package_needs():
    text = (SOURCE / "pyproject.toml").read_text(encoding="utf-8")
    needs = re.search(r"^dependencies = \[(.*)\]", text, re.M)[1]
    assert versions(RECIPE["requirements"]["run"]) == {"python": "", **dict(item.split(">=") for item in re.findall(r'"([^"]+)"', needs))}


def test_its_first_command_is_understood(tmp_path):
    """With this machine's packages in the place of conda's: CMake knows every option of it."""
    configure, build, install = RECIPE["build"]["script"]
    assert build.startswith("cmake --build build-conda") and install == "cmake --install build-conda"
    values = {
        "PREFIX": str(tmp_path / "prefix"),
        "PYTHON": sys.executable,
        "PY_VER": f"{sys.version_info[0]}.{sys.version_info[1]}",
        "CPU_COUNT": "2",
    }
    words = [re.sub(r"\$([A-Z_]+)", lambda name: values[name[1]], word) for word in shlex.split(configure)]
    words[words.index("-S") + 1] = str(SOURCE)
    words[words.index("-B") + 1] = str(tmp_path / "build")
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "not used by the project" not in done.stderr
    cache = (tmp_path / "build/CMakeCache.txt").read_text(encoding="utf-8")
    assert f"CMAKE_INSTALL_PREFIX:PATH={values['PREFIX']}\n" in cache
    assert re.search(rf"ARRIS_PYTHON_DIR:\w+=lib/python{values['PY_VER']}/site-packages\n", cache)
