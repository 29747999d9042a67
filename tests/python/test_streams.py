# SPDX-License-Identifier: MIT
"""Streams that are closed or full, readers that go away, terminals of any width, signals, and files that came from elsewhere."""

import csv
import fcntl
import io
import os
import pty
import re
import signal
import struct
import subprocess
import termios
import time

import pytest
from shop import PROGRAM, SHOP, SOURCE, begun, wait_until, wait_until_it_hears

YARD = SOURCE / "configs" / "boatyard" / "boatyard.toml"

# each of them longer than a second
LONG = {
    "simulate": ["simulate", "many.toml", "--out", "s.h5"],
    "check": ["check", "many.toml", "--outline"],
    "fit": ["fit", str(YARD), "--draws", "100000", "--out", "f.h5"],
    "weigh": ["weigh", str(YARD), "--out", "w.h5"],
    "forecast": ["forecast", str(YARD), "--members", "100000", "--out", "l.h5"],
    "compare": ["compare", str(YARD), "--members", "100000", "--out", "c.h5"],
    "upkeep": ["upkeep", str(YARD), "--members", "100000", "--out", "u.h5"],
    "plan": ["plan", str(YARD), "--out", "p.h5"],
    "sweep": ["sweep", str(YARD), "--over", "coefficients.dub_share=0.5:2:3000", "--over", "step.1.strokes=20:80:3000", "--out", "m.h5"],
    "study": ["study", str(YARD), "--out", "made"],
}


def run(words, folder=None, **more):
    return subprocess.run([PROGRAM, *map(str, words)], cwd=folder, capture_output=True, text=True, timeout=300, **more)


def shell(command, folder=None):
    """The exit code and what came out, of a line with redirections."""
    outcome = subprocess.run(["bash", "-c", command.replace("arris", PROGRAM, 1)], cwd=folder, capture_output=True, text=True, timeout=300)
    return outcome.returncode, outcome.stdout, outcome.stderr


@pytest.fixture
def shop(tmp_path):
    (tmp_path / "shop.toml").write_text(SHOP)
    return tmp_path


# ---- streams ----


@pytest.mark.parametrize("where", ["2>/dev/full", "2>&-", "2>&- >&-", "<&-", "<&- 2>&-"])
def test_an_error_that_cannot_be_told_is_still_that_error(where, tmp_path):
    code, out, _ = shell(f"arris simulate nofile.toml {where}", tmp_path)
    assert (code, out) == (2, "")


@pytest.mark.parametrize("words", ["--version", "--help", "simulate --help", "", "simulate shop.toml", "check shop.toml", "materials", "simulate shop.toml --json -", "import r.csv", "readings read.toml", "log check r.csv --edge A --moment new", f"gauge {YARD} --json -", "report s.h5 --out -", "report s.h5 --figure poster --out -", "report s.h5 --pdf -"])
@pytest.mark.parametrize("where", [">/dev/full", ">&-"])
def test_output_that_cannot_be_written_is_an_error(words, where, shop):
    if any(name in words for name in ("r.csv", "read.toml", "s.h5")):
        (shop / "three.toml").write_text(SHOP.replace("replicates = 2", "replicates = 6"))
        assert run(["simulate", "three.toml", "--quiet", "--invent-readings", "r.csv", "--out", "s.h5"], shop).returncode == 0
        (shop / "read.toml").write_text((shop / "three.toml").read_text() + '[readings]\nfile = "r.csv"\n')
    code, _, told = shell(f"arris {words} {where}", shop)
    assert code == 2
    assert told.endswith("[cannot-write]\n") or "[cannot-write]\n  Check" in told


def test_a_closed_stream_never_gets_a_result_file(shop):
    # files take the lowest number that is free: with 2 closed that would be the one errors are told on
    code, _, _ = shell("arris upkeep shop.toml --members 20 --json u.json 2>&- >&-", shop)
    plain, _, _ = shell("arris upkeep shop.toml --members 20 --quiet --json v.json", shop)
    assert plain == 0 and code == 2  # the answer could not be printed
    strip = lambda name: re.sub(r'"(started|command)": "[^"]*"', "", (shop / name).read_text())
    assert strip("u.json") == strip("v.json")


@pytest.mark.parametrize("words", ["materials wood --json", f"simulate {YARD} --json -", f"simulate {YARD} --csv -", "--help", f"import {YARD.parent}/readings.csv", f"readings {YARD}"])
def test_a_reader_that_goes_away_ends_the_program_without_a_word(words, tmp_path):
    reader, writer = os.pipe()
    os.close(reader)  # before the program begins: what fits into a pipe could be written before the reader goes
    begin = subprocess.Popen(f"exec {PROGRAM} {words}", shell=True, cwd=tmp_path, stdout=writer, stderr=subprocess.PIPE, restore_signals=True)
    os.close(writer)
    told = begin.stderr.read().decode()
    assert begin.wait(timeout=120) == -signal.SIGPIPE
    assert told == ""
    assert list(tmp_path.iterdir()) == []


# ---- terminals ----


def on_terminal(words, columns, folder):
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
    program = subprocess.Popen([PROGRAM, *map(str, words)], cwd=folder, stdout=theirs, stderr=theirs, stdin=theirs)
    os.close(theirs)
    shown = b""
    while True:
        try:
            piece = os.read(ours, 65536)
        except OSError:  # the other side is closed
            break
        if not piece:
            break
        shown += piece
    os.close(ours)
    assert program.wait(timeout=120) == 0
    return re.sub(r"[^\n]*\r\x1b\[K|[^\n\r]*\x1b\[K\r?", "", shown.decode().replace("\r\n", "\n")).split("\n")


@pytest.mark.parametrize("columns", [20, 40, 60, 80, 200])
@pytest.mark.parametrize("words", [["simulate", "shop.toml"], ["forecast", "shop.toml", "--members", "20"], ["materials", "steel"], ["readings", YARD], ["log", "check", "log.csv"], ["gauge", YARD], ["check", "shop.toml", "--outline"]], ids=lambda w: w[0])
def test_output_is_as_wide_as_the_terminal(words, columns, shop):
    (shop / "log.csv").write_text("edge,reading_gf,date\n" + "".join(f"check,{180 + day % 3},2025-06-{day:02}\n" for day in range(1, 9)))
    lines = on_terminal(words, columns, shop)
    # a word that is longer than a line stays whole
    too_wide = [line for line in lines if len(line) > columns and max(map(len, line.split())) + 2 <= columns]
    assert too_wide == []
    # every number of the wide one is there
    numbers = lambda text: sorted(set(re.findall(r"\d+(?:\.\d+)?", text)))
    assert numbers(" ".join(lines)) == numbers(run(words, shop).stdout)


def test_output_that_is_no_terminal_is_a_hundred_wide_whatever_the_screen(shop):
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 300, 0, 0))
    try:
        assert max(len(line) for line in run(["forecast", "shop.toml", "--members", "20"], shop, stdin=theirs).stdout.split("\n") if "  " not in line) <= 100
    finally:
        os.close(ours)
        os.close(theirs)


# ---- signals ----


@pytest.mark.parametrize("sent, code", [(signal.SIGTERM, 143), (signal.SIGHUP, 129), (signal.SIGINT, 130)], ids=["TERM", "HUP", "INT"])
@pytest.mark.parametrize("command", LONG)
def test_every_long_command_ends_in_order(command, sent, code, tmp_path):
    (tmp_path / "many.toml").write_text(SHOP.replace("reading_limit_gf", "points_per_step = 2000\nreading_limit_gf").split("[edge.A]")[0] + "".join("[edge.A" + str(n) + "]" + SHOP.split("[edge.A]")[1] for n in range(3000)))
    program = begun(tmp_path, LONG[command], sent)
    wait_until_it_hears(program, sent)
    if command != "check":  # it writes nothing
        wait_until(program, lambda: any(entry.name.endswith(".lock") for entry in tmp_path.rglob(".*")))
    time.sleep(0.3)
    assert program.poll() is None, "too short to be stopped"
    program.send_signal(sent)
    _, told = program.communicate(timeout=120)
    assert program.returncode == code
    assert "stopped as asked: " in told
    left = [entry.name for entry in tmp_path.rglob("*") if entry.name.startswith(".") and not entry.name.startswith(".making-")]
    assert left == []


@pytest.fixture(scope="module")
def much(tmp_path_factory):
    """Files that take longer than a second to read, one for each command that makes no history."""
    folder = tmp_path_factory.mktemp("much")
    (folder / "rows.csv").write_text("edge;step;Reading (gf);Datum\n" + "".join(f"A;new;{170 + i % 20},5;{1 + i % 28}.6.2025\n" for i in range(600_000)))
    (folder / "log.csv").write_text("edge,step,passes,reading_gf,replicate,operator,filament_lot,date\n" + "".join(f"check,,,{180 + i * 7 % 50 / 10},{i % 5 + 1},K,N,{2000 + i // 1680:04}-{i // 140 % 12 + 1:02}-{i // 5 % 28 + 1:02}\n" for i in range(120_000)))
    (folder / "gauge.csv").write_text("part,operator,replicate,reading_gf\n" + "".join(f"P{p},{o},{r},{150 + p % 50 + (7 * p + 11 * r + ord(o)) % 10}\n" for p in range(2000) for o in "KLM" for r in range(1, 41)))
    steps = "".join('{ hone = "soft waterstone, JIS #1000", strokes = 5 },\n{ cut = "teak", passes = 5 },\n' for _ in range(150))
    (folder / "points.toml").write_text(SHOP.split("[edge.A]")[0].replace("[output]", "[output]\npoints_per_step = 6000") + f'[edge.A]\ntool = "iron"\nsteps = [\n{steps}]\n')
    assert run(["simulate", "points.toml", "--quiet", "--out", "points.h5"], folder).returncode == 0
    return folder


@pytest.mark.parametrize(
    "words",
    ["import rows.csv --out out.csv", "import rows.csv --out out.xlsx", "log check log.csv --out out.h5", "gauge gauge.csv --out out.h5", "report points.h5 --out out.html", "report points.h5 --pdf out.pdf", "report points.h5 --figure poster --out out.svg"],
)
def test_commands_that_only_read_end_in_order_too(words, much):
    before = sorted(much.iterdir())
    program = begun(much, words.split(), signal.SIGTERM)
    wait_until(program, lambda: any(entry.name.endswith(".lock") for entry in much.iterdir()))
    time.sleep(0.15)
    assert program.poll() is None, "too short to be stopped"
    program.terminate()
    _, told = program.communicate(timeout=120)
    assert program.returncode == 143
    assert "stopped as asked: " in told
    assert sorted(much.iterdir()) == before


def test_a_sweep_that_is_terminated_keeps_its_blocks(tmp_path):
    program = begun(tmp_path, [*LONG["sweep"], "--threads", "1"], signal.SIGTERM)
    wait_until(program, lambda: (tmp_path / "m.h5.part").exists())
    time.sleep(0.5)
    program.terminate()
    _, told = program.communicate(timeout=120)
    assert re.match(r"stopped as asked: \d+ of \d+ blocks are kept in m\.h5\.part; the same command goes on with them\.", " ".join(told.split()))
    assert [entry.name for entry in tmp_path.iterdir()] == ["m.h5.part"]


# ---- texts of others ----


def test_no_cell_of_a_csv_is_a_formula_and_all_read_back(tmp_path):
    name = "=1+1"
    (tmp_path / "odd.toml").write_text(SHOP.replace("[edge.A]", f'[edge."{name}"]').replace('"worn"', '"@worn"').replace("[tool.iron]", '[tool."+iron"]').replace('tool = "iron"', 'tool = "+iron"'))
    assert run(["simulate", "odd.toml", "--quiet", "--csv", "s.csv", "--invent-readings", "r.csv", "--operators", "-K,@L"], tmp_path).returncode == 0
    for file in ("s.csv", "r.csv"):
        text = "".join(line for line in (tmp_path / file).read_text().splitlines(True) if not line.startswith("#"))
        rows = list(csv.reader(io.StringIO(text)))
        assert any(cell == "'" + name for row in rows for cell in row)
        for row in rows:
            for cell in row:
                if cell[:1] in ("=", "+", "-", "@"):
                    float(cell)  # a number, which stays one
    (tmp_path / "read.toml").write_text((tmp_path / "odd.toml").read_text() + '\n[readings]\nfile = "r.csv"\n')
    back = run(["simulate", "read.toml", "--json", "-"], tmp_path)
    assert back.returncode == 0, back.stderr
    assert f'"edge": "{name}"' in back.stdout and '"moment": "@worn"' in back.stdout


def test_a_name_with_the_signs_of_lists_can_be_swept_and_chosen(shop):
    wood = "a;b|c&d, e"
    (shop / "wood.toml").write_text(SHOP + f'[wood."{wood}"]\nside_hardness_N = 4000\nspecific_gravity = 0.6\n' + SHOP[SHOP.index("[edge.A]") :].replace("[edge.A]", '[edge."B, C"]'))
    outcome = run(["sweep", "wood.toml", "--edge", "A", "--over", 'step.4.cut=teak | "a;b|c&d, e"', "--csv", "-"], shop)
    assert outcome.returncode == 0, outcome.stderr
    assert [row[0] for row in csv.reader(io.StringIO(outcome.stdout))][1:] == ["teak", wood]
    assert "B, C" in run(["forecast", "wood.toml", "--members", "10", "--edge", '"B, C"'], shop).stdout


def test_a_confined_configuration_reads_nothing_outside_its_folder(shop):
    (shop / "secret.txt").write_text("a secret = = line\n")
    inside = shop / "from-elsewhere"
    inside.mkdir()
    (inside / "own.toml").write_text('[edge.A]\nnote = "beside it"\n')
    os.symlink(shop / "secret.txt", inside / "link.toml")
    (inside / "r.csv").write_text("edge,step,reading_gf\nA,new,100\n")
    commands = {name for name in re.findall(r"^  ([a-z]+)  ", run(["--help"]).stdout.split("Subcommands:")[1], re.M) if "--confined" in run([name, "--help"]).stdout}
    assert {"check", "simulate", "materials", "study"} < commands
    # those that want more than a configuration
    words = {
        "log": ["log", "check", "shop.toml"],
        "sweep": ["sweep", "shop.toml", "--question", "wood"],
        "sensitivity": ["sensitivity", "shop.toml", "--over", "steel.O1.hardness_GPa=6:8"],
    }
    for what in ('include = ["../secret.txt"]', f'include = ["{shop}/secret.txt"]', 'include = ["link.toml"]', '[readings]\nfile = "../secret.txt"'):
        (inside / "shop.toml").write_text(what + "\n" + SHOP)
        for command in commands - {"materials", "import"}:
            outcome = run([*words.get(command, [command, "shop.toml"]), "--confined"], inside)
            assert outcome.returncode == 2 and "[outside-folder]" in outcome.stderr, (command, outcome.stderr)
            assert "a secret" not in outcome.stderr
        if what.startswith("include"):  # these read no readings that it names
            for line in (["materials", "wood"], ["import", "r.csv"]):
                assert "[outside-folder]" in run([*line, "--config", "shop.toml", "--confined"], inside).stderr
    (inside / "shop.toml").write_text('include = ["own.toml"]\n' + SHOP.replace("[edge.A]", '[edge.B]'))
    assert "[outside-folder]" not in run(["check", "shop.toml", "--confined"], inside).stderr


def test_a_file_name_in_another_encoding_makes_a_page_that_is_text(shop):
    name = b"na\xefve \x1b[2J.toml"
    (shop / os.fsdecode(name)).write_text(SHOP)
    assert run([b"simulate".decode(), os.fsdecode(name), "--quiet", "--out", "s.h5"], shop).returncode == 0
    assert run(["report", "s.h5", "--quiet", "--out", "page.html"], shop).returncode == 0
    page = (shop / "page.html").read_bytes().decode("utf-8")
    assert "$&#39;na\\xefve \\x1b[2J.toml&#39;" in page
    told = subprocess.run([PROGRAM, "check", b"no\xef\x1b[2J.toml"], cwd=shop, capture_output=True).stderr
    assert told.startswith(b"error: no\\xef\\x1b[2J.toml: ")


# ---- words ----


def test_weighing_readings_of_one_edge_says_why_not(shop):
    assert run(["simulate", "shop.toml", "--quiet", "--invent-readings", "r.csv"], shop).returncode == 0
    (shop / "read.toml").write_text(SHOP + '\n[readings]\nfile = "r.csv"\n')
    outcome = run(["weigh", "read.toml"], shop)
    assert outcome.returncode == 3
    assert "all readings are of one edge, A [one-edge]" in outcome.stderr


def test_where_no_law_can_be_fitted_the_exit_code_has_a_reason(tmp_path):
    (tmp_path / "stuck.toml").write_text(f'include = ["{YARD}"]\n[numerics]\nmax_steps = 10\n')
    outcome = run(["weigh", "stuck.toml", "--quiet"], tmp_path)
    assert outcome.returncode == 5
    assert outcome.stderr == "error: none of the laws could be fitted; the answer says for each why [no-convergence]\n"


def test_what_readings_cannot_tell_is_said_in_words(tmp_path):
    readings = (180.3, 66.6, 231.1, 512.6, 20.2, 90.4, 700.1, 120.9)  # invented, and far apart
    rows = [f"{'AB'[n // 2 % 2]},{'KL'[n % 2]},{1 + n // 4},{reading}" for n, reading in enumerate(readings)]
    (tmp_path / "g.csv").write_text("part,operator,replicate,reading_gf\n" + "\n".join(rows) + "\n")
    told = " ".join(run(["gauge", "g.csv"], tmp_path).stdout.split())
    assert "even a tester that drifts to twice its reading in 100 would not show it" in told
    assert "% per 100" not in told
    told = " ".join(run(["plan", YARD, "--edges", "2"], tmp_path).stdout.split())
    assert re.search(r"90 of a hundred find one of a factor of \d", told)
    assert not re.search(r"\d{3} %", told)


def test_where_no_wood_leaves_an_edge_a_pass_the_sentence_says_so(shop):
    outcome = run(["sweep", "shop.toml", "--question", "wood", "--limit", "5"], shop)
    assert outcome.returncode == 0
    sentence = " ".join(outcome.stdout.split("\n\n")[0].split())
    assert re.fullmatch(r"Edge A lasts no pass in any of these woods: fresh it reads \S+ gf, and the limit is 5 gf\. After 60 passes it reads least in .+, \S+ gf, and most in .+, \S+ gf\.", sentence)


# ---- reports ----


def test_a_report_of_many_edges_chooses_some_and_stays_small(tmp_path):
    head, edge = SHOP.split("[edge.A]")
    edges = "".join(f"[edge.A{n}]" + edge.replace("strokes = 60", f"strokes = {20 + n}") for n in range(400))
    (tmp_path / "many.toml").write_text(head + edges)
    assert run(["simulate", "many.toml", "--quiet", "--out", "s.h5"], tmp_path).returncode == 0
    made = run(["report", "s.h5", "--out", "page.html"], tmp_path)
    page = (tmp_path / "page.html").read_text()
    assert len(page.encode()) < 3_000_000
    assert re.search(r"Of the 400 edges 12 are drawn: the best \(A\d+\), a typical one \(A\d+\), the worst \(A\d+\) and others in between", page)
    assert "--whole" in page and made.stdout.startswith("page.html: ")
    assert "A333:" not in page
    assert run(["report", "s.h5", "--edge", "A333", "--quiet", "--out", "asked.html"], tmp_path).returncode == 0
    assert "A333:" in (tmp_path / "asked.html").read_text()
    assert "[unknown-edge]" in run(["report", "s.h5", "--edge", "B", "--out", "no.html"], tmp_path).stderr
    assert run(["report", "s.h5", "--whole", "--quiet", "--out", "whole.html"], tmp_path).returncode == 0
    assert (tmp_path / "whole.html").stat().st_size > 3_000_000


def test_a_report_of_long_curves_stays_small(tmp_path):
    head, edge = SHOP.split("[edge.A]")
    steps = "".join('  { cut = "teak", passes = 20 },\n  { strop = "thin hide on wood", laps = 5 },\n' for _ in range(150))
    text = head.replace("[output]", "[output]\npoints_per_step = 2000") + "[edge.A]" + edge.replace("]\n", steps + "]\n")
    (tmp_path / "long.toml").write_text(text)
    assert run(["simulate", "long.toml", "--quiet", "--out", "s.h5"], tmp_path).returncode == 0
    assert run(["report", "s.h5", "--quiet", "--out", "page.html"], tmp_path).returncode == 0
    assert (tmp_path / "page.html").stat().st_size < 3_000_000


def test_a_history_that_stopped_has_a_report_that_says_so(tmp_path):
    head, edge = SHOP.split("[edge.A]")
    # a thin blade that is honed until no blade is left; in wood without end; and one that stops at once
    head = head.replace("thickness_mm = 3", "thickness_mm = 0.5")
    wood = edge.replace("passes = 60", "passes = 1000000, pass_m = 10")
    stone = edge.replace("]\n", '  { hone = "soft waterstone, JIS #1000", strokes = 1000000 },\n]\n')
    at_once = 'tool = "iron"\nsteps = [ { cut = "teak", passes = 1000000, pass_m = 10 } ]\n'
    (tmp_path / "s.toml").write_text(head + "[computer]\nmax_steps = 100\n" + "".join(f"[edge.{name}]{steps if steps.startswith(chr(10)) else chr(10) + steps}" for name, steps in {"fine": edge, "wood": wood, "stone": stone, "once": at_once}.items()))
    made = run(["simulate", "s.toml", "--quiet", "--out", "s.h5"], tmp_path)
    assert made.returncode == 4 and "the edge has left what a blade can be" in " ".join(made.stderr.split())
    for words in (["--out", "s.html"], ["--whole", "--out", "w.html", "--tables", "needs none"], ["--pdf", "s.pdf"], ["--figure", "poster", "--out", "p.svg"], ["--figure", "poster wood", "--out", "q.svg"], ["--figure", "section once", "--out", "r.svg"]):
        outcome = run(["report", "s.h5", "--quiet", *words], tmp_path)
        assert outcome.returncode == 0, outcome.stderr
    assert not (tmp_path / "needs none").exists()
    page = (tmp_path / "s.html").read_text()
    assert page.count("the edge has left what a blade can be") >= 2
    for name in ("fine", "wood", "once"):
        assert f"{name}: iron" in page
    assert "its history stopped" in re.sub(r"<[^>]+>|\s+", " ", (tmp_path / "q.svg").read_text()).replace("  ", " ")
    # what goes on from it
    assert run(["simulate", "s.toml", "--quiet", "--csv", "s.csv"], tmp_path).returncode == 4
    for command in ("forecast", "compare"):
        assert run([command, "s.toml", "--members", "5", "--passes", "100"], tmp_path).returncode in (0, 2, 4)


def test_a_report_of_many_steps_draws_some_and_says_so(tmp_path):
    head, edge = SHOP.split("[edge.A]")
    steps = "".join('  { hone = "soft waterstone, JIS #1000", strokes = 2 },\n  { cut = "teak", passes = 2 },\n' for _ in range(1500))
    (tmp_path / "steps.toml").write_text(head + "[edge.A]" + edge.replace("]\n", steps + "]\n"))
    assert run(["simulate", "steps.toml", "--quiet", "--out", "s.h5"], tmp_path).returncode == 0
    assert run(["report", "s.h5", "--quiet", "--out", "page.html"], tmp_path).returncode == 0
    page = (tmp_path / "page.html").read_text()
    assert len(page.encode()) < 3_000_000
    assert "Of 3003 steps 100 are drawn, evenly chosen; --whole draws all." in page
    # a choice of what makes it smaller takes nothing that the first sentences say
    assert "This page shows a part of what there is" not in page


def test_a_sentence_never_lists_hundreds_of_names(tmp_path):
    head, edge = SHOP.split("[edge.A]")
    (tmp_path / "many.toml").write_text(head + "".join(f"[edge.E{n}]" + edge.replace("laps = 20", "laps = 0") for n in range(300)))
    run(["simulate", "many.toml", "--json", "s.json", "--out", "s.h5", "--brief"], tmp_path)
    assert run(["report", "s.h5", "--quiet", "--out", "page.html"], tmp_path).returncode == 0
    page = re.sub(r"<[^>]+>", " ", (tmp_path / "page.html").read_text())
    assert re.search(r"E0, E1, E2, [^.]*E11 … and 288 more read less after the last pass than fresh", page)
    assert not re.search(r"(E\d+, ){20}", page)


def test_tables_that_a_page_shows_in_part_lie_beside_it_whole(tmp_path):
    head, edge = SHOP.split("[edge.A]")
    (tmp_path / "many.toml").write_text(head + "".join(f'[edge."=E {n}"]' + edge for n in range(520)))
    assert run(["simulate", "many.toml", "--quiet", "--out", "s.h5"], tmp_path).returncode == 0
    (tmp_path / "pages").mkdir()
    assert run(["report", "s.h5", "--quiet", "--out", "pages/page.html", "--tables", "the tables"], tmp_path).returncode == 0
    page = (tmp_path / "pages" / "page.html").read_text()
    assert "500 of 520 rows" in page
    links = re.findall(r'<a href="([^"#]+\.csv)">all (\d+) rows', page)
    assert links == [("../the%20tables/01-edges.csv", "520")]
    rows = list(csv.reader((tmp_path / "the tables" / "01-edges.csv").open()))
    assert len(rows) == 521 and rows[1][0] == "'=E 0"  # no formula
    assert len(list((tmp_path / "the tables").iterdir())) == 1
    assert "[bad-option]" in run(["report", "s.h5", "--figure", "wear", "--out", "w.svg", "--tables", "t"], tmp_path).stderr
