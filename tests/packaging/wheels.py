# SPDX-License-Identifier: MIT
"""Wheels of the package that was built, for tests."""

import importlib.util
import os
import pathlib

SOURCE = pathlib.Path(os.environ["ARRIS_SOURCE_DIR"])
BUILD = pathlib.Path(os.environ["ARRIS_BUILD_DIR"])

_file = importlib.util.spec_from_file_location("make_wheel", SOURCE / "packaging" / "make_wheel.py")
make_wheel = importlib.util.module_from_spec(_file)
_file.loader.exec_module(make_wheel)


def made_wheel(folder):
    """A wheel with its libraries, in ``folder``."""
    make_wheel.main(BUILD / "python/arris", folder)
    (wheel,) = folder.glob("*.whl")
    return wheel
