# SPDX-License-Identifier: MIT
"""Wear laws that are functions of Python."""

import ctypes
import functools
import pickle
import shutil
import subprocess

import numpy as np
import pytest
import xarray as xr
from conftest import SMALL

import arris

FORMULA = SMALL + """
[wear]
rate = "k*severity/(r + r0)^q"
k    = { value = 1.8e-3, unit = "µm/m", low = 1e-6, high = 1, factor = 3 }
q    = { value = 0.7, unit = "1", low = 0, high = 4, factor = 1.5 }
r0   = { value = 0.05, unit = "µm", low = 0, high = 1 }
"""
PARAMETERS = {
    "k": arris.Parameter(1.8e-3, unit="µm/m", low=1e-6, high=1, factor=3),
    "q": arris.Parameter(0.7, low=0, high=4, factor=1.5),
    "r0": arris.Parameter(0.05, unit="µm", low=0, high=1),
}


def power(r, severity, k, q, r0):
    return k * severity / (r + r0) ** q


def test_it_does_what_the_same_formula_does(small):
    formula, ours = arris.loads(FORMULA), small.with_wear_law(power, PARAMETERS)
    a, b = arris.simulate(formula).track("A"), arris.simulate(ours).track("A")
    # both evaluate the same five operations; pow of two libraries may differ by an ulp (2e-16), some 100 steps, growth below 100
    np.testing.assert_allclose(b["apex_radius_um"], a["apex_radius_um"], rtol=1e-12)
    assert ours.parameters.loc["wear.k", "unit"] == "um/m"
    assert bool(ours.parameters.loc["wear.k", "fittable"])
    assert 'function = "power"' in ours.toml()


def test_it_can_be_fitted_copied_and_varied(small, tmp_path):
    readings = "edge,step,reading_gf\n" + "".join(f"A,honed,{v}\nA,worn,{w}\n" for v, w in ((150, 300), (160, 310), (145, 305)))
    (tmp_path / "r.csv").write_text(readings)
    both = []
    for text in (FORMULA, SMALL):
        both.append(arris.loads(text + '\n[readings]\nfile = "r.csv"\n', tmp_path / "x.toml"))
    ours = both[1].with_wear_law(power, PARAMETERS)
    a, b = (arris.fit(c, free=["wear.k"], starts=1, no_profiles=True) for c in (both[0], ours))
    assert a.converged and b.converged
    # the same search on functions that differ by rounding: it ends within its own tolerance, 1e-6 of the prior's spread log 3
    assert b.estimates["wear.k"] == pytest.approx(a.estimates["wear.k"], rel=1e-5)
    again = pickle.loads(pickle.dumps(ours))
    for group, data in arris.simulate(ours).items():
        xr.testing.assert_identical(data, arris.simulate(again)[group])
    faster = ours.with_values({"wear.k": 3.6e-3})
    ends = [float(arris.simulate(c).track("A")["apex_radius_um"][-1]) for c in (ours, faster)]
    assert ends[1] > 1.2 * ends[0]
    many = arris.simulate_many(ours, ["wear.k"], [[1.8e-3], [3.6e-3]], outputs="apex_radius_um")[:, 0, 0]
    assert many.tolist() == pytest.approx(ends, rel=2e-5)  # honing goes several at once in lanes there, alone here


def test_what_it_raises_comes_out(small):
    def wrong(r, k):
        if r > 0.35:
            raise ZeroDivisionError("my own mistake")
        return k / r

    with pytest.raises(ZeroDivisionError, match="my own mistake"):
        small.with_wear_law(wrong, {"k": 1e-3})

    calls = {"bad": False}

    def later(r, k):
        if calls["bad"]:
            raise KeyError("later")
        return k / r

    campaign = small.with_wear_law(later, {"k": 1e-3})
    calls["bad"] = True
    with pytest.raises(KeyError, match="later"):
        arris.simulate(campaign)
    calls["bad"] = False
    assert not arris.simulate(campaign).failures


def test_what_is_no_rate_is_refused(small):
    for law, parameters, code in (
        (lambda r, k: -k * r, {"k": 1e-3}, "negative-rate"),
        (lambda r, k: float("nan"), {"k": 1e-3}, "not-finite"),
        (lambda r, k, speed: k, {"k": 1e-3}, "unknown-variable"),
        (lambda r: 1e-3, {"k": 1e-3}, "unused-parameter"),
    ):
        with pytest.raises(arris.ConfigurationError) as wrong:
            small.with_wear_law(law, parameters, name="mine")
        assert wrong.value.code == code
    with pytest.raises(TypeError):
        small.with_wear_law(lambda *everything: 1e-3, {})
    with pytest.raises(arris.ConfigurationError) as alone:
        arris.loads(small.with_wear_law(power, PARAMETERS).toml())
    assert alone.value.code == "unknown-function"


def test_the_inputs_are_those_that_a_formula_has():
    inputs = arris.wear_inputs()
    assert {"r", "x", "severity", "hardness", "side_hardness"} <= set(inputs.index)
    assert inputs.loc["r", "unit"] == "um"


def power_of_arrays(r, severity, k, q, r0):
    assert isinstance(r, np.ndarray) and r.shape == k.shape == severity.shape
    sizes.append(len(r))
    return k * severity / (r + r0) ** q


sizes = []


def test_a_law_of_arrays_is_asked_by_many_histories_at_once(small):
    ours = small.with_wear_law(power_of_arrays, PARAMETERS, vectorized=True)
    one = small.with_wear_law(power, PARAMETERS)
    values = np.column_stack([np.linspace(1.0e-3, 3.0e-3, 400), np.linspace(0.2, 1.0, 400)])
    values[7] = [-1.0, 0.5]  # out of range
    sizes.clear()
    a = arris.simulate_many(one, ["wear.k", "wear.q"], values, outputs="apex_radius_um")
    b = arris.simulate_many(ours, ["wear.k", "wear.q"], values, outputs="apex_radius_um")
    # pow of numpy and of Python may differ by an ulp, as in the first test
    np.testing.assert_allclose(b, a, rtol=1e-12)
    assert np.isnan(b[7]).all() and np.isfinite(np.delete(b, 7, axis=0)).all()
    if max(sizes) == 1:
        pytest.skip("built without Boost.Context")
    assert np.mean(sizes) > 10
    again = pickle.loads(pickle.dumps(ours))
    assert np.array_equal(arris.simulate_many(again, ["wear.k", "wear.q"], values, outputs="apex_radius_um"), b, equal_nan=True)
    track = arris.simulate(ours).track("A")["apex_radius_um"]
    np.testing.assert_allclose(track, arris.simulate(one).track("A")["apex_radius_um"], rtol=1e-12)


def test_what_a_law_of_arrays_does_wrong_is_told(small, compiled):
    wrong = {"how": None}

    def law(r, k):
        if wrong["how"] == "raises" and len(r) > 1:
            raise KeyError("mine")
        return (k / r)[:1] if wrong["how"] == "short" else k / r

    campaign = small.with_wear_law(law, {"k": 1e-3}, vectorized=True)
    values = np.full((64, 1), 1e-3)
    for how, error in (("raises", KeyError), ("short", ValueError)):
        wrong["how"] = how
        with pytest.raises(error):
            arris.simulate_many(campaign, ["wear.k"], values)
        wrong["how"] = None
        assert np.isfinite(arris.simulate_many(campaign, ["wear.k"], values)).all()
    with pytest.raises(TypeError, match="numbers, not arrays"):
        small.with_wear_law(compiled, PARAMETERS, arguments=["r", "severity", "k", "q", "r0"], vectorized=True)


C = """
#include <math.h>
double power(double r, double severity, double k, double q, double r0) { return k*severity/pow(r + r0, q); }
"""


@pytest.fixture(scope="module")
def compiled(tmp_path_factory):
    compiler = shutil.which("cc")
    if compiler is None:
        pytest.skip("there is no compiler of C")
    folder = tmp_path_factory.mktemp("law")
    (folder / "law.c").write_text(C)
    subprocess.run([compiler, "-O2", "-shared", "-fPIC", "-o", folder / "law.so", folder / "law.c", "-lm"], check=True)
    function = ctypes.CDLL(str(folder / "law.so")).power
    function.restype, function.argtypes = ctypes.c_double, [ctypes.c_double] * 5
    return function


def test_a_compiled_law_is_called_without_the_interpreter(small, compiled):
    ours = small.with_wear_law(compiled, PARAMETERS, name="power", arguments=["r", "severity", "k", "q", "r0"])
    a, b = arris.simulate(arris.loads(FORMULA)).track("A"), arris.simulate(ours).track("A")
    np.testing.assert_allclose(b["apex_radius_um"], a["apex_radius_um"], rtol=1e-12)  # as in the first test
    values = [[1.8e-3], [3.6e-3]] * 40
    one, many = (arris.simulate_many(ours, ["wear.k"], values, threads=t) for t in (1, 4))
    assert np.array_equal(one, many) and np.isfinite(one).all()

    class OfNumba:
        """As numba.cfunc gives it: what ctypes has of it, and the function it was made of."""

        ctypes = compiled

        def __call__(self, *given):
            return power(*given)

    made = functools.update_wrapper(OfNumba(), power)
    for group, data in arris.simulate(small.with_wear_law(made, PARAMETERS)).items():
        xr.testing.assert_identical(data, arris.simulate(ours)[group])


def test_a_compiled_law_must_say_what_it_takes(small, compiled):
    with pytest.raises(TypeError, match="names of its arguments"):
        small.with_wear_law(compiled, PARAMETERS)
    with pytest.raises(TypeError, match="another number"):
        small.with_wear_law(compiled, PARAMETERS, arguments=["r", "severity", "k"])
    untold = ctypes.CDLL("libm.so.6").pow
    with pytest.raises(TypeError, match="c_double"):
        small.with_wear_law(untold, {"q": 0.5}, arguments=["r", "q"])
