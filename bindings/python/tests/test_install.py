# SPDX-License-Identifier: MIT
"""What is needed to install the package: an sdist with all that CMake reads, and a name that other programs find."""

import importlib.metadata
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tarfile

import pytest
from conftest import SOURCE

import arris


@pytest.fixture(scope="module")
def unpacked(tmp_path_factory):
    """An sdist made of these sources, unpacked outside any repository."""
    pytest.importorskip("setuptools")
    folder = tmp_path_factory.mktemp("sdist")
    made = subprocess.run(
        [sys.executable, "-B", "setup.py", "-q", "egg_info", "--egg-base", folder, "sdist", "-d", folder],
        cwd=SOURCE, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert made.returncode == 0, made.stderr
    (archive,) = folder.glob("arris-*.tar.gz")
    with tarfile.open(archive) as files:
        files.extractall(folder / "of", filter="data") if hasattr(tarfile, "data_filter") else files.extractall(folder / "of")
    (root,) = (folder / "of").iterdir()
    return root


def test_an_sdist_has_all_that_cmake_reads(unpacked):
    here = {path.relative_to(SOURCE) for folder in ("sim", "cmake", "configs", "bindings/python") for path in (SOURCE / folder).rglob("*") if path.is_file()}
    here = {path for path in here if "__pycache__" not in path.parts and path.suffix != ".pyc"}
    missing = sorted(str(path) for path in here if not (unpacked / path).exists())
    assert not missing
    # every file beside those folders that CMakeLists.txt names for a build of the package, or to install it
    named = re.findall(r"(?<![\w./-])((?:cmake|docs)/[\w./-]+\.\w+|README\.md|CHANGELOG\.md|LICENSE)", (SOURCE / "CMakeLists.txt").read_text() + (SOURCE / "cmake" / "packaging.cmake").read_text())
    assert named
    assert [name for name in named if not (unpacked / name).exists()] == []


def test_an_sdist_says_of_which_commit_it_is(unpacked, tmp_path):
    if shutil.which("git") is None or not (SOURCE / ".git").exists():
        pytest.skip("these sources are no repository")
    subprocess.run(["cmake", f"-DSOURCE={unpacked}", f"-DOUTPUT={tmp_path / 'commit.cpp'}", "-P", unpacked / "cmake" / "commit.cmake"], check=True)
    written = re.search(r'"([^"]+)"; }', (tmp_path / "commit.cpp").read_text())
    head = subprocess.run(["git", "-C", SOURCE, "rev-parse", "HEAD"], capture_output=True, text=True, check=True).stdout.strip()
    changes = subprocess.run(["git", "-C", SOURCE, "status", "--porcelain", "--untracked-files=no"], capture_output=True, text=True, check=True).stdout
    assert written is not None
    assert written[1] == head[:12] + ("+" if changes.strip() else "")


def test_an_sdist_is_built_by_what_the_packages_of_this_project_have(unpacked, tmp_path):
    """The group build of packages.txt has ninja, and no make."""
    (tmp_path / "cmake").write_text(f'#!/bin/sh\necho "$@" >>{tmp_path}/asked\n', encoding="utf-8")
    (tmp_path / "cmake").chmod(0o755)
    packages = [line.split() for line in (SOURCE / "packages.txt").read_text(encoding="utf-8").splitlines()]
    assert ["build", "ninja-build"] in packages and ["build", "make"] not in packages
    asked = []
    for chosen in ({}, {"CMAKE_GENERATOR": "Unix Makefiles"}):
        for program in ([], ["ninja"]):
            for name in program:
                (tmp_path / name).symlink_to("/bin/true")
            words = [sys.executable, "-B", "setup.py", "-q", "build_ext", "--build-temp", tmp_path / "t", "--build-lib", tmp_path / "l"]
            environment = {key: value for key, value in os.environ.items() if key != "CMAKE_GENERATOR"} | {"PATH": str(tmp_path)} | chosen
            subprocess.run(words, cwd=unpacked, check=True, capture_output=True, env=environment)
            asked.append("-GNinja" in (tmp_path / "asked").read_text().splitlines()[-3].split())
        (tmp_path / "ninja").unlink()
    assert asked == [False, True, False, False]


def test_other_programs_find_the_package_where_cmake_installs_it(tmp_path):
    build = pathlib.Path(os.environ["ARRIS_PROGRAM"]).resolve().parent
    if not (build / "cmake_install.cmake").exists():
        pytest.skip("the program is not in the folder of its build")
    subprocess.run(["cmake", "--install", build, "--component", "python", "--prefix", tmp_path], check=True, capture_output=True)
    (facts,) = tmp_path.rglob("arris-*.dist-info")
    (found,) = importlib.metadata.distributions(name="arris", path=[str(facts.parent)])
    assert found.version == arris.__version__
    assert "numpy" in " ".join(found.requires or [])
    words = [sys.executable, "-B", "-c", "import arris; print(arris.__version__, arris.__file__)"]
    told = subprocess.run(words, env={**os.environ, "PYTHONPATH": str(facts.parent)}, check=True, capture_output=True, text=True, cwd=tmp_path).stdout
    assert told.split() == [arris.__version__, str(facts.parent / "arris" / "__init__.py")]


@pytest.mark.parametrize("version", ["1.26.4", "2.2.4"])
def test_a_numpy_that_would_be_read_wrongly_is_refused(version):
    """By pybind11 2.10 and numpy 2.2 an array of bytes 0, 1, 2 came out as 0, 0, 0, and a copy of 1.0, 2.0, 3.0 as 1.0 three times."""
    # what else reads the version of numpy has been imported before it is another
    code = f"import numpy, pandas, xarray, h5py; numpy.__version__ = {version!r}; import arris; print('taken')"
    done = subprocess.run([sys.executable, "-B", "-c", code], capture_output=True, text=True, check=False)
    if version.startswith("1") or arris._core.takes_numpy_2:
        assert done.stdout == "taken\n", done.stderr
    else:
        assert done.returncode != 0 and "ImportError" in done.stderr and "pip install 'numpy<2'" in done.stderr
