# SPDX-License-Identifier: MIT
"""The same said otherwise is the same answer: made-up campaigns (campaigns.py), each written in another way that means the same, through
every command. The package is held to the same laws by bindings/python/tests, the page's module by tests/browser."""

import csv
import json
import os
import re
import subprocess

import pytest
from campaigns import difference, laws, made_up, toml, toml_with_routes

PROGRAM = os.environ["ARRIS_PROGRAM"]
# ARRIS_CAMPAIGNS=100 tries more of them
CAMPAIGNS = range(int(os.environ.get("ARRIS_CAMPAIGNS", "3")))


def run(folder, words, text=None, name="c.toml"):
    if text is not None:
        (folder / name).write_text(text, newline="")
    outcome = subprocess.run([PROGRAM, *map(str, words)], cwd=folder, capture_output=True, text=True, timeout=300)
    assert outcome.returncode == 0, outcome.stderr
    return outcome.stdout


def edges_of(printed):
    """Edges of a simulation by name, their curves as columns."""
    return {
        edge["name"]: {**{key: edge[key] for key in ("status", "passes_to_limit")}, "track": {key: [point[key] for point in edge["track"]] for key in edge["track"][0]}}
        for edge in json.loads(printed)["edges"]
    }


def simulated(folder, text, *words):
    return edges_of(run(folder, ["simulate", "c.toml", "--json", "-", *words], text))


@pytest.mark.parametrize("seed", CAMPAIGNS)
def test_a_campaign_said_otherwise_is_the_same_campaign(seed, tmp_path):
    wrong, plain = {}, None
    for law in laws(seed):
        plain = plain or simulated(tmp_path, law.plain)
        for name, text in law.files.items():
            (tmp_path / name).write_text(text)
        if differs := difference(law, plain, simulated(tmp_path, law.other)):
            wrong[law.name] = differs
    assert wrong == {}
    assert simulated(tmp_path, run(tmp_path, ["check", "c.toml"], law.plain)) == plain


@pytest.mark.parametrize("seed", CAMPAIGNS)
def test_a_sweep_of_one_input_holds_what_a_simulation_with_it_says(seed, tmp_path):
    campaign = made_up(seed)
    name, steps = next(iter(campaign["edges"].items()))
    count = steps[0]["strokes"]
    run(tmp_path, ["sweep", "c.toml", "--edge", name, "--over", f"step.1.strokes={count}|{count + 7}", "--output", "reading_gf", "--csv", "s.csv", "--quiet"], toml(campaign))
    swept = [float(line.split(",")[-1]) for line in (tmp_path / "s.csv").read_text().splitlines()[1:]]
    for strokes, reading in zip((count, count + 7), swept):
        changed = {**campaign, "edges": {name: [{**steps[0], "strokes": strokes}, *steps[1:]]}}
        assert reading == pytest.approx(simulated(tmp_path, toml(changed))[name]["track"]["reading_gf"][-1], rel=1e-4)


@pytest.mark.parametrize("seed", CAMPAIGNS)
def test_a_sweep_in_shares_is_the_sweep(seed, tmp_path):
    words = ["--over", "tool.iron.micro_bevel_deg=30:36:5", "--over", "coefficients.abrasion=0.1:0.4:4"]
    whole = run(tmp_path, ["sweep", "c.toml", *words, "--csv", "-"], toml(made_up(seed)))
    for share in (3, 1, 2):
        run(tmp_path, ["sweep", "c.toml", *words, "--shard", f"{share}/3", "--out", f"s{share}.h5", "--quiet"])
    for more in ([], ["--link"]):
        merged = run(tmp_path, ["merge", "s2.h5", "s3.h5", "s1.h5", "--out", f"w{len(more)}.h5", "--csv", "-", *more])
        assert merged == whole


@pytest.mark.parametrize("seed", CAMPAIGNS)
def test_a_forecast_of_one_member_lasts_as_long_as_the_simulation(seed, tmp_path):
    """Without a fit and with one member, forecast and comparison are the configuration itself, without the scatter of edges."""
    campaign = made_up(seed)
    # its own routine, worn far enough for a limit that all of these meet
    long = {**campaign, "output": {"reading_limit_gf": 400, "points_per_step": 60}, "edges": {n: [{**s, "passes": 5000} if "cut" in s else s for s in steps] for n, steps in campaign["edges"].items()}}
    plain = simulated(tmp_path, toml(long))
    told = {edge["edge"]: edge for edge in json.loads(run(tmp_path, ["forecast", "c.toml", "--members", "1", "--json", "-"]))["lives"]}
    seen = 0
    for name, edge in plain.items():
        passes = told[name]["passes"]
        if edge["passes_to_limit"]:
            assert passes == pytest.approx(edge["passes_to_limit"], rel=0.02)
            seen += 1
    assert seen > 0


# ---- studies, on readings ----


def with_readings(folder, seed, **more):
    """A campaign whose edges are read, and readings that were drawn from it; two edges at least."""
    campaign = made_up(seed)
    first = next(iter(campaign["edges"].values()))
    campaign["edges"] = {**campaign["edges"], "F": [{**s, "strokes": s["strokes"] + 5} if "hone" in s else s for s in first]}
    for name in campaign["edges"]:
        campaign["edges"][name] = [{**s, "replicates": 6} if "read" in s else s for s in campaign["edges"][name]]
    campaign["tables"] = '[fit]\nfree = ["tester.slope_N_per_um", "wear.parting_um2_per_m"]\nstarts = 1\n'
    text = toml_with_routes(campaign).replace("[numerics]\nrelative_tolerance = 1e-8\n", '[wear]\nlaw = "shared-load"\n')
    run(folder, ["simulate", "c.toml", "--quiet", "--invent-readings", "r.csv"], text)
    lines = [line for line in (folder / "r.csv").read_text().splitlines() if not line.startswith("#")]
    return campaign, text, lines


STUDIES = {
    "readings": ["readings", "c.toml"],
    "simulate": ["simulate", "c.toml"],
    "fit": ["fit", "c.toml", "--no-profiles"],
    "weigh": ["weigh", "c.toml", "--law", "shared-load,power", "--starts", "1"],
    "forecast": ["forecast", "c.toml", "--members", "20", "--passes", "300"],
    "compare": ["compare", "c.toml", "--members", "20", "--passes", "300"],
    "upkeep": ["upkeep", "c.toml", "--members", "2", "--stroppings", "1"],
    "plan": ["plan", "c.toml", "--edges", "3", "--replicates", "2", "--moments", "1"],
    "gauge": ["gauge", "c.toml"],
    "sweep": ["sweep", "c.toml", "--over", "tool.iron.micro_bevel_deg=30:36:3"],
    "sensitivity": ["sensitivity", "c.toml", "--over", "tool.iron.micro_bevel_deg=30:36", "--over", "tester.slope_N_per_um=3:5", "--output", "reading_gf", "--base", "16"],
    "log": ["log", "check", "c.toml", "--edge", "F", "--moment", "ready"],
}
WITHOUT_READINGS = {"upkeep", "sweep", "sensitivity"}  # they look at none
# where the same answer came from: names of files, sums of their bytes, the time, and the order in which they stand
ORIGIN = {"line", "started", "seconds", "inputs", "configuration", "command", "threads", "provenance"}


FILES = re.compile(r"\b[abcr]\.(csv|xlsx)((,| and) b\.csv)?")


def without_origin(value):
    if isinstance(value, dict):
        return {key: without_origin(v) for key, v in value.items() if key not in ORIGIN}
    if isinstance(value, str):
        return FILES.sub("r.csv", value)
    return [without_origin(v) for v in value] if isinstance(value, list) else value


def difference_of(one, other, path=""):
    """Where two answers differ first; empty: nowhere."""
    if isinstance(one, dict) and isinstance(other, dict) and list(one) == list(other):
        return next((found for key in one if (found := difference_of(one[key], other[key], f"{path}/{key}"))), "")
    if isinstance(one, (list, tuple)) and isinstance(other, (list, tuple)) and len(one) == len(other):
        return next((found for i, pair in enumerate(zip(one, other)) if (found := difference_of(*pair, f"{path}/{i}"))), "")
    return "" if one == other else f"{path}: {other!r}, not {one!r}"


def asked(folder, study, text, *words):
    (folder / "c.toml").write_text(text)
    outcome = subprocess.run([PROGRAM, *STUDIES[study], "--json", "-", *words], cwd=folder, capture_output=True, text=True, timeout=300)
    assert outcome.returncode in (0, 5), outcome.stderr  # 5: made-up readings may leave a fit without an end
    return outcome.returncode, without_origin(json.loads(outcome.stdout))


def test_every_command_that_answers_is_among_the_studies(tmp_path):
    """Those that take threads; `study` calls the others."""
    named = re.findall(r"^  ([a-z]+)  ", run(tmp_path, ["--help"]).split("Subcommands:")[1], re.M)
    assert len(named) > 15
    assert {name for name in named if "--threads" in run(tmp_path, [name, "--help"])} - {"study"} == set(STUDIES)


@pytest.mark.parametrize("study", STUDIES)
def test_every_study_gives_the_same_answer_however_its_campaign_is_written(study, tmp_path):
    campaign, text, lines = with_readings(tmp_path, 1)
    read = text + '[readings]\nfile = "r.csv"\n'
    plain = asked(tmp_path, study, read)
    # in a file that is included, in other threads
    (tmp_path / "base.toml").write_text(text)
    assert difference_of(plain, asked(tmp_path, study, 'include = ["base.toml"]\n[readings]\nfile = "r.csv"\n')) == ""
    for threads in ("1", "2", "7"):
        assert difference_of(plain, asked(tmp_path, study, read, "--threads", threads)) == ""
    if study in WITHOUT_READINGS:
        return
    # readings in two files, with semicolons and decimal commas, in a workbook
    half = len(lines) // 2
    (tmp_path / "a.csv").write_text("\n".join(lines[:half]) + "\n")
    (tmp_path / "b.csv").write_text("\n".join([lines[0], *lines[half:]]) + "\n")
    assert difference_of(plain, asked(tmp_path, study, text + '[readings]\nfile = ["a.csv", "b.csv"]\n')) == ""
    rows = list(csv.reader(lines))
    at = rows[0].index("reading_gf")
    commas = "\n".join(";".join(cell.replace(".", ",") if i == at else f'"{cell}"' if ";" in cell else cell for i, cell in enumerate(row)) for row in rows)
    (tmp_path / "c.csv").write_text(commas + "\n")
    assert difference_of(plain, asked(tmp_path, study, text + '[readings]\nfile = "c.csv"\n')) == ""
    run(tmp_path, ["import", "c.csv", "--out", "r.xlsx"])
    assert difference_of(plain, asked(tmp_path, study, text + '[readings]\nfile = "r.xlsx"\n')) == ""


@pytest.mark.parametrize("seed", CAMPAIGNS)
def test_readings_in_newton_and_in_gram_force_are_the_same(seed, tmp_path):
    campaign, text, lines = with_readings(tmp_path, seed)
    at = lines[0].split(",").index("reading_gf")
    in_newton = [lines[0].replace("reading_gf", "reading_N")]
    for line in lines[1:]:
        cells = line.split(",")
        cells[at] = repr(float(cells[at]) * 9.80665e-3)
        in_newton.append(",".join(cells))
    (tmp_path / "n.csv").write_text("\n".join(in_newton) + "\n")
    compared = [json.loads(run(tmp_path, ["simulate", "c.toml", "--json", "-"], text + f'[readings]\nfile = "{file}"\n'))["comparison"] for file in ("r.csv", "n.csv")]
    moments = [c if isinstance(c, list) else c["moments"] for c in compared]
    assert len(moments[0]) == len(moments[1]) >= 2 * len(campaign["edges"])
    for one, other in zip(*moments):
        assert {k: v for k, v in one.items() if isinstance(v, str)} == {k: v for k, v in other.items() if isinstance(v, str)}
        assert [v for v in one.values() if isinstance(v, float)] == pytest.approx([v for v in other.values() if isinstance(v, float)], rel=1e-9, nan_ok=True)


# ---- pages ----


def test_a_page_and_its_pictures_made_twice_are_the_same_bytes(tmp_path):
    run(tmp_path, ["simulate", "c.toml", "--quiet", "--out", "s.h5"], toml(made_up(1)))
    for words in (["--out"], ["--pdf"], ["--figure", "poster", "--out"], ["--figure", "wear", "--out"]):
        end = {"--pdf": "pdf", "--figure": "svg"}.get(words[0], "html")
        for n in (1, 2):
            run(tmp_path, ["report", "s.h5", "--quiet", *words, f"{n}.{end}"])
        one, other = ((tmp_path / f"{n}.{end}").read_bytes() for n in (1, 2))
        # the day on which it was made is no part of a picture, and part of a PDF
        strip = lambda b: re.sub(rb"/(CreationDate|ModDate) \([^)]*\)", b"", b)
        assert strip(one) == strip(other) and len(one) > 1000


def test_what_check_prints_keeps_a_route_that_no_edge_follows(tmp_path):
    text = toml(made_up(1)) + '\n[route."kept for later"]\nsteps = [{ hone = "soft waterstone, JIS #1000", strokes = 21 }]\n'
    printed = run(tmp_path, ["check", "c.toml"], text)
    section = printed.split('[route."kept for later"]')[1].split("\n[")[0]
    assert 'hone = "soft waterstone, JIS #1000"' in section and "strokes = 21" in section
    # and it is the same campaign, whose edges know nothing of it
    assert run(tmp_path, ["check", "again.toml"], printed, "again.toml").split('[route."kept for later"]')[1].split("\n[")[0] == section
    assert simulated(tmp_path, printed) == simulated(tmp_path, text)
