# SPDX-License-Identifier: MIT
"""A campaign said otherwise is the same campaign in Python too: the laws that the program is held to (tests/python/campaigns.py), and those
that only the package can break."""

import math
import os
import sys

import numpy as np
import pytest
import xarray as xr
from conftest import SOURCE

import arris

sys.path.insert(0, str(SOURCE / "tests" / "python"))
from campaigns import difference, laws, made_up, toml  # noqa: E402

CAMPAIGNS = range(int(os.environ.get("ARRIS_CAMPAIGNS", "3")))


def edges_of(result):
    """Edges of a simulation by name, their curves as columns."""
    edges = result["edges"]
    lives = edges["passes_to_limit"].values
    return {
        str(name): {"status": str(edges["status"].values[i]), "passes_to_limit": None if math.isnan(lives[i]) else float(lives[i]), "track": {key: column.values.tolist() for key, column in result.track(str(name)).data_vars.items()}}
        for i, name in enumerate(edges["name"].values)
    }


@pytest.mark.parametrize("seed", CAMPAIGNS)
def test_a_campaign_said_otherwise_is_the_same_campaign(seed, tmp_path):
    wrong, plain = {}, None
    for law in laws(seed):
        plain = plain or edges_of(arris.simulate(arris.loads(law.plain)))
        for name, text in law.files.items():
            (tmp_path / name).write_text(text)
        if differs := difference(law, plain, edges_of(arris.simulate(arris.loads(law.other, tmp_path / "c.toml")))):
            wrong[law.name] = differs
    assert wrong == {}


@pytest.mark.parametrize("seed", CAMPAIGNS)
def test_many_at_once_are_each_alone_and_threads_change_no_bit(seed):
    campaign = arris.loads(toml(made_up(seed)))
    names, rows = ["coefficients.abrasion", "tester.slope_N_per_um"], np.array([[0.2, 3.0], [0.3, 2.0], [0.25, 4.0]])
    first = next(iter(made_up(seed)["edges"]))
    many = {threads: arris.simulate_many(campaign, names, rows, edge=first, threads=threads) for threads in (1, 2, 7)}
    np.testing.assert_array_equal(many[1], many[2])
    np.testing.assert_array_equal(many[1], many[7])
    turned = arris.simulate_many(campaign, names[::-1], rows[::-1, ::-1], edge=first)
    np.testing.assert_array_equal(turned[::-1], many[1])
    for row, values in enumerate(rows):
        alone = arris.simulate(campaign.with_values(dict(zip(names, values))))
        # lanes and the adaptive path differ by their tolerance, 1e-8 of each step
        assert many[1][row, 0, 0] == pytest.approx(float(alone.track(first)["reading_gf"][-1]), rel=1e-5)


def test_threads_change_no_bit_of_a_study():
    campaign = arris.loads(toml(made_up(1)))
    for study, keywords in ((arris.forecast, {"members": 20, "passes": 300}), (arris.upkeep, {"members": 2, "stroppings": 1})):
        told = [study(campaign, threads=threads, **keywords) for threads in (1, 2, 7)]
        for other in told[1:]:
            assert str(other) == str(told[0])
            for group in told[0]:
                xr.testing.assert_identical(other[group], told[0][group])
