# SPDX-License-Identifier: MIT
"""Builds the extension module with CMake, for `pip install .`; what there is to say of the package stands in pyproject.toml."""

import os
import pathlib
import subprocess
import sys

from setuptools import Extension, setup
from setuptools.command.build_ext import build_ext


class CMakeBuild(build_ext):
    def build_extension(self, ext):
        source = pathlib.Path(__file__).parent.resolve()
        build = pathlib.Path(self.build_temp).resolve()
        prefix = pathlib.Path(self.get_ext_fullpath(ext.name)).parent.parent.resolve()
        options = [
            "-DCMAKE_BUILD_TYPE=Release",
            "-DCMAKE_CXX_FLAGS_RELEASE=-O2 -DNDEBUG",
            "-DARRIS_PYTHON=ON",
            "-DARRIS_PYTHON_DIR=.",
            f"-DPython_EXECUTABLE={sys.executable}",
        ]
        try:  # that of an isolated build, where there is one
            import pybind11

            options.append(f"-Dpybind11_DIR={pybind11.get_cmake_dir()}")
        except ImportError:
            pass
        jobs = os.environ.get("CMAKE_BUILD_PARALLEL_LEVEL", str(os.cpu_count() or 1))
        subprocess.run(["cmake", "-S", str(source), "-B", str(build), *options], check=True)
        subprocess.run(["cmake", "--build", str(build), "--target", "python_package", "--parallel", jobs], check=True)
        subprocess.run(["cmake", "--install", str(build), "--component", "python", "--prefix", str(prefix)], check=True)


setup(ext_modules=[Extension("arris._core", sources=[])], cmdclass={"build_ext": CMakeBuild})
