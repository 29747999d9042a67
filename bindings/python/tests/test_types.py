# SPDX-License-Identifier: MIT
"""Types: the package checks strictly, users see types, and the stub of the extension module tells what is there."""

import os
import pathlib
import pydoc
import subprocess
import sys

import pytest

import arris

PACKAGE = pathlib.Path(arris.__file__).parent
CONFIGURATION = pathlib.Path(os.environ["ARRIS_SOURCE_DIR"]) / "pyproject.toml"

USE = """
import arris
campaign = arris.loads("x")
reveal_type(arris.simulate(campaign).track("A"))
reveal_type(arris.fit("x.toml").converged)
blade = arris.Tool(steel="O1", width_mm=50)
arris.hone("x", strokes=3, after_burr=True)
arris.hone("x", stroks=3)
arris.fit(campaign, starts="many")
"""


def mypy(*words, cwd):
    return subprocess.run(
        [sys.executable, "-m", "mypy", "--config-file", str(CONFIGURATION), "--cache-dir", str(cwd / "cache"), *words],
        capture_output=True,
        text=True,
        cwd=cwd,
        env={**os.environ, "MYPYPATH": str(PACKAGE.parent)},
    )


def test_the_package_and_its_use_check(tmp_path):
    (tmp_path / "use.py").write_text(USE)
    checked = mypy("-m", "use", "-p", "arris", cwd=tmp_path)
    told = checked.stdout.splitlines()
    errors = [line for line in told if ": error:" in line]
    # what is wrong in USE, and nothing else
    assert len(errors) == 2, checked.stdout + checked.stderr
    assert any("stroks" in e for e in errors) and any("starts" in e for e in errors)
    assert any('Revealed type is "builtins.bool"' in line for line in told)


def test_the_stub_of_the_extension_module_is_true(tmp_path):
    checked = subprocess.run(
        [sys.executable, "-m", "mypy.stubtest", "arris._core", "--mypy-config-file", str(CONFIGURATION), "--ignore-missing-stub", "--concise"],
        capture_output=True,
        text=True,
        cwd=tmp_path,
        env={**os.environ, "MYPYPATH": str(PACKAGE.parent)},
    )
    # pybind11 gives functions no signature that inspection can read, and classes bookkeeping of its own; what is left are names
    wrong = [line for line in checked.stdout.splitlines() if "is not present at runtime" in line or "is not present in stub" in line]
    assert not [line for line in wrong if "_pybind11_conduit" not in line], checked.stdout


@pytest.mark.parametrize("name", [n for n in arris.__all__ if not n.startswith("__")])
def test_help_is_enough(name):
    what = getattr(arris, name)
    text = pydoc.render_doc(what)
    assert what.__doc__ and len(what.__doc__) > 20
    if callable(what) and not isinstance(what, type):
        for section in ("Parameters", "Returns"):
            assert section in text or name in ("wear_inputs", "check_gradient", "fitted"), section
