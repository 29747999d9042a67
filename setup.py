# SPDX-License-Identifier: MIT
"""Builds the extension module with CMake, for `pip install .`; what there is to say of the package stands in pyproject.toml."""

import os
import pathlib
import shutil
import subprocess
import sys

from setuptools import Extension, setup
from setuptools.command.build_ext import build_ext
from setuptools.command.sdist import sdist

ROOT = pathlib.Path(__file__).parent.resolve()


def commit():
    """The commit of these sources, with a + where they have changes; empty outside a repository of them."""

    def git(*words):
        done = subprocess.run(["git", "-C", ROOT, *words], capture_output=True, text=True, check=False)
        return done.stdout.strip() if done.returncode == 0 else ""

    if not git("ls-files", "CMakeLists.txt"):
        return ""
    return git("rev-parse", "HEAD") + ("+" if git("status", "--porcelain", "--untracked-files=no") else "")


class SourceArchive(sdist):
    """An sdist that says of which commit it is."""

    def make_release_tree(self, base_dir, files):
        super().make_release_tree(base_dir, files)
        if known := commit():
            note = pathlib.Path(base_dir) / "cmake" / "archive_commit.txt"
            note.unlink()  # it may be a hard link to that of the sources
            note.write_text(known + "\n", encoding="utf-8")


class CMakeBuild(build_ext):
    def build_extension(self, ext):
        source = ROOT
        build = pathlib.Path(self.build_temp).resolve()
        prefix = pathlib.Path(self.get_ext_fullpath(ext.name)).parent.parent.resolve()
        if made := os.environ.get("ARRIS_BUILT_PACKAGE"):  # of ./dev wheel, which has built it already
            shutil.copytree(made, prefix / "arris", dirs_exist_ok=True, ignore=shutil.ignore_patterns("__pycache__"))
            return
        options = [
            "-DCMAKE_BUILD_TYPE=Release",
            "-DCMAKE_CXX_FLAGS_RELEASE=-O2 -DNDEBUG",
            "-DARRIS_PYTHON=ON",
            "-DARRIS_PYTHON_DIR=.",
            f"-DPython_EXECUTABLE={sys.executable}",
        ]
        # CMake by itself takes make, which a machine with the packages of this project need not have
        if shutil.which("ninja") and "CMAKE_GENERATOR" not in os.environ:
            options.append("-GNinja")
        try:  # that of an isolated build, where there is one
            import pybind11

            options.append(f"-Dpybind11_DIR={pybind11.get_cmake_dir()}")
        except ImportError:
            pass
        jobs = os.environ.get("CMAKE_BUILD_PARALLEL_LEVEL", str(os.cpu_count() or 1))
        subprocess.run(["cmake", "-S", str(source), "-B", str(build), *options], check=True)
        subprocess.run(["cmake", "--build", str(build), "--target", "python_package", "--parallel", jobs], check=True)
        subprocess.run(["cmake", "--install", str(build), "--component", "python", "--prefix", str(prefix)], check=True)


setup(ext_modules=[Extension("arris._core", sources=[])], cmdclass={"build_ext": CMakeBuild, "sdist": SourceArchive})
