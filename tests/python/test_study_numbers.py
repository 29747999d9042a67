# SPDX-License-Identifier: MIT
"""All numbers of one quantity in the files of a study, and on its page, are the same."""

import html
import os
import re
import subprocess

import h5py
import pytest

PROGRAM = os.environ["ARRIS_PROGRAM"]

# invented, as its readings are: two ways of sharpening, and as little work as a fit can be
BENCH = """
[tool.iron]
steel = "A2"
width_mm = 50
thickness_mm = 3
primary_bevel_deg = 25
micro_bevel_deg = 32
[output]
reading_limit_gf = 220
[workshop]
wage_per_hour = 30
currency = "EUR"
sharpenings_per_year = 40
[price."soft waterstone"]
price = 40
life_strokes = 5000
flatten_every_strokes = 300
flatten_price = 0.5
soak_min = 2
clean_min = 1
[price.MDF]
price = 5
life_strokes = 500
[price."alumina 1 µm"]
price = 10
life_strokes = 5000
[readings]
file = "r.csv"
[fit]
starts = 1
free = ["tester.slope_N_per_um"]
[route.stones]
steps = [
  { hone = "soft waterstone, JIS #1000", strokes = 60 },
  { hone = "hard waterstone, JIS #8000", strokes = 30 },
  { back = "hard waterstone, JIS #8000", strokes = 10 },
]
[edge.A]
tool = "iron"
route = "stones"
steps = [
  { read = "off the stones", replicates = 3 },
  { strop = "thin hide on wood", compound = "chromium oxide 0.5 µm", laps = 20 },
  { read = "stropped", replicates = 3 },
  { cut = "sugar maple", passes = 100 },
  { read = "worn", replicates = 3 },
]
[edge.B]
tool = "iron"
route = "stones"
steps = [
  { read = "off the stones", replicates = 3 },
  { strop = "MDF", compound = "alumina 1 µm", laps = 20 },
  { read = "stropped", replicates = 3 },
  { cut = "sugar maple", passes = 100 },
  { read = "worn", replicates = 3 },
]
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("numbers")
    without = BENCH.replace('[readings]\nfile = "r.csv"\n', "")
    (folder / "without.toml").write_text(without)
    (folder / "bench.toml").write_text(BENCH)

    def run(*words):
        outcome = subprocess.run([PROGRAM, *words], cwd=folder, capture_output=True, text=True)
        assert outcome.returncode == 0, outcome.stderr

    run("simulate", "without.toml", "--quiet", "--seed", "5", "--invent-readings", "r.csv")
    run("study", "bench.toml", "--draws", "200", "--quiet", "--out", "made")
    return folder / "made"


def column(folder, file, path):
    with h5py.File(folder / file) as opened:
        data = opened[path]
        return data.asstr()[()].tolist() if h5py.check_string_dtype(data.dtype) else data[()].tolist()


def ready_by_section(made):
    """The reading of the mean edge, ready for work, of edge A and of edge B, as each section has it."""
    found = {}
    for at, edge in enumerate("AB"):
        verbs = column(made, "simulate.h5", f"edge/{edge}/steps/verb")
        ready = max(i for i, verb in enumerate(verbs[: verbs.index("cut")]) if verb in ("hone", "back", "strop"))
        found.setdefault("simulate", []).append(column(made, "simulate.h5", f"edge/{edge}/steps/reading_after_gf")[ready])
        found.setdefault("forecast", []).append(column(made, "forecast.h5", "lives/fresh_gf")[at])
        found.setdefault("compare", []).append(column(made, "compare.h5", "ways/reading_gf")[at])
        cells = zip(*(column(made, "readings.h5", f"edges/{name}") for name in ("edge", "moment", "model_gf")))
        found.setdefault("readings", []).append([gf for name, moment, gf in cells if (name, moment) == (edge, "stropped")][0])
    return found


def test_every_section_has_the_same_reading_ready_for_work(made):
    found = ready_by_section(made)
    for section, values in found.items():
        # members run in lanes, whose radius is that of the scalar path to ten errors of 1e-6
        assert values == pytest.approx(found["simulate"], rel=1e-4), section


def test_every_section_rests_on_the_fit(made):
    for file in ("readings", "simulate", "forecast", "compare", "soft-strop", "upkeep"):
        with h5py.File(made / f"{file}.h5") as opened:
            assert "--fit" in opened.attrs["command"], file
            assert "fit" in opened.attrs["rests_on"], file
    # the pad of the first strop, at the laps of the configuration, is the ready edge A
    with h5py.File(made / "soft-strop.h5") as opened:
        axes = [name for name in opened["map"] if name not in ("status", "reading_gf", "apex_radius_um", "dub_depth_um")]
        pads = next(name for name in axes if "modulus" in name)
        laps = next(name for name in axes if "laps" in name)
        own = opened["map/reading_gf"][
            min(range(len(opened["map"][pads])), key=lambda i: abs(opened["map"][pads][i] - 34.6)),
            opened["map"][laps][()].tolist().index(20.0),
        ]
    assert own == pytest.approx(ready_by_section(made)["simulate"][0], rel=1e-3)


def test_the_page_opens_with_the_verdict_of_those_numbers(made):
    page = (made / "report.html").read_text()
    verdict = page[page.index('id="verdict"') : page.index("<nav")]
    lowest = min(column(made, "compare.h5", "ways/reading_gf"))
    assert f"about {lowest:.0f} gf" in verdict
    assert "<svg" in verdict
    passes, keeping = column(made, "upkeep.h5", "caution/passes"), column(made, "upkeep.h5", "caution/keeping_pct")
    sure = [p for p, k in zip(passes, keeping) if k >= 90.0]
    if sure:
        assert f"every {max(sure):.0f} passes" in verdict
    # and claims nothing of readings in which ways go together with who took them
    with h5py.File(made / "compare.h5") as opened:
        confounded = any(text for text in opened["measured/confounded"][()]) if "measured/confounded" in opened else False
        confounded |= b"confounded" in list(opened["ways/evidence"][()])
    assert ("the readings cannot tell those apart" in verdict) == confounded
    # what was read comes before what was made of it
    headings = ["What was read", "What each step does to an edge", "How long each edge lasts"]
    places = [page.index(f">{heading}</h2>") for heading in headings]
    assert places == sorted(places)


def test_what_was_read_comes_before_what_the_model_has(made):
    """In the verdict and in the comparison: the way whose edges were read lowest, with the mean that the table of readings has."""
    ways, read = column(made, "compare.h5", "ways/way"), column(made, "compare.h5", "ways/read_gf")
    lowest = min(range(len(ways)), key=lambda i: read[i])
    with h5py.File(made / "compare.h5") as opened:
        headline = opened.attrs["headline"]
    page = (made / "report.html").read_text()
    said = f"{ways[lowest]} was read lowest, {read[lowest]:.0f} gf"
    for text in (headline, html.unescape(page[page.index('id="verdict"') : page.index("<nav")])):
        assert said in text
        assert text.index(said) < text.index("by the model")
    kinds = zip(*(column(made, "readings.h5", f"kinds/{name}") for name in ("moment", "way", "mean_gf")))
    assert [gf for moment, way, gf in kinds if (moment, way) == ("stropped", ways[lowest])] == pytest.approx([read[lowest]])


def lowest_way(made):
    readings = column(made, "compare.h5", "ways/reading_gf")
    return readings.index(min(readings))


def test_the_verdict_speaks_of_one_edge(made):
    """What is stropped every so many passes is the way that the verdict names."""
    edges = column(made, "compare.h5", "ways/edges")[lowest_way(made)].split(", ")
    kept_up = column(made, "upkeep.h5", "caution/edge")
    assert set(kept_up) == {edges[0]}
    page = (made / "report.html").read_text()
    assert f"Edge {edges[0]} (" in page[page.index("How often to strop, hone and grind</h2>") :]


def table_rows(page, title):
    """Cells of the first table of the page under such a title."""
    begin = page.index(f"<caption>{title}")
    body = page[page.index("<tbody>", begin) : page.index("</tbody>", begin)]
    return [[html.unescape(re.sub("<[^>]+>", "", cell)) for cell in re.findall("<td[^>]*>.*?</td>", row)] for row in re.findall("<tr>.*?</tr>", body, re.S)]


def test_the_page_prints_the_numbers_of_the_files(made):
    page = (made / "report.html").read_text()

    def is_shown(cell, value):
        # three digits, whole numbers whole
        return float(cell.replace("\u2212", "-").replace("\u202f", "").replace(" ", "")) == pytest.approx(value, rel=5.1e-3)

    # ready for work, by the tables of two sections, against the file of a third
    ready = ready_by_section(made)
    read = {(row[0], row[2]): row for row in table_rows(page, "Every edge at every moment")}
    for at, edge in enumerate("AB"):
        assert is_shown(read[edge, "stropped"][-1], ready["simulate"][at])
    ways = column(made, "compare.h5", "ways/way")
    for table, name in (("kinds", "way"), ("edges", "way")):
        assert set(column(made, "readings.h5", f"{table}/{name}")) >= set(ways)
    # how surely the limit is kept
    caution = table_rows(page, "In how many of")
    for row, passes, keeping in zip(caution, column(made, "upkeep.h5", "caution/passes"), column(made, "upkeep.h5", "caution/keeping_pct"), strict=True):
        assert is_shown(row[0], passes)
        assert is_shown(row[1], keeping)
    # a curve begins where the edge is fresh
    edges, passes, gf = (column(made, "forecast.h5", f"curves/{name}") for name in ("edge", "passes", "reading_gf"))
    begins = {edge: value for edge, at, value in zip(edges, passes, gf) if at == 0.0}
    assert [begins[edge] for edge in column(made, "forecast.h5", "lives/edge")] == column(made, "forecast.h5", "lives/fresh_gf")
    # passes to the limit: the sentence of the forecast and its table
    lives = column(made, "forecast.h5", "lives/passes")
    compared = column(made, "compare.h5", "ways/passes")
    assert compared == pytest.approx(lives, rel=1e-6, nan_ok=True)


def test_a_life_has_one_number(made):
    """How long an edge lasts is told by the forecast, and by what rests on it; a simulation at the fit leaves it to that."""
    page = (made / "report.html").read_text()
    steps = page[page.index("What each step does to an edge</h2>") : page.index("How long each edge lasts</h2>")]
    assert "passes to the limit" not in steps
    text = subprocess.run([PROGRAM, "simulate", "bench.toml", "--fit", "made/fit.h5"], cwd=made.parent, capture_output=True, text=True).stdout
    overview = text[: text.index("Edge A:")]
    assert "passes to 220" not in overview
    assert not re.search(r"after about \d+ passes", overview)
    lives = column(made, "forecast.h5", "lives/passes")
    assert column(made, "compare.h5", "ways/passes") == pytest.approx(lives, rel=1e-6, nan_ok=True)
    # certainty that the comparison names is never beyond what its readings allow
    for evidence, below, read in by_way(made, "ways", ("evidence", "below_reference", "read_below")):
        if evidence in ("confounded", "contradicted"):
            assert below != below
        elif evidence == "readings" and read == read and below == below:
            assert abs(below - 0.5) <= abs(read - 0.5) + 1e-9 or below == 0.5


def by_way(made, table, names):
    return zip(*(column(made, "compare.h5", f"{table}/{name}") for name in names))


def test_a_year_is_so_many_sharpenings_and_its_parts_are_all_of_it(made):
    with h5py.File(made / "compare.h5") as opened:
        often = opened.attrs["sharpenings_per_year"]
    assert often == 40.0
    assert column(made, "compare.h5", "costs/money") == column(made, "compare.h5", "ways/money")
    parts = ("money", "media", "strops", "flatten", "time", "money_per_year", "hours_per_year")
    minutes = column(made, "compare.h5", "ways/minutes")
    for at, (money, media, strops, flatten, time, year, hours) in enumerate(by_way(made, "costs", parts)):
        assert media + strops + flatten + time == pytest.approx(money, rel=1e-12)
        assert year == pytest.approx(often * money, rel=1e-12)
        assert hours == pytest.approx(often * minutes[at] / 60.0, rel=1e-12)
        assert time == pytest.approx(30.0 * minutes[at] / 60.0, rel=1e-12)
    # what each material takes is what the way takes
    ways = column(made, "compare.h5", "costs/way")
    used = dict.fromkeys(ways, 0.0)
    for way, money in by_way(made, "used_up", ("way", "money")):
        used[way] += 0.0 if money != money else money
    for way, media, strops in by_way(made, "costs", ("way", "media", "strops")):
        assert used[way] == pytest.approx(media + strops, rel=1e-12)


def test_sentences_on_cost_have_the_numbers_of_the_tables(made):
    with h5py.File(made / "compare.h5") as opened:
        remarks = opened.attrs["remarks"]
    page = (made / "report.html").read_text()
    years = dict(by_way(made, "costs", ("way", "money_per_year")))
    least, most = min(years, key=years.get), max(years, key=years.get)

    def said(money):
        return f"{money:.0f} EUR"

    sentence = f"At 40 sharpenings a year {least} costs least, {said(years[least])}"
    assert sentence in remarks
    assert sentence in page
    assert f"{most} costs most, {said(years[most])}" in remarks
    # a honing of the way that reads lowest takes in the routine of upkeep what it takes in the comparison
    with h5py.File(made / "upkeep.h5") as opened:
        upkeep = opened.attrs["remarks"]
    assert f"A honing takes {column(made, 'compare.h5', 'ways/minutes')[lowest_way(made)]:.0f} minutes" in upkeep


def test_a_year_of_upkeep_is_that_of_its_routine(made):
    with h5py.File(made / "upkeep.h5") as opened:
        often = opened.attrs["sharpenings_per_year"]
    names = ("routine", "passes", "honings", "hours", "money", "time", "materials")
    rows = list(zip(*(column(made, "upkeep.h5", f"year/{name}") for name in names)))
    assert rows[0][2] == pytest.approx(often, rel=1e-12)
    routines = dict(zip(column(made, "upkeep.h5", "routines/routine"), zip(*(column(made, "upkeep.h5", f"routines/{n}") for n in ("hone_every_passes", "minutes", "money")))))
    found = 0
    for routine, _, honings, hours, money, time, materials in rows:
        assert time + materials == pytest.approx(money, rel=1e-9)
        assert time == pytest.approx(30.0 * hours, rel=1e-9)
        if routine in routines:
            every, minutes, per_1000 = routines[routine]
            work = honings * every
            assert hours == pytest.approx(1e-3 * work * minutes / 60.0, rel=1e-9)
            assert money == pytest.approx(1e-3 * work * per_1000, rel=1e-9)
            found += 1
    assert found > 0


def test_a_poster_of_the_study_has_no_life_beside_that_of_the_forecast(made):
    subprocess.run([PROGRAM, "report", made / "simulate.h5", "--figure", "poster", "--out", made / "poster.svg"], check=True, capture_output=True)
    poster = (made / "poster.svg").read_text()
    assert "ready for work" in poster
    assert "passes the limit" not in poster


def test_lives_that_were_measured_stand_beside_the_forecast_as_it_is_said(made):
    with h5py.File(made / "forecast.h5") as opened:
        remarks = [text.decode() if isinstance(text, bytes) else text for text in opened.attrs["remarks"].splitlines()]
        said = opened["measured_lives/forecast_life"].asstr()[()].tolist() if "measured_lives" in opened else []
    for life in said:
        assert any(f"The forecast for the same edges is {life}." in remark for remark in remarks)
