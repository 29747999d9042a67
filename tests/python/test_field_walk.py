# SPDX-License-Identifier: MIT
"""Every number of a configuration at the ends of its range and between, alone and many at a time: an answer or a reason, and no edge that
no blade could have. ARRIS_CORNERS=5000 walks longer, ARRIS_SEED=N elsewhere, ARRIS_FIRST=N goes on behind the first N."""

import concurrent.futures
import json
import math
import os
import random
import re
import resource
import signal
import subprocess

import h5py
import numpy as np
import pytest
from shop import IRON, PROGRAM, SOURCE, wear_laws

CORNERS = int(os.environ.get("ARRIS_CORNERS", "300"))
SEED = int(os.environ.get("ARRIS_SEED", "26"))
FIRST = int(os.environ.get("ARRIS_FIRST", "0"))  # of the corners: what an earlier run had done is left out
LONGEST = 300  # of one run, s of processor time, which a busy machine does not change; at a hundred million steps one takes forty

# invented: one of every kind of step, so that every table plays its part
SHOP = IRON + """\
hardness_hrc = 61
[output]
reading_limit_gf = 250
points_per_step = 12
[workshop]
sharpenings_per_year = 50
[price."soft waterstone, JIS #1000"]
price = 40
life_strokes = 1e5
flatten_every_strokes = 500
flatten_min = 2
flatten_price = 0.1
soak_min = 5
clean_min = 1
change_min = 1
[family."made stone"]
cutting_rate = 1.0
protrusion = 1.0
active_grit_fraction = 0.01
grit_angle_deg = 15.0
loose_grit_divisor = 1.5
glaze_floor = 0.7
glaze_strokes = 300.0
[wear]
law = "shared-load"
[edge.A]
tool = "iron"
steps = [
  { hone = "soft waterstone, JIS #1000", strokes = 30, after_burr = true, force_N = 20.0 },
  { hone = "made stone, 5 µm", strokes = 10 },
  { back = "hard waterstone, JIS #8000", strokes = 5, force_N = 15.0 },
  { strop = "thin hide on wood", compound = "chromium oxide 0.5 µm", laps = 10, force_N = 10.0 },
  { dress = "soft waterstone, JIS #1000" },
  { read = "new", replicates = 2 },
  { cut = "teak", passes = 30, shaving_um = 50.0 },
]
"""
LAWS = wear_laws()
# invented: specimens, which have tables and steps of their own
PINS = """\
[specimen]
unit = "um"
per = "metre"
noise = "additive"
load_exponent = 1.2
reference_load_N = 20.0
start_um = 0.1
detection_um = 0.5
reading_sd_um = 0.5
[output]
wear_limit_um = 30.0
points_per_step = 12
[wear]
law = "constant-rate"
rate_um_per_m = 2e-3
[counterface.oil]
wear_factor = 0.1
[tool.pin]
kind = "specimen"
[edge.A]
tool = "pin"
steps = [ { wear = "oil", metres = 500.0, load_N = 30.0 }, { read = "worn" } ]
"""
NUMBER = re.compile(r"\b([A-Za-z_]\w*) = (-?\d[\w.+-]*)")
TOLD = re.compile(r"^error: [^\n]*?:(\d+):(\d+): [^\n]*?\(allowed: (above )?([-\d.e+]+)(?: … ([-\d.e+]+))?[^\n]*\) \[out-of-range\]", re.M)


def run(words, text):
    """The program on a configuration; a run that hangs ends here, by SIGXCPU."""
    limit = lambda: resource.setrlimit(resource.RLIMIT_CPU, (LONGEST, LONGEST))
    return subprocess.run([PROGRAM, *words], input=text, capture_output=True, text=True, preexec_fn=limit)


class Walk:
    def __init__(self, folder, law="shared-load", shop=SHOP):
        self.folder = folder
        (folder / "shop.toml").write_text(shop.replace('law = "shared-load"', f'law = "{law}"'))
        resolved = run(["check", str(folder / "shop.toml")], "")
        assert resolved.returncode == 0, resolved.stderr
        lines = [re.sub(r'\s+# [^"]*$', "", line) for line in resolved.stdout.splitlines()]
        # the limits of the computer are about the run, not about the edge
        begin = lines.index("[computer]")
        end = next(i for i in range(begin + 1, len(lines)) if lines[i].startswith("["))
        self.lines = lines[:begin] + lines[end:]
        self.places = [(i, m.start(2), m.end(2)) for i, line in enumerate(self.lines) for m in NUMBER.finditer(line)]
        self.ranges = self.read_ranges()

    def text(self, values):
        """The configuration with other numbers at some of its places."""
        lines = list(self.lines)
        for place in sorted(values, reverse=True):
            i, begin, end = place
            lines[i] = lines[i][:begin] + values[place] + lines[i][end:]
        return "\n".join(lines) + "\n"

    def read_ranges(self):
        """What the program itself tells of each: all of them too large, in one configuration."""
        name = self.folder / "range.toml"
        name.write_text(self.text({place: "1e300" for place in self.places}))
        told = {(int(m.group(1)), int(m.group(2))): m for m in TOLD.finditer(run(["check", "--quiet", str(name)], "").stderr)}
        ranges, moved = {}, {}
        for place in self.places:
            # the numbers before it in its line have become longer or shorter
            line, begin, end = place
            m = told.get((line + 1, begin + moved.get(line, 0) + 1))
            moved[line] = moved.get(line, 0) + len("1e300") - (end - begin)
            if m and m.group(5):
                ranges[place] = (float(m.group(4)), float(m.group(5)))
        return ranges

    def key(self, place):
        return self.lines[place[0]][: place[1]].split()[-2]

    def at(self, place, where):
        low, high = self.ranges[place]
        whole = "." not in (was := self.lines[place[0]][place[1] : place[2]]) and "e" not in was
        middle = math.sqrt(low * high) if low > 0.0 and not whole else 0.5 * (low + high)
        value = {"low": low, "high": high, "between": middle}[where]
        return str(int(value)) if whole and value == int(value) else repr(value)


@pytest.fixture(scope="module")
def walk(tmp_path_factory):
    return Walk(tmp_path_factory.mktemp("walk"))


def value_of(text, key):
    """A number of the tool."""
    tool = text[re.search(r"^\[tool\.", text, re.M).start() :]
    return float(re.search(rf"^{key} = (\S+)", tool, re.M).group(1))


def look(walk, number, values):
    """What is wrong with the answer to a configuration; empty: nothing. Returns whether there was an answer, too."""
    name, result = walk.folder / f"{number}.toml", walk.folder / f"{number}.h5"
    text = walk.text(values)
    name.write_text(text)
    outcome = run(["simulate", "--quiet", "--threads", "1", "--out", str(result), str(name)], "")
    if outcome.returncode == -signal.SIGXCPU:
        return f"no answer in {LONGEST} s: {name}", False
    name.unlink()
    if outcome.returncode == 2:  # numbers that cannot be together
        return ("" if re.match(r"error: .*\[[a-z-]+\]", outcome.stderr) else f"refused without a reason: {outcome.stderr}"), False
    if outcome.returncode not in (0, 4):
        return f"exit {outcome.returncode}: {outcome.stderr}", False
    with h5py.File(result) as file:
        status = file["edges/status"].asstr()[()].tolist()
        tracks = [{key: node[()] for key, node in edge["track"].items()} for edge in file["edge"].values()]
    result.unlink()
    if any(said != "ok" and len(said) < 40 for said in status):
        return f"no reason: {status}", True
    return next(filter(None, (fault_of(track, text) for track in tracks)), ""), True


def fault_of(track, text):
    """What no blade or specimen could have among the points of an edge; empty: nothing."""
    if "wear_um" in track:
        wear = track["wear_um"]
        return "" if np.isfinite(wear).all() and (wear >= 0.0).all() else f"a wear of {wear.min()} to {wear.max()} µm"
    radius, burr, land, reading = (track[key] for key in ("apex_radius_um", "burr_um", "land_mm", "reading_gf"))
    half_um, widest_mm = 500.0 * value_of(text, "thickness_mm"), value_of(text, "thickness_mm") / math.sin(math.radians(value_of(text, "micro_bevel_deg")))
    if any(np.isnan(column).any() for column in (radius, burr, land, reading)):
        return "a number that is none"
    if not ((radius > 0.0) & (radius <= half_um)).all():
        return f"an apex of {radius.min()} to {radius.max()} µm on a blade of {2e-3 * half_um} mm"
    if (burr < 0.0).any():
        return f"a burr of {burr.min()} µm"
    if value_of(text, "micro_bevel_deg") > value_of(text, "primary_bevel_deg") and (land > widest_mm * (1 + 1e-12)).any():
        return f"a land of {land.max()} mm"
    if (reading <= 0.0).any():
        return f"a reading of {reading.min()} gf"
    return ""


def look_at_all(walk, cases):
    """Some at a time; the reasons by the values they stand for, and how many were answered."""
    wrong, answered = {}, 0
    with concurrent.futures.ThreadPoolExecutor(2) as pool:
        for values, (reason, has_answer) in zip(cases, pool.map(lambda c: look(walk, *c), enumerate(cases))):
            answered += has_answer
            if reason:
                wrong[", ".join(f"{walk.key(p)} = {v}" for p, v in values.items())] = reason
    return wrong, answered


@pytest.fixture(scope="module")
def pins(tmp_path_factory):
    return Walk(tmp_path_factory.mktemp("pins"), shop=PINS)


def test_every_number_that_a_table_has_is_walked(walk, pins):
    assert all(low < high for low, high in walk.ranges.values())
    fields = set()
    for header in [*SOURCE.glob("sim/history/*.hpp"), *SOURCE.glob("sim/fit/*.hpp"), *SOURCE.glob("sim/studies/*.hpp")]:
        if header.name != "computer.hpp":  # limits of the run
            fields |= set(re.findall(r'field\("(\w+)"\)\s*\.between\(', header.read_text()))
    assert len(fields) > 100
    # a step counts in metres, minutes or passes, as [specimen] per has it
    assert fields - {of.key(place) for of in (walk, pins) for place in of.ranges} - {"minutes"} == set()


def test_each_number_of_specimens(pins):
    cases = [{place: pins.at(place, where)} for place in pins.ranges for where in ("low", "high", "between")]
    wrong, answered = look_at_all(pins, cases)
    assert wrong == {}
    assert answered > 0.5 * len(cases)


@pytest.mark.parametrize("law", LAWS)
def test_each_number_of_each_wear_law(law, tmp_path):
    walk = Walk(tmp_path, law)
    parameters = set(re.findall(r'field\("(\w+)"\)', LAWS[law].read_text()))
    wear = [p for p in walk.ranges if walk.key(p) in parameters]
    assert {walk.key(p) for p in wear} == parameters
    cases = [{place: walk.at(place, where)} for place in wear for where in ("low", "high", "between")]
    cases += [{place: walk.at(place, where) for place in wear} for where in ("low", "high")]
    wrong, answered = look_at_all(walk, cases)
    assert wrong == {}
    assert answered == len(cases)


def test_each_number_alone(walk):
    cases = [{place: walk.at(place, where)} for place in walk.ranges for where in ("low", "high", "between")]
    wrong, answered = look_at_all(walk, cases)
    assert wrong == {}
    assert answered > 0.8 * len(cases)


def test_many_at_a_time(walk):
    draw = random.Random(SEED)
    cases = []
    for _ in range(CORNERS):
        share = draw.choice((0.03, 0.1, 0.3, 1.0))  # of the numbers that are moved
        cases.append({place: walk.at(place, draw.choice(("low", "high", "between"))) for place in walk.ranges if draw.random() < share})
    cases = cases[FIRST:]
    wrong, answered = look_at_all(walk, cases)
    assert wrong == {}
    assert answered > 0.2 * len(cases)


def test_what_work_and_materials_cost(tmp_path):
    """Numbers of [workshop] and [price], which decide no edge but what a routine costs: a finite sum, or a reason."""
    walk = Walk(tmp_path)
    begin = {name: next(i for i, line in enumerate(walk.lines) if line.startswith(f"[{name}")) for name in ("workshop", "price")}
    of = lambda place: next((name for name, at in begin.items() if at < place[0] and not any(line.startswith("[") for line in walk.lines[at + 1 : place[0]])), "")
    costs = [place for place in walk.ranges if of(place)]
    assert len(costs) >= 20
    draw = random.Random(SEED)
    cases = [{place: walk.at(place, where) for place in costs} for where in ("low", "high", "between")]
    cases += [{place: walk.at(place, draw.choice(("low", "high", "between"))) for place in costs} for _ in range(5)]
    second = 'steps = [\n  { hone = "soft waterstone, JIS #1000", strokes = 40 },\n  { cut = "teak", passes = 30 },\n]\n'
    for values in cases:
        # an edge to compare with
        (tmp_path / "costs.toml").write_text(walk.text(values) + f'[edge."B"]\ntool = "iron"\n{second}')
        for words in (["upkeep", "--edge", "A", "--limit", "400", "--members", "0", "--stroppings", "1", "--least", "money"], ["compare", "--members", "1", "--passes", "100"]):
            outcome = run([*words, "--quiet", "--json", "-", str(tmp_path / "costs.toml")], "")
            if outcome.returncode == 0:
                told = json.dumps({k: v for k, v in json.loads(outcome.stdout).items() if k != "provenance"})
                assert "inf" not in re.sub(r"[a-z]*inf[a-z]+", "", told), (words, values)
                assert not re.search(r'"\w*(?:money|cost|minutes|steel)\w*": -', told), (words, values)
            else:
                assert outcome.returncode in (2, 4) and re.match(r"error: .*\[[a-z-]+\]", outcome.stderr), (words, values, outcome.stderr)


def test_a_track_ends_with_the_last_edge_that_a_blade_can_have(walk):
    """A corner that a longer walk met: so far beyond the blade the integral of the radius finds no way to points within the step."""
    far = {
        "crushing_um_per_m": "1.0", "contact_distance_um": "5.0", "wear_ratio": "1.55", "side_hardness_N": "30000",
        "width_mm": "500", "passes": "10000000", "shaving_um": "0.1",
    }
    values = {place: far[walk.key(place)] for place in walk.ranges if walk.key(place) in far}
    assert {walk.key(place) for place in values} == set(far)
    assert look(walk, "far", values) == ("", True)
