# SPDX-License-Identifier: MIT
"""Many sets of parameters in one array."""

import numpy as np
import pytest

import arris

NAMES = ["tool.iron.micro_bevel_deg", "wood.sugar maple.side_hardness_N"]


def rows(n):
    rng = np.random.default_rng(1)
    return np.column_stack([rng.uniform(26, 40, n), rng.uniform(2000, 9000, n)])


def test_each_row_is_the_simulation_of_its_values(small):
    values = rows(5)
    got = arris.simulate_many(small, NAMES, values, at=["after 40 passes", "after step 2", "end"], outputs=["reading_gf", "apex_radius_um", "passes"])
    assert got.shape == (5, 3, 3)
    for i, row in enumerate(values):
        one = arris.simulate(small.with_values(dict(zip(NAMES, row))))
        for moment, step in ((1, 1), (2, 4)):
            after = one.steps("A").isel(row=step)
            # several at once in lanes here, alone there: each errs by some tens of steps of 1e-6 at most (tests/test_lanes.cpp)
            assert got[i, moment, 0] == pytest.approx(float(after["reading_after_gf"]), rel=2e-5)
            assert got[i, moment, 1] == pytest.approx(float(after["apex_radius_after_um"]), rel=2e-5)
        assert got[i, 0, 2] == 40 and got[i, 2, 2] == 100
        assert got[i, 1, 1] < got[i, 0, 1] < got[i, 2, 1]  # wood blunts


def test_threads_change_no_bit(small):
    values = rows(70)
    one, many = (arris.simulate_many(small, NAMES, values, threads=t) for t in (1, 4))
    assert np.array_equal(one, many)


def test_rows_out_of_range_are_missing_and_leave_the_rest(small):
    values = rows(3)
    values[1, 0] = 20.0  # below the primary bevel
    values[2, 1] = np.nan
    got = arris.simulate_many(small, NAMES, values)
    assert np.isfinite(got[0]).all() and np.isnan(got[1:]).all()


def test_what_cannot_be_is_told(small):
    for keywords, code in (
        ({"at": "after 1000 passes"}, "no-such-moment"),
        ({"at": "after step 9"}, "no-such-step"),
        ({"outputs": "sharpness"}, "unknown-output"),
        ({"edge": "B"}, "unknown-edge"),
    ):
        with pytest.raises(arris.ConfigurationError) as wrong:
            arris.simulate_many(small, NAMES, rows(2), **keywords)
        assert wrong.value.code == code
    with pytest.raises(arris.ConfigurationError) as wrong:
        arris.simulate_many(small, ["tool.iron.micro_bevel"], rows(2)[:, :1])
    assert wrong.value.code == "unknown-parameter" and "micro_bevel_deg" in wrong.value.next
    with pytest.raises(ValueError, match="shape"):
        arris.simulate_many(small, NAMES, rows(2)[:, :1])


def test_a_data_set_keeps_names_units_and_what_became_of_each_row(small):
    values = rows(4)
    values[1, 0] = 20.0  # below the primary bevel
    moments, outputs = ["after 40 passes", "end"], ["reading_gf", "apex_radius_um"]
    data = arris.simulate_many(small, NAMES, values, at=moments, outputs=outputs, dataset=True)
    bare = arris.simulate_many(small, NAMES, values, at=moments, outputs=outputs)
    assert data.sizes == {"row": 4, "at": 2} and list(data["at"].values) == moments
    for i, name in enumerate(outputs):
        np.testing.assert_array_equal(data[name].values, bare[:, :, i])
    assert data["status"].values.tolist() == [0, 5, 0, 0] and "5 impossible" in data["status"].attrs["long_name"]
    assert data["apex_radius_um"].attrs["units"] == "um" and data[NAMES[0]].attrs["units"] == "degree"
    np.testing.assert_array_equal(data[NAMES[1]].values, values[:, 1])
