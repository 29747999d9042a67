# SPDX-License-Identifier: MIT
"""How far work has come is told while it runs, and changes nothing of it."""

import sys
import types

import numpy as np
import pytest

import arris


@pytest.fixture
def told():
    said = []
    arris.show_progress(lambda stage, done, all: said.append((stage, done, all)))
    yield said
    arris.show_progress(False)


def test_studies_tell_how_far_they_are(told, small):
    over = {"tool.iron.micro_bevel_deg": (27, 38, 3000), "wear.crushing_um_per_m": (5e-5, 3e-4, 20)}
    shown = arris.sweep(small, over=over)
    assert told and {stage for stage, _, _ in told} == {"sweeping"}
    done = [d for _, d, _ in told]
    assert done == sorted(done) and told[-1][1] == told[-1][2]
    arris.show_progress(False)
    count = len(told)
    assert np.array_equal(shown.map["reading_gf"], arris.sweep(small, over=over).map["reading_gf"])
    assert len(told) == count


def test_stages_of_a_fit_have_their_names(told, yard):
    arris.fit(yard, free=["tester.slope_N_per_um"], starts=2)
    stages = {stage for stage, _, _ in told}
    assert stages and all(0 <= done <= all for _, done, all in told)


def test_many_rows_are_those_without(told, small):
    rows = np.linspace(27, 38, 30_000)[:, None]
    ours = arris.simulate_many(small, ["tool.iron.micro_bevel_deg"], rows)
    assert told == [("simulating", 10_000 * i, 30_000) for i in (1, 2, 3)]
    arris.show_progress(False)
    assert np.array_equal(ours, arris.simulate_many(small, ["tool.iron.micro_bevel_deg"], rows))


def test_what_it_raises_stops_the_work(small):
    def refuse(stage, done, all):
        raise RuntimeError(f"enough of {stage}")

    arris.show_progress(refuse)
    try:
        with pytest.raises(RuntimeError, match="enough of sweeping"):
            arris.sweep(small, over={"tool.iron.micro_bevel_deg": (27, 38, 100_000)})
    finally:
        arris.show_progress(False)


class Bar:
    """As much of tqdm as is used."""

    made: list["Bar"] = []

    def __init__(self, total, desc):
        self.total, self.desc, self.n, self.open = total, desc, 0, True
        Bar.made.append(self)

    def update(self, by):
        self.n += by

    def close(self):
        self.open = False


def test_bars_are_those_of_tqdm(monkeypatch, small):
    monkeypatch.setitem(sys.modules, "tqdm", types.ModuleType("tqdm"))
    auto = types.ModuleType("tqdm.auto")
    auto.tqdm = Bar
    monkeypatch.setitem(sys.modules, "tqdm.auto", auto)
    Bar.made.clear()
    arris.show_progress()
    try:
        for _ in range(2):
            arris.simulate_many(small, ["tool.iron.micro_bevel_deg"], np.linspace(27, 38, 20_000)[:, None])
    finally:
        arris.show_progress(False)
    assert [(bar.desc, bar.total, bar.n, bar.open) for bar in Bar.made] == [("simulating", 20_000, 20_000, False)] * 2


def test_without_tqdm_bars_are_refused(monkeypatch):
    monkeypatch.setitem(sys.modules, "tqdm.auto", None)
    with pytest.raises(ImportError, match="python3-tqdm"):
        arris.show_progress()
