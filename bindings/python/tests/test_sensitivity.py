# SPDX-License-Identifier: MIT
"""Designs and Sobol indices, against numbers that others published or derived."""

import numpy as np
import pytest

import arris
from arris.sensitivity import _unit_cube, sobol_indices

qmc = pytest.importorskip("scipy.stats").qmc

RANGES = {"tool.iron.micro_bevel_deg": (27.0, 38.0), "wood.sugar maple.side_hardness_N": (2000.0, 9000.0, "log"), "tester.slope_N_per_um": (3.9, 4.1)}


def ishigami(x, a=7.0, b=0.1):
    """Ishigami & Homma 1990 (from memory), on [−π, π]³."""
    return np.sin(x[:, 0]) + a * np.sin(x[:, 1]) ** 2 + b * x[:, 2] ** 4 * np.sin(x[:, 0])


def test_indices_of_ishigamis_function_are_those_of_its_integrals():
    a, b, n = 7.0, 0.1, 2**14
    points = -np.pi + 2 * np.pi * _unit_cube(6, n, "sobol", 3)
    left, right = points[:, :3], points[:, 3:]
    mixed = []
    for i in range(3):
        x = left.copy()
        x[:, i] = right[:, i]
        mixed.append(ishigami(x))
    first, total = sobol_indices(ishigami(left), ishigami(right), np.array(mixed))
    # the integrals can be done by hand: shares of the variance of each term
    of_1, of_2, of_13 = 0.5 * (1 + b * np.pi**4 / 5) ** 2, a**2 / 8, 8 * b**2 * np.pi**8 / 225
    variance = of_1 + of_2 + of_13
    # 0.3139, 0.4424, 0 and 0.5576, 0.4424, 0.2437 are printed in many places. A Monte Carlo of n points errs by about 1/√n = 0.008;
    # a Sobol sequence by less
    np.testing.assert_allclose(first, [of_1 / variance, of_2 / variance, 0.0], atol=0.01)
    np.testing.assert_allclose(total, [(of_1 + of_13) / variance, of_2 / variance, of_13 / variance], atol=0.01)


def test_designs_are_those_of_scipy_in_their_ranges():
    frame = arris.design(RANGES, 64, seed=5)
    unit = qmc.Sobol(3, seed=5).random_base2(6)
    np.testing.assert_allclose(frame.iloc[:, 0], 27 + 11 * unit[:, 0])
    np.testing.assert_allclose(frame.iloc[:, 1], 2000 * 4.5 ** unit[:, 1])
    assert list(frame) == list(RANGES)
    squares = arris.design(RANGES, 50, method="latin-hypercube")
    slices = np.floor((squares.iloc[:, 0].to_numpy() - 27) / 11 * 50).astype(int)
    assert sorted(slices) == list(range(50))
    for wrong in ({"x": (2.0, 1.0)}, {"x": (0.0, 1.0, "log")}, {"x": (1.0, 2.0, "cubic")}, {}):
        with pytest.raises(ValueError):
            arris.design(wrong, 8)
    with pytest.raises(ValueError, match="neither"):
        arris.design(RANGES, 8, method="grid")


def test_what_matters_most_is_told(small):
    found = arris.sensitivity(small, RANGES, base=256)
    assert found.histories == 256 * 5 and found.failed == 0
    assert found.sentence.startswith(f"What matters most for reading_gf over these ranges is {found.indices.index[0]}:")
    # 5 % of the slope of the tester against four times the hardness of the wood, or eleven degrees
    assert found.indices.index[-1] == "tester.slope_N_per_um"
    indices = found.indices
    assert (indices["total_low"] <= indices["total"]).all() and (indices["total"] <= indices["total_high"]).all()
    assert 0.9 < indices["total"].sum() < 1.3  # nearly a sum of functions of one input each
    assert "<table" in found._repr_html_() and found.sentence in str(found)
    # one input over its own takes all of the variance
    one = arris.sensitivity(small, {"tool.iron.micro_bevel_deg": (27.0, 38.0)}, base=128)
    assert one.indices["total"].iloc[0] == pytest.approx(1.0, abs=0.15)


def test_what_cannot_be_is_told(small):
    with pytest.raises(ValueError, match="power of two"):
        arris.sensitivity(small, RANGES, base=100)
    with pytest.raises(ValueError, match="the same everywhere"):
        arris.sensitivity(small, {"tester.slope_N_per_um": (3.0, 5.0)}, output="apex_radius_um", base=16)
    with pytest.raises(ValueError, match="narrow the ranges"):
        arris.sensitivity(small, {"tool.iron.micro_bevel_deg": (10.0, 26.0)}, base=64)
    with pytest.raises(arris.ConfigurationError):
        arris.sensitivity(small, {"tool.iron.nothing": (1.0, 2.0)}, base=16)
