# SPDX-License-Identifier: MIT
"""Wheels of the package that was built, for tests."""

import importlib.util
import os
import pathlib
import subprocess
import sys

SOURCE = pathlib.Path(os.environ["ARRIS_SOURCE_DIR"])
BUILD = pathlib.Path(os.environ["ARRIS_BUILD_DIR"])

_file = importlib.util.spec_from_file_location("carry_libraries", SOURCE / "packaging" / "carry_libraries.py")
carry_libraries = importlib.util.module_from_spec(_file)
_file.loader.exec_module(carry_libraries)


def made_wheel(folder):
    """A wheel with its libraries, in ``folder``, as ./dev wheel makes it; nothing is left in the sources."""
    words = [sys.executable, "-B", "setup.py", "-q", "egg_info", "--egg-base", folder, "build", "--build-base", folder / "build",
             "bdist_wheel", "--bdist-dir", folder / "bdist", "-d", folder / "plain"]  # fmt: skip
    environment = {**os.environ, "ARRIS_BUILT_PACKAGE": str(BUILD / "python/arris")}
    done = subprocess.run(words, cwd=SOURCE, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    (plain,) = (folder / "plain").glob("*.whl")
    carry_libraries.main(plain, folder / "carried")
    (wheel,) = (folder / "carried").glob("*.whl")
    return wheel
