# SPDX-License-Identifier: MIT
"""A wear law added as DEVELOPERS.md says is there in Python, which lists no laws of its own."""

import os
import pathlib

import numpy as np

import arris

SOURCE = pathlib.Path(os.environ["ARRIS_SOURCE_DIR"])
YARD = SOURCE / "configs" / "boatyard" / "boatyard.toml"


def small(wear):
    return arris.loads(
        """
[tool.iron]
steel = "O1"
width_mm = 50
thickness_mm = 3
primary_bevel_deg = 25
micro_bevel_deg = 30
apex_radius_um = 0.5
[edge.A]
tool = "iron"
steps = [ { cut = "radiata pine", passes = 400, pass_m = 1 } ]
[coefficients]
collapse_load_N_per_m = 0
"""
        + wear
    )


def test_a_configuration_names_it():
    campaign = small('[wear]\nlaw = "another"\nrate_um_per_m = 1e-3\n')
    assert 'law = "another"' in campaign.toml()
    assert campaign.parameters.loc["wear.rate_um_per_m", "value"] == 1e-3
    assert bool(campaign.parameters.loc["wear.rate_um_per_m", "fittable"])


def spent(rate):
    radius = arris.simulate(small(f'[wear]\nlaw = "another"\nrate_um_per_m = {rate}\n')).track("A")["apex_radius_um"].values
    done = (1 + radius) * np.log1p(radius)
    return float(done[-1] - done[0])


def test_an_edge_wears_by_it():
    # dr/dx = k/(1 + ln(1 + r)), so that (1 + r)·ln(1 + r) grows in proportion to k; the tolerance of the integration is below 1e-5
    assert spent(1e-3) > 0.1
    np.testing.assert_allclose(spent(2e-3), 2 * spent(1e-3), rtol=1e-4)


def test_it_is_weighed_among_the_others():
    laws = arris.weigh(arris.load(YARD), law=["another", "shared-load"], starts=1)["laws"]
    assert sorted(str(name) for name in laws["law"].values) == ["another", "shared-load"]
