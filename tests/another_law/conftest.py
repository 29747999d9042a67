# SPDX-License-Identifier: MIT
"""The package arris with the module of this test, whose registry has a law more: its Python files are those of the package."""

import os
import pathlib

# beside the module, found before anything imports arris; the module itself is not of the package
package = pathlib.Path(os.environ["ARRIS_PACKAGE"])
here = pathlib.Path(os.environ["PYTHONPATH"]) / "arris"
for file in package.glob("*.py"):
    (here / file.name).write_bytes(file.read_bytes())
