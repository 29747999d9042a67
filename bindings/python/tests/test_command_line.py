# SPDX-License-Identifier: MIT
"""Python and the command line are one program: the same numbers to the last bit, the same names, the same words."""

import inspect
import os
import re
import subprocess

import h5py
import numpy as np
import pytest
import xarray as xr
from conftest import SOURCE, YARD

import arris

# each study of the demonstration: keywords of Python, and the same as options; small, so that all of them take some seconds
STUDIES = {
    "simulate": {},
    "gauge": {"difference": 15},
    "forecast": {"edge": ["A1", "C4"], "limit": 180.0, "members": 40, "passes": 800, "seed": 3},
    "compare": {"edge": ["A1", "A4"], "members": 20, "passes": 800},
    "readings": {},
    "upkeep": {"limit": "bench work", "members": 0, "stroppings": 2},
    "weigh": {"law": ["shared-load", "power"], "starts": 1},
    "plan": {"difference": 30, "groups": ["waterstones", "film"], "moments": 1, "edges": 3, "replicates": 2},
}


def options(keywords):
    for name, value in keywords.items():
        yield "--" + name.replace("_", "-")
        if isinstance(value, list):
            yield ",".join(value)
        elif value is not True:
            yield f"{value:g}" if isinstance(value, float) else str(value)


@pytest.mark.parametrize("study", STUDIES)
def test_a_study_gives_the_bits_of_the_command(study, yard, program, tmp_path):
    keywords = STUDIES[study]
    file = tmp_path / "result.h5"
    program(study, YARD, "--quiet", "--out", file, *options(keywords))
    ours, theirs = getattr(arris, study)(yard, **keywords), arris.open_result(file)
    assert set(ours) == set(theirs)
    assert len(ours) > 0
    for group in ours:
        # values, dimensions, coordinates, units and long names alike; not a close number, the same
        xr.testing.assert_identical(ours[group], theirs[group])
    if study not in ("simulate",):
        assert ours.sentence == theirs.sentence
        assert ours.rests_on or theirs.rests_on
    assert ours.kind == theirs.kind == study


def test_forecasts_are_scored_as_the_command_scores_them(yard, program, tmp_path):
    file = tmp_path / "forward.h5"
    laws = ["shared-load", "power"]
    program("weigh", YARD, "--quiet", "--forward", 1, "--law", ",".join(laws), "--starts", 1, "--members", 60, "--out", file)
    ours, theirs = arris.weigh(yard, forward=1, law=laws, starts=1, members=60), arris.open_result(file)
    assert ours.kind == theirs.kind == "forward"
    assert set(ours) == set(theirs) == {"held_back", "scores", "units", "kept"}
    for group in ours:
        xr.testing.assert_identical(ours[group], theirs[group])
    held = ours["held_back"]
    inside = (held["reading_gf"] >= held["low_90_gf"]) & (held["reading_gf"] <= held["high_90_gf"])
    assert int(inside.sum()) == int(ours["scores"]["inside_90"][0])
    assert ours.sentence.startswith(f"Of {held.sizes['row']} readings held back, {int(inside.sum())} ")
    with pytest.raises(arris.ConfigurationError, match="nothing-held-back"):
        arris.weigh(yard, forward=900)
    with pytest.raises(arris.ConfigurationError, match="without forward"):
        arris.weigh(yard, members=60)


def test_a_fit_gives_the_bits_of_the_command(yard, program, tmp_path):
    file, fitted = tmp_path / "fit.h5", tmp_path / "fitted.toml"
    free = ["tester.slope_N_per_um", "wear.parting_um2_per_m"]
    program("fit", YARD, "--quiet", "--starts", 2, "--free", ",".join(free), "--out", file, "--fitted", fitted)
    ours, theirs = arris.fit(yard, free=free, starts=2), arris.open_result(file)
    assert ours.converged
    assert set(ours) == set(theirs)
    for group in ours:
        xr.testing.assert_identical(ours[group], theirs[group])
    assert ours.spread["readings"] == theirs.attributes["sd_readings"]
    assert list(ours.estimates.index) == free  # as they were named, whatever law answers rest on
    # the configuration that goes on from it means the same
    again = arris.fitted(yard, ours)
    reloaded = arris.load(fitted)
    assert again.parameters["value"].equals(reloaded.parameters["value"])
    assert again.parameters.loc[free[0], "status"].startswith("fitted")


def test_a_fit_begins_from_an_earlier_one_as_the_command_does(program, tmp_path):
    readings = (YARD.parent / "readings.csv").read_text().splitlines()
    rows = [line for line in readings if not line.startswith("#")]
    early = [line for line in rows[1:] if line[0] == "A"]
    late = [line for line in rows[1:] if line[0] != "A"]
    text = YARD.read_text().replace("[readings]", '[wear]\nlaw = "shared-load"\n[fit]\nstarts = 1\nfree = ["tester.slope_N_per_um", "wear.parting_um2_per_m"]\n[readings]')
    (tmp_path / "readings.csv").write_text("\n".join([rows[0], *early]) + "\n")
    (tmp_path / "early.toml").write_text(text)
    program("fit", tmp_path / "early.toml", "--quiet", "--out", tmp_path / "last.h5")
    (tmp_path / "late.csv").write_text("\n".join([rows[0], *late]) + "\n")
    later = text.replace("starts = 1", 'starts = 1\nfrom = "last.h5"').replace('"readings.csv"', '"late.csv"')
    (tmp_path / "late.toml").write_text(later)
    program("fit", tmp_path / "late.toml", "--quiet", "--out", tmp_path / "late.h5")
    ours, theirs = arris.fit(tmp_path / "late.toml"), arris.open_result(tmp_path / "late.h5")
    assert set(ours) == set(theirs)
    for group in ours:
        xr.testing.assert_identical(ours[group], theirs[group])
    assert any(remark.startswith(f"Begins from {tmp_path / 'last.h5'} (") for remark in ours.remarks)
    # it knows more than its own readings say
    alone = arris.fit(arris.loads(later.replace('from = "last.h5"', ""), tmp_path / "alone.toml"))
    log_sd = [fit["parameters"]["log_sd"].sel(parameter="tester.slope_N_per_um") for fit in (ours, alone)]
    assert log_sd[0] < log_sd[1]
    assert arris.Fit(from_="last.h5").to_toml() == 'from = "last.h5"\n'
    # read on another tester
    (tmp_path / "anew.toml").write_text(later.replace('from = "last.h5"', 'from = "last.h5"\nanew = ["tester"]'))
    program("fit", tmp_path / "anew.toml", "--quiet", "--out", tmp_path / "anew.h5")
    ours, theirs = arris.fit(tmp_path / "anew.toml"), arris.open_result(tmp_path / "anew.h5")
    xr.testing.assert_identical(ours["parameters"], theirs["parameters"])
    assert 'anew = ["tester"]' in arris.Fit(from_="last.h5", anew=["tester"]).to_toml()
    with pytest.raises(arris.DataError, match="read-twice"):
        (tmp_path / "twice.toml").write_text(later.replace('"late.csv"', '"readings.csv"'))
        arris.fit(tmp_path / "twice.toml")


def test_a_sweep_gives_the_bits_of_the_command(yard, program, tmp_path):
    file = tmp_path / "sweep.h5"
    over = ["tool.O1 jack iron.micro_bevel_deg=28:36:5", "step.8.cut=white oak|teak"]
    program("sweep", YARD, "--quiet", "--out", file, "--over", over[0], "--over", over[1], "--at", "after 100 passes")
    ours, theirs = arris.sweep(yard, over=over, at="after 100 passes"), arris.open_result(file)
    xr.testing.assert_identical(ours.map.drop_vars("status"), theirs["map"].drop_vars("status"))
    assert np.array_equal(ours.map["status"], theirs["map"]["status"])
    assert ours.failed == 0 and ours.members == 10
    assert ours.sentence == theirs.sentence


def test_a_damaged_file_is_refused_also_where_a_linked_sweep_reads_from_it(program, tmp_path):
    shares = [tmp_path / f"share{i}.h5" for i in (1, 2)]
    for i, share in enumerate(shares, 1):
        program("sweep", YARD, "--quiet", "--edge", "A1", "--over", "step.1.strokes=20:80:40", "--shard", f"{i}/2", "--out", share)
    program("merge", *shares, "--link", "--quiet", "--out", tmp_path / "whole.h5")
    assert np.isfinite(arris.open_result(tmp_path / "whole.h5")["map"]["reading_gf"]).all()
    data = bytearray(shares[1].read_bytes())
    data[len(data) // 2] ^= 1
    shares[1].write_bytes(data)
    for path, code in ((shares[1], "damaged-result"), (tmp_path / "whole.h5", "share-changed")):
        with pytest.raises(arris.DataError) as damaged:
            arris.open_result(path)
        assert damaged.value.code == code
        assert "share2.h5" in str(damaged.value)


def test_a_result_of_a_newer_version_is_told(program, tmp_path):
    file = tmp_path / "r.h5"
    program("simulate", YARD, "--quiet", "--out", file)
    with h5py.File(file, "r+") as data:
        data.attrs["schema_version"] = data.attrs["schema_version"] + 1
    arris.seal(file)
    with pytest.raises(arris.DataError) as newer:
        arris.open_result(file)
    assert newer.value.code == "newer-result"
    reported = subprocess.run([os.environ["ARRIS_PROGRAM"], "report", file, "--out", tmp_path / "r.html"], capture_output=True, text=True, timeout=300)
    assert reported.returncode == 3 and "[newer-result]" in reported.stderr
    assert not (tmp_path / "r.html").exists()


def test_text_is_what_the_command_prints(yard, program):
    printed = program("gauge", YARD)
    assert str(arris.gauge(yard)) in printed
    assert str(arris.simulate(yard)).split("\n\n")[0] in program("simulate", YARD)


def commands_that_answer(program):
    """Those that take threads, save `study`, which calls them, and `log`, whose check is arris.log_check."""
    named = re.findall(r"^  ([a-z]+)  ", program("--help").split("Subcommands:")[1], re.M)
    return [name for name in named if name not in ("study", "log") and "--threads" in program(name, "--help")]


def test_every_command_that_answers_is_held_to_its_bits(program):
    of_their_own = {"fit", "sweep", "sensitivity"}  # tests here and in test_sensitivity.py
    assert set(commands_that_answer(program)) == set(STUDIES) | of_their_own


def test_every_option_of_a_command_is_a_keyword(program):
    """The options that are about files and the terminal have no keyword: Python has the result itself."""
    of_files = {"out", "csv", "json", "quiet", "help", "fitted", "residuals", "sensitivities", "full", "check-gradient", "brief", "confined", "paper"}
    of_invent_readings = {"invent-readings", "seed", "operators", "lots", "edge"}
    for command in commands_that_answer(program):
        text = program(command, "--help")
        told = {name for name in re.findall(r"^  (?:-\w,)?--([a-z-]+)", text, re.M)} - of_files
        if command == "simulate":
            told -= of_invent_readings
        if command == "gauge":
            told -= {"threads"}  # it takes none of them
        keywords = {
            name.replace("_", "-")
            for name, p in inspect.signature(getattr(arris, command)).parameters.items()
            if p.kind is p.KEYWORD_ONLY and name != "client"  # spreads work over other processes
        }
        assert told == keywords, command


def test_a_fit_from_a_file_or_at_hand_forecasts_alike(yard, program, tmp_path):
    file = tmp_path / "fit.h5"
    free = ["tester.slope_N_per_um"]
    program("fit", YARD, "--quiet", "--no-profiles", "--starts", 1, "--free", free[0], "--draws", 400, "--out", file)
    fit = arris.fit(yard, free=free, starts=1, draws=400, no_profiles=True)
    assert fit.draws_converged
    assert fit.draws.shape[0] >= 400
    keywords = {"edge": "A1", "members": 30, "passes": 400}
    from_file, at_hand = arris.forecast(yard, fit=file, **keywords), arris.forecast(yard, fit=fit, **keywords)
    for group in from_file:
        xr.testing.assert_identical(from_file[group], at_hand[group])
    with pytest.raises(arris.DataError) as refused:
        arris.forecast(yard, fit=arris.fit(yard, free=free, starts=1, no_profiles=True))
    assert refused.value.code == "no-draws"


def test_a_fit_of_all_laws_forecasts_alike_from_a_file_or_at_hand(yard, program, tmp_path):
    file = tmp_path / "fit.h5"
    free = ["tester.slope_N_per_um", "wear.parting_um2_per_m"]
    program("fit", YARD, "--quiet", "--no-profiles", "--starts", 1, "--free", ",".join(free), "--draws", 200, "--out", file)
    fit = arris.fit(yard, free=free, starts=1, draws=200, no_profiles=True)
    registry = (SOURCE / "sim/laws/wear/registry.hpp").read_text()
    assert len(fit.laws) == registry.count('#include "sim/laws/wear/') >= 5 and {"shared-load", "power"} < set(fit.laws.index)
    assert fit.laws["weight"].sum() == pytest.approx(1.0)
    assert fit["laws/power"]["drawn"].shape[0] == 200
    keywords = {"edge": "A1", "members": 30, "passes": 400}
    from_file, at_hand = arris.forecast(yard, fit=file, **keywords), arris.forecast(yard, fit=fit, **keywords)
    assert "depending on the wear law" in at_hand.sentence
    assert at_hand["laws"].sizes["row"] == len(fit.laws)
    for group in from_file:
        xr.testing.assert_identical(from_file[group], at_hand[group])


def test_outlines_give_the_bits_of_the_command_and_are_refused_by_studies(yard, program, tmp_path):
    configuration, file = tmp_path / "outline.toml", tmp_path / "outline.h5"
    configuration.write_text(f'include = ["{YARD}"]\n[numerics]\nfidelity = "outline"\n', encoding="utf-8")
    program("simulate", configuration, "--quiet", "--out", file)
    campaign = arris.load(configuration)
    ours, theirs = arris.simulate(campaign), arris.open_result(file)
    for group in ours:
        xr.testing.assert_identical(ours[group], theirs[group])
    assert "outline of" in ours.sentence
    assert not ours["edge/A1/track"]["reading_gf"].equals(arris.simulate(yard)["edge/A1/track"]["reading_gf"])
    for refused in (lambda: arris.sweep(campaign, over=["step.1.strokes=20:40:3"]),
                    lambda: arris.simulate_many(campaign, ["tester.slope_N_per_um"], [[3.0]])):
        with pytest.raises(arris.ConfigurationError) as error:
            refused()
        assert error.value.code == "needs-reduced"
