# SPDX-License-Identifier: MIT
"""The same said otherwise is the same answer: made-up campaigns, each written in another way that means the same."""

import json
import os
import random
import re
import subprocess

import pytest

PROGRAM = os.environ["ARRIS_PROGRAM"]
STONES = ["soft waterstone, JIS #1000", "hard waterstone, JIS #8000", "soft waterstone, JIS #4000", "vitrified ceramic, 5 µm"]
WOODS = ["teak", "white oak", "black cherry"]
CAMPAIGNS = range(6)


def made_up(seed):
    """An invented campaign: edges by name, each a list of steps (what is done, and how often)."""
    draw = random.Random(seed)
    edges = {}
    for n in range(draw.randint(1, 3)):
        steps = [("hone", draw.choice(STONES), draw.randint(20, 80)) for _ in range(draw.randint(1, 3))]
        if draw.random() < 0.7:
            steps.append(("strop", "thin hide on wood", draw.randint(5, 40)))
        steps.append(("cut", draw.choice(WOODS), draw.randint(20, 300)))
        edges[f"E{n}"] = steps
    return {"edges": edges, "width": draw.randint(20, 60), "bevel": draw.randint(22, 28), "micro": draw.randint(29, 35)}


COUNTS = {"hone": "strokes", "strop": "laps", "cut": "passes"}


def toml(campaign, **given):
    out = f'[tool.iron]\nsteel = "O1"\nwidth_mm = {campaign["width"]}\nthickness_mm = 3\nprimary_bevel_deg = {campaign["bevel"]}\nmicro_bevel_deg = {campaign["micro"]}\n'
    out += f'[output]\nreading_limit_gf = 250\npoints_per_step = {given.get("points", 6)}\n[numerics]\nrelative_tolerance = 1e-8\n'
    for name, steps in campaign["edges"].items():
        lines = "".join(f'  {{ {verb} = "{subject}", {COUNTS[verb]} = {count} }},\n' for verb, subject, count in steps)
        out += f'[edge."{name}"]\ntool = "iron"\nsteps = [\n{lines}]\n'
    return out


def run(folder, words, text=None, name="c.toml"):
    if text is not None:
        (folder / name).write_text(text)
    outcome = subprocess.run([PROGRAM, *words], cwd=folder, capture_output=True, text=True, timeout=300)
    assert outcome.returncode == 0, outcome.stderr
    return outcome.stdout


def simulated(folder, text, *words):
    """Edges by name, without provenance."""
    return {edge["name"]: edge for edge in json.loads(run(folder, ["simulate", "c.toml", "--json", "-", *words], text))["edges"]}


def ends(edge):
    """What an edge has come to after its last step."""
    return [edge["track"][-1][key] for key in ("apex_radius_um", "scratch_um", "burr_um", "land_mm", "mass_loss_mg", "reading_gf", "dub_depth_um")]


@pytest.mark.parametrize("seed", CAMPAIGNS)
def test_order_names_and_files_of_a_campaign_change_no_bit(seed, tmp_path):
    campaign = made_up(seed)
    plain = simulated(tmp_path, toml(campaign))
    turned = simulated(tmp_path, toml({**campaign, "edges": dict(reversed(campaign["edges"].items()))}))
    assert turned == plain
    renamed = simulated(tmp_path, toml({**campaign, "edges": {"Ä " + name: steps for name, steps in campaign["edges"].items()}}))
    assert {name[2:]: {**edge, "name": edge["name"][2:]} for name, edge in renamed.items()} == plain
    head, edges = toml(campaign).split("[edge.", 1)
    (tmp_path / "edges.toml").write_text("[edge." + edges)
    assert simulated(tmp_path, 'include = ["edges.toml"]\n' + head) == plain


@pytest.mark.parametrize("seed", CAMPAIGNS)
def test_threads_change_no_bit(seed, tmp_path):
    text = toml(made_up(seed))
    assert simulated(tmp_path, text, "--threads", "1") == simulated(tmp_path, text, "--threads", "7")
    told = {n: run(tmp_path, ["forecast", "c.toml", "--members", "40", "--threads", n], text) for n in ("1", "2", "7")}
    assert told["1"] == told["2"] == told["7"]


@pytest.mark.parametrize("seed", CAMPAIGNS)
def test_what_check_prints_is_the_same_campaign(seed, tmp_path):
    text = toml(made_up(seed))
    plain = simulated(tmp_path, text)
    assert simulated(tmp_path, run(tmp_path, ["check", "c.toml"], text)) == plain


@pytest.mark.parametrize("seed", CAMPAIGNS)
def test_a_step_in_two_is_the_step(seed, tmp_path):
    campaign = made_up(seed)
    halves = {name: [half for verb, subject, count in steps for half in ([(verb, subject, count)] if verb != "cut" else [(verb, subject, count - count // 3), (verb, subject, count // 3)])] for name, steps in campaign["edges"].items()}
    whole, parts = simulated(tmp_path, toml(campaign)), simulated(tmp_path, toml({**campaign, "edges": halves}))
    for name in whole:
        assert ends(parts[name]) == pytest.approx(ends(whole[name]), rel=1e-5, abs=1e-7)


@pytest.mark.parametrize("seed", CAMPAIGNS)
def test_how_often_one_looks_changes_nothing(seed, tmp_path):
    campaign = made_up(seed)
    few, many = simulated(tmp_path, toml(campaign)), simulated(tmp_path, toml(campaign, points=97))
    for name in few:
        assert ends(many[name]) == pytest.approx(ends(few[name]), rel=1e-5, abs=1e-7)
        if few[name]["passes_to_limit"] is not None:
            assert many[name]["passes_to_limit"] == pytest.approx(few[name]["passes_to_limit"], rel=0.02)


@pytest.mark.parametrize("seed", CAMPAIGNS)
def test_a_step_of_nothing_does_nothing(seed, tmp_path):
    campaign = made_up(seed)
    read = toml(campaign).replace('  { cut = ', '  { read = "now" },\n  { cut = ')
    plain, with_reading = simulated(tmp_path, toml(campaign)), simulated(tmp_path, read)
    for name in plain:
        assert ends(with_reading[name]) == ends(plain[name])


@pytest.mark.parametrize("seed", CAMPAIGNS)
def test_a_sweep_of_one_input_holds_what_a_simulation_with_it_says(seed, tmp_path):
    campaign = made_up(seed)
    name, steps = next(iter(campaign["edges"].items()))
    verb, subject, count = steps[0]
    run(tmp_path, ["sweep", "c.toml", "--edge", name, "--over", f"step.1.strokes={count}|{count + 7}", "--output", "reading_gf", "--csv", "s.csv", "--quiet"], toml(campaign))
    swept = [float(line.split(",")[-1]) for line in (tmp_path / "s.csv").read_text().splitlines()[1:]]
    for strokes, reading in zip((count, count + 7), swept):
        changed = {**campaign, "edges": {name: [(verb, subject, strokes), *steps[1:]]}}
        assert reading == pytest.approx(simulated(tmp_path, toml(changed))[name]["track"][-1]["reading_gf"], rel=1e-4)


@pytest.mark.parametrize("seed", CAMPAIGNS)
def test_readings_in_newton_and_in_gram_force_are_the_same(seed, tmp_path):
    text = toml(made_up(seed))
    text = re.sub(r"(passes = \d+ \},\n)", r'\1  { read = "worn" },\n', text)
    run(tmp_path, ["simulate", "c.toml", "--quiet", "--invent-readings", "r.csv"], text)
    lines = [line for line in (tmp_path / "r.csv").read_text().splitlines() if not line.startswith("#")]
    at = lines[0].split(",").index("reading_gf")
    in_newton = [lines[0].replace("reading_gf", "reading_N")]
    for line in lines[1:]:
        cells = line.split(",")
        cells[at] = repr(float(cells[at]) * 9.80665e-3)
        in_newton.append(",".join(cells))
    (tmp_path / "n.csv").write_text("\n".join(in_newton) + "\n")
    compared = [json.loads(run(tmp_path, ["simulate", "c.toml", "--json", "-"], text + f'[readings]\nfile = "{file}"\n'))["comparison"] for file in ("r.csv", "n.csv")]
    moments = [c if isinstance(c, list) else c["moments"] for c in compared]
    assert len(moments[0]) == len(moments[1]) >= len(re.findall(r"^\[edge", text, re.M))
    for one, other in zip(*moments):
        assert {k: v for k, v in one.items() if isinstance(v, str)} == {k: v for k, v in other.items() if isinstance(v, str)}
        assert [v for v in one.values() if isinstance(v, float)] == pytest.approx([v for v in other.values() if isinstance(v, float)], rel=1e-9, nan_ok=True)
