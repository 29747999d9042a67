# SPDX-License-Identifier: MIT
"""Designs, sweeps over many inputs and Sobol indices, against numbers that others published, derived or computed."""

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from conftest import YARD

import arris

qmc = pytest.importorskip("scipy.stats").qmc

RANGES = {
    "tool.iron.micro_bevel_deg": (27.0, 38.0),
    "wood.sugar maple.side_hardness_N": (2000.0, 9000.0, "log"),
    "tester.slope_N_per_um": (3.9, 4.1),
}
UNIT = {f"x{i}": (0.0, 1.0) for i in range(40)}


def test_sobol_sequences_are_those_of_scipy():
    # both have the direction numbers of Joe & Kuo 2008, and doubles hold the first 53 digits of either: the same bits
    ours = arris.design(UNIT, 1024, seed=0).to_numpy()
    assert np.array_equal(ours, qmc.Sobol(len(UNIT), scramble=False).random_base2(10))
    shifted = arris.design(UNIT, 1024, seed=3).to_numpy()
    # a digital shift keeps how evenly points lie: the discrepancy is like that of scipy's scrambled points, and below that of random ones
    four = [float(qmc.discrepancy(x[:, :4])) for x in (shifted, qmc.Sobol(4, seed=3).random_base2(10), np.random.default_rng(3).random((1024, 4)))]
    assert four[0] < 0.1 * four[2] and four[0] < 3 * four[1]


def test_designs_lie_in_their_ranges():
    frame = arris.design(RANGES, 64, seed=0)
    unit = qmc.Sobol(3, scramble=False).random_base2(6)
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


def test_indices_are_those_of_a_sum():
    # f = x₁ + 2·x₂ + 0·x₃ on independent uniform inputs: shares 1/5, 4/5 and 0, alone and in all
    points = arris.design({k: (0.0, 1.0) for k in "abcdef"}, 4096).to_numpy()
    left, right = points[:, :3], points[:, 3:]
    weights = np.array([1.0, 2.0, 0.0])
    mixed = np.array([(left + (right - left) * (np.arange(3) == i)) @ weights for i in range(3)])
    first, total = arris.sobol_indices(left @ weights, right @ weights, mixed)
    # independent points would err by about 1/√n = 0.016
    np.testing.assert_allclose(first, [0.2, 0.8, 0.0], atol=0.016)
    np.testing.assert_allclose(total, [0.2, 0.8, 0.0], atol=0.016)
    with pytest.raises(ValueError, match="one value per row"):
        arris.sobol_indices(np.zeros(4), np.zeros(3), np.zeros((1, 4)))


def test_indices_of_ishigamis_function_are_those_that_salib_prints():
    """The example that SALib's documentation opens with (from memory): 1024 points of its Sobol sequence, the first 1024 left out."""
    points = arris.design({k: (-np.pi, np.pi) for k in "abcdef"}, 2048, seed=0).to_numpy()[1024:]
    left, right = points[:, :3], points[:, 3:]
    mixed = np.array([np.where(np.arange(3) == i, right, left) for i in range(3)])

    def f(x):
        return np.sin(x[..., 0]) + 7 * np.sin(x[..., 1]) ** 2 + 0.1 * x[..., 2] ** 4 * np.sin(x[..., 0])

    first, total = arris.sobol_indices(f(left), f(right), f(mixed))
    # six places are printed; SALib takes the mean of A, B and AB away and this A's and B's, which moves the first by less than 1e-7
    np.testing.assert_allclose(first, [0.316832, 0.443763, 0.012203], atol=6e-7)
    np.testing.assert_allclose(total, [0.555860, 0.441898, 0.244675], atol=6e-7)


def test_a_grid_of_many_inputs_holds_what_each_combination_gives(small, program, tmp_path):
    over = {
        "tool.iron.micro_bevel_deg": (28, 34, 3),
        "step.4.cut": ["sugar maple", "teak"],
        "wear.crushing_um_per_m": (5e-5, 3e-4, 3, "log"),
        "step.4.passes": [20, 60, 100],
    }
    ours = arris.sweep(small, over=over, output="reading_gf")
    assert ours.members == 54 and ours.failed == 0
    assert "of 54 combinations the least reading is" in ours.sentence
    # one value put into the configuration by hand
    chosen = {"tool_micro_bevel_deg": 31.0, "step_4_cut": "sugar maple", "wear_crushing_um_per_m": 5e-5, "step_4_passes": 60.0}
    at = ours.map["reading_gf"].sel(chosen, method=None)
    alone = small.with_values({"tool.iron.micro_bevel_deg": 31.0, "wear.crushing_um_per_m": 5e-5})
    one = arris.sweep(alone, over="step.4.passes=20|60|100", output="reading_gf").map["reading_gf"].sel(step_4_passes=60.0)
    assert float(at) == pytest.approx(float(one), rel=1e-12)
    # the command, in shares that are merged, kept and opened again
    words = [w for text in arris.asking.inputs_of(over) for w in ("--over", text)]
    (tmp_path / "small.toml").write_text(small.toml(), encoding="utf-8")
    shares = [tmp_path / f"{i}.h5" for i in (1, 2, 3)]
    for i, share in enumerate(shares, 1):
        program("sweep", tmp_path / "small.toml", "--quiet", *words, "--output", "reading_gf", "--shard", f"{i}/3", "--out", share)
    for extra in ([], ["--link"]):
        program("merge", *shares, "--quiet", *extra, "--out", tmp_path / "whole.h5")
        xr.testing.assert_identical(arris.open_result(tmp_path / "whole.h5")["map"], ours.map)
    xr.testing.assert_identical(arris.merge(shares).map, ours.map)
    ours.save(tmp_path / "saved.h5")
    xr.testing.assert_identical(arris.open_result(tmp_path / "saved.h5")["map"], ours.map)
    assert "<svg" in ours.figure().svg and "54 combinations" in ours.report()


@pytest.mark.parametrize("how", ["sobol", "latin-hypercube", "rows"])
def test_rows_of_a_design_are_those_of_simulate_many(how, small, program, tmp_path):
    paths = ["tool.iron.micro_bevel_deg", "wood.sugar maple.side_hardness_N"]
    ranges = {path: RANGES[path] for path in paths}
    table = arris.design(ranges, 40, method="sobol" if how == "rows" else how, seed=5)
    given = {"rows": table} if how == "rows" else {"over": ranges, "design": how, "count": 40, "seed": 5}
    ours = arris.sweep(small, **given, output=["reading_gf", "apex_radius_um"])
    assert ours.map.sizes == {"row": 40}
    np.testing.assert_array_equal(ours.map["tool_micro_bevel_deg"], table[paths[0]])
    expected = arris.simulate_many(small, paths, table, outputs=["reading_gf", "apex_radius_um"])[:, 0]
    np.testing.assert_allclose(ours.map["reading_gf"], expected[:, 0], rtol=1e-12)
    np.testing.assert_allclose(ours.map["apex_radius_um"], expected[:, 1], rtol=1e-12)
    assert "over 40 rows of" in ours.sentence
    assert ours["spread"]["median"][0] == pytest.approx(float(np.median(expected[:, 0])))
    (tmp_path / "small.toml").write_text(small.toml(), encoding="utf-8")
    table.to_csv(tmp_path / "rows.csv", index=False)
    words = ["--rows", tmp_path / "rows.csv"]
    if how != "rows":
        texts = arris.asking.inputs_of(ranges)
        words = ["--over", texts[0], "--over", texts[1], "--design", how, "--count", 40, "--seed", 5]
    shares = [tmp_path / "1.h5", tmp_path / "2.h5"]
    for i, share in enumerate(shares, 1):
        program("sweep", tmp_path / "small.toml", "--quiet", *words, "--shard", f"{i}/2", "--out", share)
    program("merge", *shares, "--quiet", "--out", tmp_path / "whole.h5")
    xr.testing.assert_identical(arris.open_result(tmp_path / "whole.h5")["map"], ours.map)
    xr.testing.assert_identical(arris.merge(shares).map, ours.map)
    assert "<svg" in ours.figure().svg


def test_materials_and_steps_can_be_rows(small, tmp_path):
    table = pd.DataFrame({"step.4.cut": ["teak", "sugar maple", "Teak"], "step.2.skip": [0, 1, 0], "step.4.passes": [10.0, 50.0, 90.0]})
    found = arris.sweep(small, rows=table).map
    assert list(found["step_4_cut"].values) == ["teak", "sugar maple", "teak"]
    assert np.isfinite(found["reading_gf"]).all()
    assert found["reading_gf"][2] > found["reading_gf"][0]
    for change, code in (({"step.2.skip": [0, 0.5, 1]}, "bad-rows"), ({"step.4.passes": [1, 2, "x"]}, "not-a-number"), ({"step.9.passes": [1, 2, 3]}, "no-such-step")):
        with pytest.raises(arris.Error) as wrong:
            arris.sweep(small, rows=pd.DataFrame({**table, **change}))
        assert wrong.value.code == code
    for options in ({"rows": table, "over": "step.4.passes=1:2:2"}, {"over": "step.4.passes=1:2", "design": "grid"}, {"over": "step.4.passes=1:2:2", "count": 8}):
        with pytest.raises(arris.ConfigurationError) as wrong:
            arris.sweep(small, **options)
        assert wrong.value.code == "bad-option"
    with pytest.raises(arris.ConfigurationError, match="no range of a design"):
        arris.sweep(small, over="step.4.passes=1:2:9", design="sobol")


def test_what_matters_most_is_told(small, program, tmp_path):
    found = arris.sensitivity(small, over=RANGES, output="reading_gf", base=256)
    assert found.settings["histories"] == 256 * 5 and found.settings["failed"] == 0
    table = found.to_pandas("indices").set_index("input")
    assert found.sentence.startswith(f"What matters most for the reading of edge A at the end over these ranges is {table.index[0]}:")
    # 5 % of the slope of the tester against four times the hardness of the wood, or eleven degrees
    assert table.index[-1] == "tester.slope_N_per_um"
    assert (table["total_low"] <= table["total"]).all() and (table["total"] <= table["total_high"]).all()
    assert 0.9 < table["total"].sum() < 1.3  # nearly a sum of functions of one input each
    assert "<svg" in found.figure("sensitivity").svg
    # one input over its own takes all of the variance
    one = arris.sensitivity(small, over={"tool.iron.micro_bevel_deg": (27.0, 38.0)}, output="reading_gf", base=128)
    assert float(one["indices"]["total"][0]) == pytest.approx(1.0, abs=0.15)


def test_how_long_an_edge_lasts_is_the_question_by_default(program, tmp_path):
    over = {"tool.O1 jack iron.micro_bevel_deg": (28, 38), "step.8.cut": ["white oak", "teak"]}
    keywords = {"edge": "A1", "limit": 180.0, "passes": 2000, "base": 64, "seed": 2}
    file = tmp_path / "s.h5"
    words = [w for text in arris.asking.inputs_of(over) for w in ("--over", text)]
    program("sensitivity", YARD, "--quiet", *words, "--edge", "A1", "--limit", 180, "--passes", 2000, "--base", 64, "--seed", 2, "--out", file)
    ours, theirs = arris.sensitivity(YARD, over=over, **keywords), arris.open_result(file)
    for group in ours:
        xr.testing.assert_identical(ours[group], theirs[group])
    assert ours.sentence == theirs.sentence
    assert ours.sentence.startswith("What matters most for how long edge A1 lasts (passes to 180 gf)")
    # the lives are those that a sweep of the same design finds, with the wood at its first cut
    assert ours.settings["histories"] == 64 * 4
    assert 0 < float(ours["spread"]["low"][0]) < float(ours["spread"]["high"][0]) <= 2000


def test_what_cannot_be_is_told(small):
    for keywords, code in (
        ({"over": RANGES, "base": 100}, "bad-option"),
        ({"over": RANGES, "at": "end"}, "bad-option"),
        ({"over": RANGES, "output": "reading_gf", "limit": 100.0}, "bad-option"),
        ({"over": {"tester.slope_N_per_um": (3.0, 5.0)}, "output": "apex_radius_um", "base": 16}, "same-everywhere"),
        ({"over": {"tool.iron.nothing": (1.0, 2.0)}, "base": 16}, "unknown-input"),
        ({"over": {"tool.iron.micro_bevel_deg": (10.0, 26.0)}, "output": "reading_gf", "base": 64}, "too-many-failed"),
    ):
        with pytest.raises(arris.Error) as wrong:
            arris.sensitivity(small, **keywords)
        assert wrong.value.code == code
