# SPDX-License-Identifier: MIT
"""The program is killed, stopped, left without room, and run twice at a time; what it had made stays whole."""

import hashlib
import json
import math
import os
import random
import re
import resource
import shutil
import signal
import subprocess
import time

import h5py
import pytest
import shop as single
from shop import PROGRAM, SOURCE, begun, held, wait_until, wait_until_it_hears

YARD = SOURCE / "configs" / "boatyard"
# with sanitizers every run takes a minute, and one kill tells of them as much as another
IS_SANITIZED = "-fsanitize" in subprocess.run([PROGRAM, "--version"], check=True, capture_output=True, text=True).stdout
KILLS = 8 if IS_SANITIZED else 50

# two irons, and as little work as a whole study can be: its upkeep is that of the first edge, and without a strop there are few routines
UNSTROPPED = """
[edge.B]
tool = "iron"
steps = [
  { hone = "soft waterstone, JIS #4000", strokes = 60 },
  { back = "soft waterstone, JIS #4000", strokes = 10 },
  { read = "new", replicates = 2 },
  { cut = "teak", passes = 60 },
  { read = "worn", replicates = 2 },
]
"""
SHOP = single.SHOP + UNSTROPPED
FITTED = single.SHOP.replace("[edge.A]", f"{UNSTROPPED}[edge.A]") + """
[fit]
starts = 1
free = ["tester.slope_N_per_um"]
[readings]
file = "r.csv"
"""
SWEEP = ["sweep", "shop.toml", "--over", "coefficients.dub_share=0.5:2:800", "--over", "step.1.strokes=20:80:100", "--threads", "1", "--quiet", "--out", "s.h5"]
LONG_SWEEP = [word.replace("0.5:2:800", "0.5:2:10000") for word in SWEEP]
STUDY = ["study", "fitted.toml", "--draws", "20", "--threads", "1", "--quiet", "--out", "made"]
STAGES = ["readings.h5", "simulate.h5", "fit.h5", "forecast.h5", "compare.h5", "soft-strop.h5", "upkeep.h5"]


def run(folder, words, **more):
    return subprocess.run([PROGRAM, *words], cwd=folder, capture_output=True, text=True, **more)


def done(folder, words):
    outcome = run(folder, words)
    assert outcome.returncode == 0, outcome.stderr
    return outcome


@pytest.fixture
def shop(tmp_path):
    (tmp_path / "shop.toml").write_text(SHOP)
    (tmp_path / "fitted.toml").write_text(FITTED)
    # of one operator, so that a study has no tester to judge
    done(tmp_path, ["simulate", "shop.toml", "--quiet", "--seed", "3", "--operators", "A", "--lots", "lot 1", "--invent-readings", "r.csv"])
    return tmp_path


def names(folder):
    return sorted(entry.name for entry in folder.iterdir())


CONTENTS = {}  # of files that were read before, by the hash of their bytes


def content(path):
    """All of a result file to the last bit, but for the hour at which it was made, and that of a fit it read, which is in its hash."""
    key = hashlib.sha1(path.read_bytes()).digest()
    if key not in CONTENTS:
        CONTENTS[key] = read_content(path)
    return CONTENTS[key]


def read_content(path):
    found = {}

    def add(name, node):
        for key, value in node.attrs.items():
            if key not in ("started", "history", "DIMENSION_LIST", "REFERENCE_LIST"):  # the last two refer to places in the file
                found[f"{name}@{key}"] = without_hash_of_fit(value) if isinstance(value, str) else value.tobytes()
        if isinstance(node, h5py.Dataset):
            found[name] = (node.shape, node.asstr()[()].tolist() if h5py.check_string_dtype(node.dtype) else node[()].tobytes())

    with h5py.File(path) as file:
        add("/", file)
        file.visititems(add)
    return found


def blocks_stand(part):
    """Whether the first and the last block of a sweep that is at work are done; neither where there is no such file, or not any more."""
    try:
        with h5py.File(part) as file:
            status = file["map/status"]
            return status[0, 0] == 0, status[-1, 0] == 0
    except FileNotFoundError:
        return False, False


def without_hash_of_fit(text):
    return re.sub(r"(\.h5 sha1:)[0-9a-f]{40}", r"\1", text)


def without_hours(path):
    return without_hash_of_fit(re.sub(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", "", path.read_text()))


def killed(folder, words, delay):
    """Whether SIGKILL came before the end."""
    program = begun(folder, words)
    try:
        program.wait(delay)
    except subprocess.TimeoutExpired:
        program.send_signal(signal.SIGKILL)
    program.communicate()
    assert program.returncode in (0, -signal.SIGKILL)
    return program.returncode != 0


def delays(seed, whole_s, is_enough):
    """Early and late moments alike, so that short stages and long ones are hit: even on a log scale. More of them, sooner and later ones in
    turn, where the machine has become quicker or slower since `whole_s` was measured."""
    draw = random.Random(seed)
    for i in range(4 * KILLS):
        if i >= KILLS and is_enough():
            return
        now_s = whole_s if i < KILLS else whole_s * (0.25, 4.0)[i % 2]
        yield now_s * math.exp(draw.uniform(math.log(0.05), math.log(1.4)))


def test_a_sweep_killed_at_50_moments_loses_nothing_and_counts_nothing_twice(shop):
    done(shop, [*SWEEP, "--at", "after step 1"])  # an earlier sweep, another one, under the same name
    earlier = (shop / "s.h5").read_bytes()
    elsewhere = shop / "undisturbed"
    elsewhere.mkdir()
    shutil.copy(shop / "shop.toml", elsewhere)
    began = time.monotonic()
    done(elsewhere, SWEEP)
    whole_s = time.monotonic() - began
    wanted = content(elsewhere / "s.h5")

    kills = finished = parts = 0
    for delay in delays(8, whole_s, lambda: kills > KILLS // 2 and parts > KILLS // 4):
        is_killed = killed(shop, SWEEP, delay)
        if is_killed:
            kills += 1
            if (shop / "s.h5.part").exists():  # what is there can be read, and says how much of it is done
                parts += 1
                with h5py.File(shop / "s.h5.part") as file:
                    assert file.attrs["kind"] == "sweep"
        if (shop / "s.h5").read_bytes() == earlier:
            continue
        # it came to its end: the same as if nothing had happened
        finished += 1
        if is_killed and (shop / "s.h5.part").exists():  # just before this was removed: the same command does it
            assert content(shop / "s.h5") == wanted
            done(shop, SWEEP)
        assert not (shop / "s.h5.part").exists()
        assert content(shop / "s.h5") == wanted
        (shop / "s.h5").write_bytes(earlier)
    assert kills > KILLS // 2 and parts > KILLS // 4
    done(shop, SWEEP)
    assert content(shop / "s.h5") == wanted
    with h5py.File(shop / "s.h5") as file:
        assert file["map/status"].shape == (800, 100) and (file["map/status"][()] == 0).all()
    assert names(shop) == ["fitted.toml", "r.csv", "s.h5", "shop.toml", "undisturbed"]


def met_both_ways(seen):
    """Whether some stage was met before it took its place, and after."""
    return any((name, False) in seen and (name, True) in seen for name in STAGES)


def test_a_study_killed_at_50_moments_loses_nothing_and_counts_nothing_twice(shop):
    elsewhere = shop / "undisturbed"
    elsewhere.mkdir()
    for file in ("fitted.toml", "r.csv"):
        shutil.copy(shop / file, elsewhere)
    began = time.monotonic()
    done(elsewhere, STUDY)
    whole_s = time.monotonic() - began
    reference = elsewhere / "made"
    assert names(reference) == sorted([*STAGES, "fitted.toml", "report.html", "study.json"])

    # an earlier study, with another limit: of the fit the same, of what follows another
    done(shop, [*STUDY, "--limit", "200"])
    made = shop / "made"
    wanted = {name: content(reference / name) for name in STAGES}
    earlier = {name: content(made / name) for name in STAGES}
    pages = {without_hours(made / "report.html"), without_hours(reference / "report.html")}
    assert len(pages) == 2

    shutil.copytree(made, shop / "before")
    (made / "study.json").unlink()

    kills = 0
    seen = set()
    for delay in delays(9, whole_s, lambda: kills > KILLS // 2 and (IS_SANITIZED or met_both_ways(seen))):
        is_killed = killed(shop, STUDY, delay)
        kills += is_killed
        for name in STAGES:
            there = content(made / name)
            assert there == wanted[name] or there == earlier[name], name
            seen.add((name, there == wanted[name]))
        assert without_hours(made / "report.html") in pages
        assert (made / "fitted.toml").read_text() == (reference / "fitted.toml").read_text()
        if not is_killed:  # from the earlier study once more, and nothing known of how it was made
            shutil.rmtree(made)
            shutil.copytree(shop / "before", made)
            (made / "study.json").unlink()
    assert kills > KILLS // 2
    # so many moments meet a stage both before and after it took its place; sixteen need not
    assert IS_SANITIZED or met_both_ways(seen)
    done(shop, STUDY)
    assert names(made) == names(reference)
    for name in STAGES:
        assert content(made / name) == wanted[name], name
    assert without_hours(made / "report.html") == without_hours(reference / "report.html")
    record = json.loads((made / "study.json").read_text())["stages"]
    assert sorted(file for stage in record.values() for file in stage["files"]) == sorted([*STAGES, "fitted.toml"])
    for stage in record.values():
        for file, sha1 in stage["files"].items():
            assert hashlib.sha1((made / file).read_bytes()).hexdigest() == sha1


def test_a_study_says_what_it_takes_over_and_what_it_makes_anew(shop):
    words = [word for word in STUDY if word != "--quiet"]
    assert "Taken over" not in done(shop, words).stderr
    first = {name: (shop / "made" / name).read_bytes() for name in STAGES}
    again = done(shop, words).stderr
    assert again.count("Taken over") == len(STAGES)
    assert "made anew" not in again
    assert {name: (shop / "made" / name).read_bytes() for name in STAGES} == first

    # another limit touches only what asks for it
    other = done(shop, [*words, "--limit", "200"]).stderr
    assert other.count("Taken over") == len(STAGES) - 3 and other.count("made anew: it is asked with other options") == 3
    # a file that somebody changed is not trusted, nor is what rested on it
    with h5py.File(shop / "made/fit.h5", "a") as file:
        file.attrs["headline"] = "a fit that was not"
    spoilt = done(shop, [*words, "--limit", "200"]).stderr
    assert "made anew: fit.h5 was changed since" in spoilt
    assert spoilt.count("made anew: an earlier stage was made anew") == len(STAGES) - 1
    assert content(shop / "made/fit.h5")["/@headline"] != "a fit that was not"
    (shop / "made/compare.h5").unlink()
    assert "made anew: compare.h5 is no longer there" in done(shop, [*words, "--limit", "200"]).stderr
    # readings
    with open(shop / "r.csv", "a") as file:
        file.write("B,worn,,171,3,A,lot 2,,\n")
    assert done(shop, words).stderr.count("made anew: the readings have changed") == len(STAGES)
    assert done(shop, [*words, "--anew"]).stderr.count("Taken over") == 0
    # a record that is none is no reason to trust anything
    (shop / "made/study.json").write_text('{"stages": {"fit": {"made": 1, "exit": "0", "basis": [], "files": {}}}}')
    assert "Taken over" not in done(shop, words).stderr

    # what has no place any more does not stay behind
    (shop / "fitted.toml").write_text(SHOP)
    left = done(shop, words).stderr
    assert "left out: the configuration names no readings" in left
    assert not (shop / "made/fit.h5").exists() and not (shop / "made/fitted.toml").exists()


def holds_results(shop):
    """Whether a study has the locks of all its files: it takes that of its record last."""
    return lambda: (shop / "made/.study.json.lock").exists()


def test_two_processes_do_not_write_one_file(shop):
    first = held(shop, SWEEP, lambda: (shop / "s.h5.part").exists())
    try:
        for words in (SWEEP, ["simulate", "shop.toml", "--out", "s.h5"], ["simulate", "shop.toml", "--csv", "./s.h5"]):
            second = run(shop, words)
            assert second.returncode == 2
            assert "another process is writing this file: process " in second.stderr
            assert f"process {first.pid}, arris sweep shop.toml" in second.stderr and "[in-use]" in second.stderr
            assert second.stdout == ""
    finally:
        os.kill(first.pid, signal.SIGCONT)
    first.communicate()
    assert first.returncode == 0
    assert names(shop) == ["fitted.toml", "r.csv", "s.h5", "shop.toml"]

    study = held(shop, STUDY, holds_results(shop), lambda: shutil.rmtree(shop / "made"))
    try:
        assert run(shop, STUDY).returncode == 2
        assert "[in-use]" in run(shop, ["fit", "fitted.toml", "--out", "made/fit.h5"]).stderr
    finally:
        os.kill(study.pid, signal.SIGCONT)
    study.communicate()
    assert study.returncode == 0

    # whoever held it is dead: nobody waits, and what it left is cleared away
    dead = begun(shop, SWEEP)
    wait_until(dead, lambda: (shop / ".s.h5.lock").exists())
    dead.kill()
    dead.communicate()
    (shop / f".s.h5.{dead.pid}.part").write_text("half a file")
    done(shop, SWEEP)
    assert names(shop) == ["fitted.toml", "made", "r.csv", "s.h5", "shop.toml"]


def end_of(program):
    out, err = program.communicate(timeout=120)
    return program.returncode, out, err


def interrupted(program):
    """What becomes of a program that is held, by Ctrl-C."""
    program.send_signal(signal.SIGINT)
    program.send_signal(signal.SIGCONT)
    return end_of(program)


def test_a_sweep_that_is_stopped_keeps_its_blocks(shop):
    code, out, err = interrupted(held(shop, SWEEP, lambda: (shop / "s.h5.part").exists(), (shop / "s.h5").unlink))
    assert code == 130 and out == ""
    assert re.fullmatch(r"stopped as asked: \d+ of \d+ blocks are kept in s\.h5\.part; the same command goes on with them\.\n", " ".join(err.split()) + "\n")
    assert names(shop) == ["fitted.toml", "r.csv", "s.h5.part", "shop.toml"]
    done(shop, SWEEP)


def test_a_study_that_is_stopped_keeps_its_stages(shop):
    code, out, err = interrupted(held(shop, STUDY, lambda: (shop / "made/simulate.h5").exists(), lambda: shutil.rmtree(shop / "made")))
    assert code == 130 and out == ""
    assert " ".join(err.split()).startswith("stopped as asked: fit.h5")
    assert "in made; the same command takes them over and goes on." in " ".join(err.split())
    assert "Taken over" in done(shop, [word for word in STUDY if word != "--quiet"]).stderr


# each long enough to be stopped in the middle
LONG = {
    "simulate": ["simulate", "many.toml"],
    "check": ["check", "many.toml"],
    "fit": ["fit", "boatyard.toml", "--draws", "100000"],
    "weigh": ["weigh", "boatyard.toml"],
    "forecast": ["forecast", "boatyard.toml", "--members", "100000"],
    "compare": ["compare", "boatyard.toml", "--members", "100000"],
    "upkeep": ["upkeep", "boatyard.toml", "--members", "100000"],
    "plan": ["plan", "boatyard.toml"],
    "gauge": ["gauge", "many.csv"],
    "sweep": ["sweep", "boatyard.toml", "--over", "coefficients.dub_share=0.5:2:3000", "--over", "step.1.strokes=20:80:3000"],
}


@pytest.mark.parametrize("command", LONG)
def test_every_long_command_hears_ctrl_c(command, tmp_path):
    for file in ("boatyard.toml", "readings.csv"):
        shutil.copy(YARD / file, tmp_path)
    if "many.toml" in LONG[command]:
        edges = "".join(f'[edge.E{i}]\ntool = "iron"\nsteps = [ {{ hone = "soft waterstone, JIS #1000", strokes = 60 }}, {{ cut = "teak", passes = 60 }} ]\n' for i in range(60000))
        (tmp_path / "many.toml").write_text(SHOP + edges)
    if "many.csv" in LONG[command]:
        draw = random.Random(1)
        rows = (f"{i},{o},{1000 * math.exp(draw.gauss(0, 0.2)):.1f}" for i in range(200000) for o in "KM" for _ in "12")
        (tmp_path / "many.csv").write_text("part,operator,reading_gf\n" + "\n".join(rows) + "\n")
    earlier = "an earlier result"
    (tmp_path / "out.h5").write_text(earlier)
    before = names(tmp_path)
    out = [] if command == "check" else ["--quiet", "--threads", "1", "--out", "out.h5"]
    program = begun(tmp_path, [*LONG[command], *out])
    wait_until_it_hears(program)
    time.sleep(0.1)  # into its work
    program.send_signal(signal.SIGINT)
    asked = time.monotonic()
    code, _, err = end_of(program)
    waited = time.monotonic() - asked
    assert code == 130, err
    assert "stopped as asked" in err
    if command == "sweep":
        (tmp_path / "out.h5.part").unlink(missing_ok=True)  # where it had come so far
    assert names(tmp_path) == before
    assert (tmp_path / "out.h5").read_text() == earlier
    # a person waits that long for a program to hear; a sanitizer makes it several times as slow
    assert waited < (60 if IS_SANITIZED else 10)


# ---- no room, no permission, files that vanish ----

GROWING = {
    "out": ["simulate", "boatyard.toml", "--quiet", "--out", "{}"],
    "csv": ["simulate", "boatyard.toml", "--quiet", "--csv", "{}"],
    "json": ["simulate", "boatyard.toml", "--quiet", "--json", "{}"],
    "answer": ["gauge", "boatyard.toml", "--quiet", "--out", "{}"],
    "sweep": ["sweep", "boatyard.toml", "--over", "coefficients.dub_share=0.5:2:300", "--over", "step.1.strokes=20:80:200", "--quiet", "--out", "{}"],
    "report": ["report", "simulate.h5", "--quiet", "--out", "{}"],
}


@pytest.fixture
def yard(tmp_path):
    for file in ("boatyard.toml", "readings.csv"):
        shutil.copy(YARD / file, tmp_path)
    done(tmp_path, ["simulate", "boatyard.toml", "--quiet", "--out", "simulate.h5"])
    return tmp_path


@pytest.fixture
def small_disk(tmp_path):
    """A file system in memory, of so many kB; only root can make one."""
    place = tmp_path / "disk"
    place.mkdir()
    mounted = []

    def make(kilobytes):
        mount = ["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k" + (",remount" if mounted else ""), "tmpfs", place]
        if os.geteuid() != 0 or subprocess.run(mount, capture_output=True).returncode != 0:
            pytest.skip("no file system can be mounted here")
        mounted.append(place)
        return place

    yield make
    if mounted:
        subprocess.run(["umount", place], check=True)


@pytest.mark.parametrize("kilobytes", [1, 40])
@pytest.mark.parametrize("kind", GROWING)
def test_a_file_that_may_not_grow_is_an_error_and_leaves_the_earlier_one(yard, kind, kilobytes):
    """As on a full disk, in every kind of file, at its first bytes and further on; no right of root is needed."""
    (yard / "r.out").write_text("earlier")
    before = names(yard)
    words = [word.format("r.out") if kind != "report" else word.format("r.html") for word in GROWING[kind]]
    outcome = run(yard, words, preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (1024 * kilobytes,) * 2))
    if kind == "answer" and kilobytes == 40 and outcome.returncode == 0:
        return  # it is smaller than that
    assert outcome.returncode == 2, outcome.stderr
    assert "cannot be written: File too large [cannot-write]" in outcome.stderr and len(outcome.stderr.splitlines()) == 2
    assert names(yard) == before
    assert (yard / "r.out").read_text() == "earlier"


@pytest.mark.parametrize("kind", GROWING)
def test_a_full_disk_is_an_error_and_leaves_the_earlier_file(yard, small_disk, kind):
    place = small_disk(28)
    (place / "r.out").write_text("earlier")
    words = [word.format("disk/r.out") if kind != "report" else word.format("disk/r.html") for word in GROWING[kind]]
    outcome = run(yard, words)
    assert outcome.returncode == 2, outcome.stderr
    assert "cannot be written: No space left on device [cannot-write]" in outcome.stderr
    assert names(place) == ["r.out"]
    assert (place / "r.out").read_text() == "earlier"


def test_a_sweep_that_has_no_room_for_its_answer_keeps_its_numbers(yard, small_disk):
    place = small_disk(1500)  # for the numbers, about a megabyte, and not for a copy of them
    words = [word.format("disk/s.h5") for word in GROWING["sweep"]]
    outcome = run(yard, words)
    assert outcome.returncode == 2
    assert "the sweep is done, but not in its place: the result cannot be written: No space left on device" in outcome.stderr
    assert "All of it is kept in disk/s.h5.part" in outcome.stderr
    assert names(place) == ["s.h5.part"]
    small_disk(8000)
    again = done(yard, [word for word in words if word != "--quiet"])
    assert "75 of 75 blocks are done already" in again.stderr
    elsewhere = yard / "elsewhere.h5"
    done(yard, [word.replace("disk/s.h5", "elsewhere.h5") for word in words])
    wanted, got = content(elsewhere), content(place / "s.h5")
    differing = {key for key in wanted.keys() | got.keys() if wanted.get(key) != got.get(key)}
    assert differing == {"/@command"}


def test_a_study_without_room_keeps_the_stages_that_stand(shop):
    done(shop, STUDY)
    before = {name: (shop / "made" / name).read_bytes() for name in names(shop / "made")}
    limit = lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (1024 * 40,) * 2)
    outcome = run(shop, [*STUDY, "--anew"], preexec_fn=limit)
    assert outcome.returncode == 2 and "File too large" in outcome.stderr and "making-" not in outcome.stderr
    assert {name: (shop / "made" / name).read_bytes() for name in names(shop / "made")} == before


def test_a_folder_that_cannot_be_written_is_told_before_the_work(yard, small_disk):
    if os.geteuid() == 0:
        place = small_disk(4000)
        subprocess.run(["mount", "-o", "remount,ro", place], check=True)
    else:
        place = yard / "disk"
        place.mkdir(exist_ok=True)
        place.chmod(0o500)
    began = time.monotonic()
    for words in (["fit", "boatyard.toml", "--out", "disk/f.h5"], ["fit", "boatyard.toml", "--fitted", "disk/f.toml"], ["sweep", "boatyard.toml", "--question", "soft-strop", "--out", "disk/s.h5"], ["study", "boatyard.toml", "--out", "disk"], ["study", "boatyard.toml", "--out", "disk/made"]):
        outcome = run(yard, words)
        assert outcome.returncode == 2 and "[cannot-write]" in outcome.stderr, outcome.stderr
        assert outcome.stdout == ""
    assert time.monotonic() - began < 20  # a fit alone takes minutes
    assert names(place) == []


def damaged(whole, draw):
    """A file with one byte changed, or cut short, or with a block of zeros in it as a disk may leave."""
    at = draw.randrange(len(whole))
    kind = draw.random()
    if kind < 0.9:
        return whole[:at] + bytes([whole[at] ^ draw.randrange(1, 256)]) + whole[at + 1 :]
    if kind < 0.95:
        return whole[:at]
    size = min(512, len(whole) - at)
    zeros = whole[:at] + bytes(size) + whole[at + size :]
    return zeros if zeros != whole else whole[:at]


# with sanitizers every run takes a second
DAMAGES = 20 if IS_SANITIZED else 100


@pytest.mark.parametrize("kind", ["report", "fit", "merge"])
def test_a_damaged_result_is_refused_wherever_it_is_damaged(shop, kind):
    if kind == "report":
        done(shop, ["simulate", "shop.toml", "--quiet", "--out", "r.h5"])
        words, out = ["report", "r.h5", "--quiet", "--out", "new.html"], "new.html"
    elif kind == "fit":
        done(shop, ["fit", "fitted.toml", "--draws", "100", "--quiet", "--out", "r.h5"])
        words, out = ["forecast", "fitted.toml", "--fit", "r.h5", "--members", "20", "--quiet", "--out", "new.h5"], "new.h5"
    else:
        for i, name in ((1, "r.h5"), (2, "other.h5")):
            done(shop, ["sweep", "shop.toml", "--over", "coefficients.dub_share=0.5:2:40", "--shard", f"{i}/2", "--quiet", "--out", name])
        words, out = ["merge", "r.h5", "other.h5", "--quiet", "--out", "new.h5"], "new.h5"
    whole = (shop / "r.h5").read_bytes()
    done(shop, words)
    (shop / out).unlink()
    draw = random.Random(f"damage of {kind}")
    for i in range(DAMAGES):
        (shop / "r.h5").write_bytes(damaged(whole, draw))
        outcome = run(shop, words)
        assert outcome.returncode == 3, (i, outcome.returncode, outcome.stderr)
        assert outcome.stderr.startswith("error: r.h5: ") and ("[damaged-result]" in outcome.stderr or "[not-a-result]" in outcome.stderr), outcome.stderr
        assert not (shop / out).exists()


def test_a_linked_sweep_notices_a_damaged_share(shop):
    for i in (1, 2):
        done(shop, ["sweep", "shop.toml", "--over", "coefficients.dub_share=0.5:2:40", "--shard", f"{i}/2", "--quiet", "--out", f"share{i}.h5"])
    done(shop, ["merge", "share1.h5", "share2.h5", "--link", "--quiet", "--out", "whole.h5"])
    done(shop, ["report", "whole.h5", "--quiet", "--out", "whole.html"])
    whole = (shop / "share2.h5").read_bytes()
    draw = random.Random("damage of a share")
    for _ in range(5):
        (shop / "share2.h5").write_bytes(damaged(whole, draw))
        outcome = run(shop, ["report", "whole.h5", "--quiet", "--out", "again.html"])
        assert outcome.returncode == 3 and "share2.h5" in outcome.stderr.split("\n")[0], outcome.stderr


def test_a_damaged_sweep_that_was_begun_is_refused_or_made_right(shop):
    words = ["sweep", "shop.toml", "--over", "coefficients.dub_share=0.5:2:400", "--over", "step.1.strokes=20:80:100", "--threads", "1", "--quiet", "--out", "s.h5"]
    done(shop, words)
    right = content(shop / "s.h5")
    (shop / "s.h5").unlink()
    part = shop / "s.h5.part"
    program = held(shop, words, lambda: blocks_stand(part) == (True, False), lambda: [file.unlink(missing_ok=True) for file in (part, shop / "s.h5")])
    program.kill()
    program.communicate()
    assert blocks_stand(part) == (True, False)  # killed between its first and its last block
    with h5py.File(part) as file:
        sets = [file["unfinished/chunk_sum"], *(s for s in file["map"].values() if s.ndim == 2)]
        spans = [(s.id.get_offset(), s.id.get_storage_size()) for s in sets]
    part = (shop / "s.h5.part").read_bytes()
    draw = random.Random("damage of a sweep")
    for i in range(DAMAGES // 4):
        # what is still being written, and all else, in turn
        begin, size = draw.choice(spans)
        at = begin + draw.randrange(size) if i % 2 == 0 else draw.randrange(len(part))
        is_open = any(begin <= at < begin + size for begin, size in spans)
        if i % 2 == 1 and is_open:
            at, is_open = draw.randrange(min(begin for begin, _ in spans)), False
        (shop / "s.h5.part").write_bytes(part[:at] + bytes([part[at] ^ draw.randrange(1, 256)]) + part[at + 1 :])
        outcome = run(shop, words)
        if is_open:
            assert outcome.returncode == 0, (at, outcome.stderr)
            assert content(shop / "s.h5") == right, at
            (shop / "s.h5").unlink()
        else:
            assert outcome.returncode == 3, (at, outcome.returncode, outcome.stderr)
            assert "the unfinished sweep cannot be read" in outcome.stderr and "Delete the file to begin anew." in outcome.stderr


def test_files_that_vanish_are_told(shop):
    # the folder of the result, or the result, while the work goes on
    words = [*LONG_SWEEP[:-1], "there/s.h5"]
    begin = "error: there/s.h5.part: the result cannot be written: "
    part = shop / "there/s.h5.part"
    for take_away, told in (
        (lambda: shutil.rmtree(shop / "there"), [begin + "there is no folder there [cannot-write]"]),
        (part.unlink, [begin + "it was deleted meanwhile [cannot-write]"]),
        (lambda: (shop / "there").rename(shop / "elsewhere"), ["not in its place: the result cannot be written: there is no folder there [cannot-write]", "there/s.h5.part is no longer where it was: bring it back, if it was moved, and give the same command again."]),
    ):
        (shop / "there").mkdir(exist_ok=True)
        sweep = held(shop, words, lambda: blocks_stand(part) == (True, False), (shop / "there/s.h5").unlink)
        take_away()
        os.kill(sweep.pid, signal.SIGCONT)
        _, err = sweep.communicate()
        assert sweep.returncode == 2, err
        for sentence in told:
            assert sentence in " ".join(err.split()), err
    (shop / "elsewhere").rename(shop / "there")
    assert "going on with" in done(shop, [word for word in words if word != "--quiet"]).stderr

    # readings, while a study goes on
    study = held(shop, STUDY, holds_results(shop), lambda: shutil.rmtree(shop / "made"))
    (shop / "r.csv").rename(shop / "r.away")
    os.kill(study.pid, signal.SIGCONT)
    _, err = study.communicate()
    assert study.returncode == 3, err
    assert "r.csv" in err and ("[no-such-file]" in err or "[changed-meanwhile]" in err)
    (shop / "r.away").rename(shop / "r.csv")
    done(shop, STUDY)


# ---- hostile input, and the limits of a run ----


def test_a_run_that_takes_too_long_keeps_what_it_has_and_may_take_longer(shop):
    hours = 0.002 if IS_SANITIZED else 0.0001  # 0.36 s; twenty times that where everything takes so much longer
    text = (shop / "shop.toml").read_text()
    (shop / "shop.toml").write_text(text + f"[computer]\nmax_time_h = {hours}\n")
    long = [word.replace("0.5:2:800", "0.5:2:30000") for word in SWEEP]
    outcome = run(shop, long)
    assert outcome.returncode == 4 and outcome.stdout == ""
    assert f"error: the work took longer than [computer] max_time_h = {hours} h [time-limit]\n" in outcome.stderr
    assert "are kept in s.h5.part; the same command goes on with them" in " ".join(outcome.stderr.split())
    assert (shop / "s.h5.part").exists()
    again = run(shop, [word for word in long if word != "--quiet"])
    # what may be taken decides nothing about it; on a slow machine not even the first block is done by then
    before = int(re.search(r"(\d+) of \d+ blocks are kept", " ".join(outcome.stderr.split()))[1])
    assert again.returncode == 4 and (before == 0 or "going on with s.h5.part" in again.stderr)
    (shop / "s.h5.part").unlink()

    (shop / "fitted.toml").write_text(FITTED + f"[computer]\nmax_time_h = {hours}\n")
    slow = ["20000" if word == "20" else word for word in STUDY]
    outcome = run(shop, slow)
    assert outcome.returncode == 4 and "[time-limit]" in outcome.stderr
    kept = [name for name in STAGES if (shop / "made" / name).exists()]  # on a slow machine not even the first stage is done by then
    (shop / "fitted.toml").write_text(FITTED + "[computer]\nmax_time_h = 1\n")
    assert done(shop, [word for word in slow if word != "--quiet"]).stderr.count("Taken over") == len(kept)


@pytest.mark.skipif(IS_SANITIZED, reason="a sanitizer needs memory of its own, and is not limited")
def test_memory_is_limited_and_the_limit_can_be_raised(tmp_path):
    edges = "".join(f'[edge.E{i}]\ntool = "iron"\nsteps = [ {{ hone = "soft waterstone, JIS #1000", strokes = 60 }} ]\n' for i in range(20000))
    for megabytes, code in ((60, 4), (2000, 0)):
        (tmp_path / "many.toml").write_text(SHOP + edges + f"[computer]\nmax_memory_MB = {megabytes}\n")
        outcome = run(tmp_path, ["simulate", "many.toml", "--brief", "--csv", "c.csv"])
        assert outcome.returncode == code, outcome.stderr
        if code == 4:
            assert outcome.stderr.startswith(f"error: not enough memory for this many edges, steps or points (allowed: up to {megabytes} MB) [no-memory]")
            assert names(tmp_path) == ["many.toml"]


def test_a_hundred_thousand_edges_and_a_million_steps_are_taken(tmp_path):
    iron = SHOP[: SHOP.index("[output]")]
    edges = "".join(f'[edge.E{i}]\ntool = "iron"\nsteps = [ {{ read = "new" }} ]\n' for i in range(100_000))
    (tmp_path / "edges.toml").write_text(iron + edges)
    assert done(tmp_path, ["check", "-q", "edges.toml"]).stdout == "edges.toml is right: 100000 edges with 100000 steps.\n"
    (tmp_path / "edges.toml").write_text(iron + edges + '[edge.more]\ntool = "iron"\n')
    outcome = run(tmp_path, ["check", "-q", "edges.toml"])
    assert outcome.returncode == 2
    assert outcome.stderr == "error: edges.toml: 100001 edges (allowed: up to 100000) [too-many]\n  [computer] max_edges allows more.\n"
    (tmp_path / "steps.toml").write_text(iron + '[edge.A]\ntool = "iron"\nsteps = [\n' + "".join(f'{{ read = "a{i}" }},\n' for i in range(1_000_000)) + "]\n")
    assert done(tmp_path, ["check", "-q", "steps.toml"]).stdout == "steps.toml is right: 1 edge with 1000000 steps.\n"


def test_a_hundred_megabytes_of_readings_are_read_or_refused(tmp_path):
    iron = SHOP[: SHOP.index("[output]")]
    edges = "".join(f'[edge.E{i}]\ntool = "iron"\nsteps = [ {{ read = "new" }} ]\n' for i in range(1000))
    (tmp_path / "shop.toml").write_text(iron + edges + '[readings]\nfile = "r.csv"\n')
    remark = "x" * 180
    (tmp_path / "r.csv").write_text("edge,step,reading_gf,note\n" + "".join(f"E{i % 1000},new,{100 + i % 77},{remark}\n" for i in range(500_000)))
    assert (tmp_path / "r.csv").stat().st_size > 95_000_000
    assert "500000 readings in r.csv" in done(tmp_path, ["check", "-q", "shop.toml"]).stdout
    # wrong from the first row to the last: told in a bearable number of lines, and soon
    (tmp_path / "r.csv").write_text("edge,step,reading_gf,note\n" + "".join(f"F{i % 1000},new,{100 + i % 77},{remark}\n" for i in range(500_000)))
    outcome = run(tmp_path, ["check", "-q", "shop.toml"])
    assert outcome.returncode == 3 and len(outcome.stderr.splitlines()) < 2000
    with open(tmp_path / "r.csv", "ab") as file:
        file.truncate(200_000_001)
    outcome = run(tmp_path, ["check", "-q", "shop.toml"])
    assert outcome.returncode == 3 and "[too-large]" in outcome.stderr


NAMES = {
    "path": "../../../etc/evil",
    "absolute": "/etc/evil",
    "parent": "..",
    "quote": 'a\\"b',
    "newline": "a\\nb",
    "escape": "\\u001b[31mred\\u0007",
    "c1": "\\u009b2J",
    "nul": "a\\u0000b",
    "turned": "a\\u202eb",
    "long": "n" * 5000,
}


@pytest.mark.parametrize("kind", NAMES)
def test_a_name_that_would_do_harm_is_refused_and_shown_harmless(shop, kind):
    before = names(shop)
    (shop / "evil.toml").write_text((shop / "shop.toml").read_text().replace("[edge.A]", f'[edge."{NAMES[kind]}"]'))
    for words in (["check", "evil.toml"], ["simulate", "evil.toml", "--out", "x.h5"], ["study", "evil.toml", "--out", "evil"]):
        outcome = run(shop, words)
        assert outcome.returncode == 2 and "[bad-name]" in outcome.stderr
        harmful = [c for c in outcome.stderr + outcome.stdout if (c < " " and c != "\n") or "\x7f" <= c < "\xa0" or c == "\u202e"]
        assert harmful == []
    assert [name for name in names(shop) if name not in ("evil", "evil.toml")] == before


def test_a_name_may_be_markup_and_stays_a_name(shop):
    text = (shop / "shop.toml").read_text().replace("[edge.A]", "[edge.\"<img src=x onerror=alert(1)>&amp;'`$(id)\"]")
    (shop / "markup.toml").write_text("title = '</title><script>alert(2)</script>'\n" + text)
    done(shop, ["simulate", "markup.toml", "--quiet", "--out", "m.h5", "--csv", "m.csv", "--json", "m.json"])
    done(shop, ["report", "m.h5", "--quiet", "--out", "m.html"])
    page = (shop / "m.html").read_text()
    assert "<img src=x" not in page and "<script>alert(2)" not in page
    assert "&lt;img src=x onerror=alert(1)&gt;" in page
    assert any("<img src=x" in edge["name"] for edge in json.loads((shop / "m.json").read_text())["edges"])


def test_includes_that_go_in_circles_and_text_without_bottom_are_told(tmp_path):
    (tmp_path / "a.toml").write_text('include = ["b.toml"]\n' + SHOP)
    (tmp_path / "b.toml").write_text('include = ["./a.toml"]\n')
    (tmp_path / "self.toml").write_text('include = ["self.toml"]\n' + SHOP)
    for file in ("a.toml", "self.toml"):
        outcome = run(tmp_path, ["check", file])
        assert outcome.returncode == 2 and "includes itself, in the end [include-cycle]" in outcome.stderr
    for text in ("x = " + "[" * 1_000_000, "x = " + "{a=" * 300_000, "[" + "a." * 1_000_000 + "a]", "a" * 5_000_000, "\0" * 1000, '"' * 100_001):
        (tmp_path / "deep.toml").write_text(text)
        outcome = run(tmp_path, ["check", "deep.toml"])
        assert outcome.returncode == 2 and "[syntax]" in outcome.stderr
        assert len(outcome.stderr) < 5000
