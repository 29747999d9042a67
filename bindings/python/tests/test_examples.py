# SPDX-License-Identifier: MIT
"""The examples in docstrings run, in a folder with a configuration called my.toml; what they show is compared where they say it."""

import doctest
import importlib
import importlib.util
import inspect
import os
import re
import shutil
import subprocess
import sys
import xml.etree.ElementTree

import pytest
from conftest import SOURCE

import arris

MY = """
title = "My iron"
[tool.iron]
steel = "O1"
width_mm = 50
thickness_mm = 3
primary_bevel_deg = 25
micro_bevel_deg = 30
[route.strop]
steps = [
  { hone = "soft waterstone, JIS #1000", strokes = 40, after_burr = true },
  { back = "soft waterstone, JIS #1000", strokes = 10 },
  { hone = "hard waterstone, JIS #8000", strokes = 60 },
  { strop = "soft hide", laps = 20 },
  { read = "fresh", replicates = 2 },
  { cut = "teak", passes = 60 },
  { read = "worn", replicates = 2 },
]
[route.stone]
steps = [
  { hone = "soft waterstone, JIS #1000", strokes = 60, after_burr = true },
  { back = "soft waterstone, JIS #1000", strokes = 20 },
  { read = "fresh", replicates = 2 },
  { cut = "teak", passes = 60 },
  { read = "worn", replicates = 2 },
]
[edge.first]
tool = "iron"
route = "strop"
[edge.second]
tool = "iron"
route = "stone"
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("examples")
    invented = arris.invent_readings(arris.loads(MY), seed=2)
    invented.to_csv(folder / "readings.csv", index=False)
    (folder / "my.toml").write_text(MY + '[readings]\nfile = "readings.csv"\n', encoding="utf-8")
    arris.fit(folder / "my.toml", free=["tester.slope_N_per_um"], starts=1, draws=200).save(folder / "fit.h5")
    return folder


class Shown(doctest.OutputChecker):
    """What an example shows is compared where it is written down only."""

    def check_output(self, want, got, optionflags):
        return not want or super().check_output(want, got, optionflags)


def examples():
    for name in arris.__all__:
        thing = getattr(arris, name)
        if inspect.isclass(thing) or inspect.isfunction(thing):
            for test in doctest.DocTestFinder(exclude_empty=True).find(thing, name, module=False, globs={"arris": arris}):
                if test.examples:
                    yield test


def runnable(test):
    """Without what needs a module that is not there, and all behind it."""
    for i, example in enumerate(test.examples):
        words = example.source.split()
        wanted = words[1] if words[0] == "import" else "dask" if "lazy_sweep(" in example.source else "arris"
        if importlib.util.find_spec(wanted) is None:
            return test.examples[:i]
    return test.examples


@pytest.mark.parametrize("test", examples(), ids=lambda test: test.name)
def test_the_example_runs(test, folder, monkeypatch):
    monkeypatch.chdir(folder)
    monkeypatch.setenv("MPLBACKEND", "agg")
    test.globs["campaign"] = arris.load("my.toml")
    test.examples = runnable(test)
    told = []
    runner = doctest.DocTestRunner(checker=Shown(), optionflags=doctest.NORMALIZE_WHITESPACE | doctest.ELLIPSIS)
    runner.run(test, out=told.append)
    assert runner.failures == 0, "".join(told)


def test_every_function_has_an_example():
    functions = {name for name in arris.__all__ if inspect.isfunction(getattr(arris, name))}
    steps = {"back", "cut", "dress", "hone", "read", "strop", "follow"}  # rows of a table, as the example of Configuration has them
    assert functions - {test.name for test in examples()} <= steps


def test_every_method_has_an_example():
    inner = {"Parameter.declaration"}  # what the extension module takes
    methods = set()
    for of in (getattr(arris, name) for name in arris.__all__):
        for name, what in vars(of).items() if inspect.isclass(of) else ():
            # a second name of a method is shown under its first
            if not name.startswith("_") and (isinstance(what, property) or (inspect.isfunction(what) and what.__name__ == name)):
                methods.add(f"{of.__name__}.{name}")
    assert {"LogDensity.jacobian", "FitResult.draws", "Result.to_pandas"} <= methods
    assert methods - {test.name for test in examples()} == inner


@pytest.fixture
def pages(monkeypatch):
    """What makes pages of the site out of what stands elsewhere."""
    monkeypatch.syspath_prepend(str(SOURCE / "docs" / "site"))
    return importlib.import_module("pages")


def test_the_site_has_every_law_and_every_name(pages):
    theory, reference = pages.theory(SOURCE), pages.reference()
    for header in (SOURCE / "sim" / "laws").rglob("*.hpp"):
        if "| symbol" in header.read_text(encoding="utf-8"):
            assert str(header.relative_to(SOURCE)) in theory, header
    for name in arris.__all__:
        if callable(getattr(arris, name)):
            assert f":: arris.{name}\n" in reference, name
    assert "list-table" in theory and "| symbol" not in theory


def set_as(equation, equations):
    """An equation as MathML without what browsers alone need, so that it can be read here."""
    root = xml.etree.ElementTree.fromstring(equations.mathml(equation))
    name = "{http://www.w3.org/1998/Math/MathML}"

    def said(node):
        inner = [said(child) for child in node if child.tag != name + "annotation"]
        if node.tag in (name + "mi", name + "mn", name + "mo", name + "mtext"):
            return (node.text or "").replace("\u2061", "").strip()
        kinds = {"mfrac": "({})/({})", "msub": "{}_{}", "msup": "{}^{}", "msubsup": "{}_{}^{}", "msqrt": "root({})", "mspace": " "}
        kind = node.tag.removeprefix(name)
        return kinds[kind].format(*inner) if kind in kinds else "".join(inner)

    return said(root)


def test_equations_are_set_as_they_are_meant(pages):
    equations = pages.equations
    for equation, meant in {
        "a = K(d)·p·L/H": "a=(K(d)·p·L)/(H)",  # from the left
        "dr/dx = A_w/(2r) + B_w": "(dr)/(dx)=(A_w)/(2r)+B_w",
        "1/t_eff = 1/t + 1/(2ℓ_c)": "(1)/(t_eff)=(1)/(t)+(1)/(2ℓ_c)",
        "ψ  = ψ₀/√(1 + (ψ₀/ψ_m)²)": "ψ=(ψ_0)/(root(1+((ψ_0)/(ψ_m))^2))",
        "1 − [ r∞/r ]^m": "1−[(r_∞)/(r)]^m",
        "h(ν)² = h₀² + 2·(W/c)·ν": "h(ν)^2=h_0^2+2·((W)/(c))·ν",
        "e^(−n₀/n_glaze)": "e^−(n_0)/(n_glaze)",
        "tan² α·(1/sin α − 1)": "tan^2α·((1)/(sinα)−1)",
        "b = 3   on a medium": "b=3 on a medium",
    }.items():
        assert set_as(equation, equations).replace("\u00a0", "") == meant, equation
    for broken in ("a = (b + c", "a = b)", "a = b·", "a_ = 3", ""):
        with pytest.raises(ValueError, match="of the equation"):
            equations.mathml(broken)


def test_every_equation_of_the_theory_is_set(pages):
    theory = pages.theory(SOURCE)
    lines = [line for header in sorted((SOURCE / "sim" / "laws").rglob("*.hpp")) for line in equation_lines(pages, header)]
    assert len(lines) > 40
    assert theory.count("<math ") == len(lines)
    for line in lines:
        assert pages.equations.mathml(line) in theory
        xml.etree.ElementTree.fromstring(pages.equations.mathml(line))


def equation_lines(pages, header):
    """What is indented at the head of a law that has a table of symbols, and is no code."""
    text = pages.head_of(header)
    blocks = re.findall(r"(?:^ {3,}.*\S.*\n?)+", text, flags=re.M) if "|" in text else []
    return [line for block in blocks for line in block.splitlines() if not pages.equations.is_code(block.splitlines())]


def test_the_site_is_made_without_a_warning(tmp_path):
    pytest.importorskip("sphinx")
    shutil.copytree(SOURCE / "docs" / "site", tmp_path / "source")
    words = [sys.executable, "-m", "sphinx", "-q", "-W", "--keep-going", "-b", "html", tmp_path / "source", tmp_path / "html"]
    made = subprocess.run(words, env={**os.environ, "ARRIS_SOURCE_DIR": str(SOURCE)}, capture_output=True, text=True, check=False)
    assert made.returncode == 0, made.stderr
    assert "simulate_many" in (tmp_path / "html" / "reference.html").read_text(encoding="utf-8")
    theory = (tmp_path / "html" / "theory.html").read_text(encoding="utf-8")
    assert "<math " in theory and "<mfrac>" in theory
    assert "http://" not in re.sub(r'xmlns="[^"]+"', "", theory).replace("http://sphinx-doc.org", "")  # no script from elsewhere
