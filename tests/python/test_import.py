# SPDX-License-Identifier: MIT
"""Readings as people keep them, and the log: workbooks made by hand, by other libraries and to do harm; kills and crowds at the log."""

import csv
import io
import os
import re
import subprocess
import time
import zipfile

import pytest

PROGRAM = os.environ["ARRIS_PROGRAM"]

# invented
SHOP = """
[tool.iron]
steel = "O1"
width_mm = 50
thickness_mm = 3
primary_bevel_deg = 25
[edge.A]
tool = "iron"
steps = [ { hone = "soft waterstone, JIS #1000", strokes = 60 }, { read = "new" }, { cut = "teak", passes = 60 } ]
"""


def run(*words, folder=None):
    return subprocess.run([PROGRAM, *map(str, words)], cwd=folder, capture_output=True, text=True, timeout=300)


def taken(*words, folder):
    got = run("import", *words, folder=folder)
    assert got.returncode == 0, got.stderr
    return got.stdout, got.stderr


def refused(code, *words, folder, exit_code=3):
    got = run("import", *words, folder=folder)
    assert got.returncode == exit_code and f"[{code}]" in got.stderr, got.stderr
    assert got.stdout == ""
    return got.stderr


def letters(column):
    return chr(ord("A") + column)


def cell(row, column, value, style=0, formula=None):
    place = f"{letters(column)}{row}"
    f = f"<f>{formula}</f>" if formula else ""
    if isinstance(value, str):
        return f'<c r="{place}" t="str">{f}<v>{value}</v></c>'
    return f'<c r="{place}" s="{style}">{f}' + ("" if value is None else f"<v>{value}</v>") + "</c>"


def sheet_of(rows):
    lines = "".join(f'<row r="{r}">' + "".join(cells) + "</row>" for r, cells in rows)
    return f'<?xml version="1.0"?><worksheet xmlns="http://x"><sheetData>{lines}</sheetData></worksheet>'


def xlsx(path, sheets, date1904=False, more=()):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as z:
        names = "".join(f'<sheet name="{n}" sheetId="{i}" r:id="rId{i}"/>' for i, n in enumerate(sheets, 1))
        z.writestr(
            "xl/workbook.xml",
            f'<workbook xmlns:r="r"><workbookPr date1904="{int(date1904)}"/><sheets>{names}</sheets></workbook>',
        )
        relations = "".join(f'<Relationship Id="rId{i}" Target="worksheets/sheet{i}.xml"/>' for i, _ in enumerate(sheets, 1))
        z.writestr("xl/_rels/workbook.xml.rels", f"<Relationships>{relations}</Relationships>")
        z.writestr("xl/styles.xml", '<styleSheet><cellXfs><xf numFmtId="0"/><xf numFmtId="14"/></cellXfs></styleSheet>')
        for i, text in enumerate(sheets.values(), 1):
            z.writestr(f"xl/worksheets/sheet{i}.xml", text)
        for name, text in more:
            z.writestr(name, text)


def hide(path, name):
    with zipfile.ZipFile(path) as z:
        parts = {n: z.read(n) for n in z.namelist()}
    mark = f'name="{name}"'.encode()
    parts["xl/workbook.xml"] = parts["xl/workbook.xml"].replace(mark, mark + b' state="hidden"')
    with zipfile.ZipFile(path, "w") as z:
        for n, content in parts.items():
            z.writestr(n, content)


def ods(path, rows, settings=""):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as z:
        z.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        z.writestr(
            "content.xml",
            '<o:document-content xmlns:o="o" xmlns:table="t" xmlns:text="x" xmlns:office="of"><o:body><o:spreadsheet>'
            f'{settings}<table:table table:name="log">{rows}</table:table></o:spreadsheet></o:body></o:document-content>',
        )


def text_cell(text, more=""):
    return f'<table:table-cell office:value-type="string"><text:p>{text}</text:p>{more}</table:table-cell>'


def number_cell(value, more=""):
    return f'<table:table-cell office:value-type="float" office:value="{value}" {more}/>'


def written(path, text):
    path.write_text(text)
    return path.parent


HEAD = [cell(1, i, name) for i, name in enumerate(["Edge", "Step", "Reading (gf)", "Date"])]


def test_a_workbook_with_dates_counted_from_1900_and_from_1904(tmp_path):
    rows = [(1, HEAD), (2, [cell(2, 0, "A"), cell(2, 1, "new"), cell(2, 2, 176.10000000000002), cell(2, 3, 45811, style=1)])]
    xlsx(tmp_path / "a.xlsx", {"log": sheet_of(rows)})
    out, _ = taken("a.xlsx", folder=tmp_path)
    assert out.splitlines() == ["edge,step,reading_gf,date", "A,new,176.10000000000002,2025-06-03"]
    rows[1][1][3] = cell(2, 3, 44349, style=1)
    xlsx(tmp_path / "b.xlsx", {"log": sheet_of(rows)}, date1904=True)
    assert taken("b.xlsx", folder=tmp_path)[0].splitlines()[1].endswith("2025-06-03")
    # a date that is kept as a plain number is counted as the workbook counts
    rows[1][1][3] = cell(2, 3, 44349)
    xlsx(tmp_path / "c.xlsx", {"log": sheet_of(rows)}, date1904=True)
    out, err = taken("c.xlsx", folder=tmp_path)
    assert out.splitlines()[1].endswith("2025-06-03") and "days since 1904" in err


def test_formulas_give_their_stored_values_and_are_never_worked_out(tmp_path):
    rows = [(1, HEAD[:3]), (2, [cell(2, 0, "A"), cell(2, 1, "new"), cell(2, 2, 180, formula="90*2+1")])]
    xlsx(tmp_path / "a.xlsx", {"log": sheet_of(rows)})
    out, err = taken("a.xlsx", folder=tmp_path)
    assert out.splitlines()[1] == "A,new,180"
    assert "of 1 formula in Reading (gf), the values that were stored with them are taken" in " ".join(err.split())
    rows[1][1][2] = cell(2, 2, None, formula="90*2")
    xlsx(tmp_path / "b.xlsx", {"log": sheet_of(rows)})
    assert "cell C2" in refused("formula-without-value", "b.xlsx", folder=tmp_path)


def test_a_fault_names_the_cell_and_the_sheet(tmp_path):
    rows = [(1, HEAD[:3]), (4, [cell(4, 0, "A"), cell(4, 1, "new"), cell(4, 2, "about 180")])]
    xlsx(tmp_path / "a.xlsx", {"log": sheet_of(rows)})
    err = refused("not-a-number", "a.xlsx", folder=tmp_path)
    assert 'a.xlsx:4:9: cell C4 of sheet "log": "about 180" is not a number' in err


def test_two_sheets_of_readings_are_an_error_that_shows_both(tmp_path):
    rows = [(1, HEAD[:3]), (2, [cell(2, 0, "A"), cell(2, 1, "new"), cell(2, 2, 180)])]
    other = [(1, [cell(1, 0, "who"), cell(1, 1, "telephone")])]
    xlsx(tmp_path / "one.xlsx", {"people": sheet_of(other), "2025": sheet_of(rows)})
    out, err = taken("one.xlsx", folder=tmp_path)
    assert out.splitlines()[1] == "A,new,180" and "of 2 sheets this one has columns of readings" in " ".join(err.split())
    xlsx(tmp_path / "two.xlsx", {"2024": sheet_of(rows), "2025": sheet_of(rows)})
    err = refused("ambiguous", "two.xlsx", folder=tmp_path)
    assert '"2024" or "2025"' in err
    taken("two.xlsx", "--sheet", "2024", folder=tmp_path)


def test_ods_with_remarks_repeats_and_its_own_first_day(tmp_path):
    head = "<table:table-row>" + "".join(map(text_cell, ["edge", "step", "reading_gf", "date"])) + "</table:table-row>"
    remark = "<office:annotation><text:p>not this</text:p></office:annotation>"
    row = (
        "<table:table-row>" + text_cell("A", remark) + text_cell("new") + number_cell("176.5")
        + '<table:table-cell office:value-type="date" office:date-value="2025-06-03T10:00:00"/></table:table-row>'
    )
    plain = "<table:table-row>" + text_cell("A") + text_cell("new") + number_cell(180) + number_cell(44349) + "</table:table-row>"
    empty = '<table:table-row table:number-rows-repeated="1048570"><table:table-cell table:number-columns-repeated="16384"/></table:table-row>'
    first = '<table:calculation-settings><table:null-date table:date-value="1904-01-01"/></table:calculation-settings>'
    ods(tmp_path / "a.ods", head + row + plain + empty, first)
    out, _ = taken("a.ods", folder=tmp_path)
    assert out.splitlines() == ["edge,step,reading_gf,date", "A,new,176.5,2025-06-03", "A,new,180,2025-06-03"]


def test_a_hidden_sheet_of_an_ods_is_not_among_the_sheets_to_choose_from(tmp_path):
    head = "<table:table-row>" + "".join(map(text_cell, ["edge", "step", "reading_gf"])) + "</table:table-row>"
    row = "<table:table-row>" + text_cell("{}") + text_cell("new") + number_cell(176) + "</table:table-row>"
    style = '<s:style xmlns:s="s" s:name="ta2" s:family="table"><s:table-properties table:display="{}"/></s:style>'
    other = '<table:table table:name="old" table:style-name="ta2">' + head + row.format("B") + "</table:table>"
    ods(tmp_path / "hidden.ods", head + row.format("A"), style.format("false") + other)
    assert taken("hidden.ods", folder=tmp_path)[0].splitlines()[1:] == ["A,new,176"]
    ods(tmp_path / "shown.ods", head + row.format("A"), style.format("true") + other)
    assert '"old" or "log"' in refused("ambiguous", "shown.ods", folder=tmp_path)


def test_cells_that_go_over_several_rows_count_for_each_but_readings_are_not_guessed(tmp_path):
    rows = [
        (1, HEAD[:3]),
        (2, [cell(2, 0, "A"), cell(2, 1, "new"), cell(2, 2, 180)]),
        (3, [cell(3, 0, None), cell(3, 2, 182)]),
        (5, [cell(5, 2, 184)]),
        (6, [cell(6, 0, "B"), cell(6, 1, "new"), cell(6, 2, 170)]),
    ]
    merged = '<mergeCells count="2"><mergeCell ref="A2:A5"/><mergeCell ref="{}"/></mergeCells></worksheet>'
    whole = sheet_of(rows)
    xlsx(tmp_path / "a.xlsx", {"log": whole.replace("</worksheet>", merged.format("B2:B5"))})
    out, err = taken("a.xlsx", folder=tmp_path)
    assert out.splitlines()[1:] == ["A,new,180", "A,new,182", "A,new,184", "B,new,170"]
    assert "cells of Edge and Step that go over several rows count for each of these rows" in " ".join(err.split())
    rows[3] = (5, [cell(5, 1, "new"), cell(5, 2, 184)])
    rows[4] = (6, [cell(6, 0, "B"), cell(6, 1, "new")])
    rows[2] = (3, [cell(3, 1, "new"), cell(3, 2, 182)])
    xlsx(tmp_path / "b.xlsx", {"log": sheet_of(rows).replace("</worksheet>", merged.format("C5:C6"))})
    err = " ".join(refused("ambiguous", "b.xlsx", folder=tmp_path).split())
    assert 'C5:C6 of sheet "log" are one cell: 184 may be one reading, or one in each row' in err
    # the same in an ods
    head = "<table:table-row>" + "".join(map(text_cell, ["edge", "step", "reading_gf"])) + "</table:table-row>"
    first = text_cell("A").replace("<table:table-cell", '<table:table-cell table:number-rows-spanned="2"')
    second = "<table:table-row><table:covered-table-cell/>" + text_cell("new") + number_cell(182) + "</table:table-row>"
    ods(tmp_path / "a.ods", head + "<table:table-row>" + first + text_cell("new") + number_cell(180) + "</table:table-row>" + second)
    assert taken("a.ods", folder=tmp_path)[0].splitlines()[1:] == ["A,new,180", "A,new,182"]


def test_hidden_sheets_with_readings_are_told(tmp_path):
    row = [(1, HEAD[:3]), (2, [cell(2, 0, "A"), cell(2, 1, "new"), cell(2, 2, 180)])]
    xlsx(tmp_path / "a.xlsx", {"2024": sheet_of(row), "2025": sheet_of(row)})
    hide(tmp_path / "a.xlsx", "2024")
    assert '--sheet "2024" would be read instead' in " ".join(taken("a.xlsx", folder=tmp_path)[1].split())
    hide(tmp_path / "a.xlsx", "2025")
    err = " ".join(refused("no-readings", "a.xlsx", folder=tmp_path).split())
    assert "all sheets that have something in them are hidden" in err and "2024 or 2025" in err
    taken("a.xlsx", "--sheet", "2024", folder=tmp_path)


def test_a_workbook_that_unpacks_without_end_is_refused(tmp_path):
    start = time.monotonic()
    rows = '<worksheet><sheetData><row r="1">' + " " * 450_000_000 + "</row></sheetData></worksheet>"
    xlsx(tmp_path / "bomb.xlsx", {"log": rows})
    assert (tmp_path / "bomb.xlsx").stat().st_size < 1_000_000
    refused("too-large", "bomb.xlsx", folder=tmp_path)
    # one text in each cell of a sheet as large as sheets can be
    many = (
        '<table:table-row table:number-rows-repeated="1048576"><table:table-cell office:value-type="string" '
        'table:number-columns-repeated="16384"><text:p>x</text:p></table:table-cell></table:table-row>'
    )
    ods(tmp_path / "bomb.ods", many)
    refused("too-large", "bomb.ods", folder=tmp_path)
    long = many.replace(">x<", ">" + "x" * 100_000 + "<")
    ods(tmp_path / "long.ods", long)
    refused("too-large", "long.ods", folder=tmp_path)
    assert time.monotonic() - start < 120


def test_xml_that_grows_or_nests_or_is_damaged_is_refused(tmp_path):
    grows = '<!DOCTYPE w [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;">]><worksheet>&b;</worksheet>'
    xlsx(tmp_path / "dtd.xlsx", {"log": grows})
    assert "document type" in refused("not-a-workbook", "dtd.xlsx", folder=tmp_path)
    xlsx(tmp_path / "deep.xlsx", {"log": "<a>" * 5000 + "</a>" * 5000})
    refused("not-a-workbook", "deep.xlsx", folder=tmp_path)
    xlsx(tmp_path / "cut.xlsx", {"log": sheet_of([(1, HEAD)])})
    whole = (tmp_path / "cut.xlsx").read_bytes()
    (tmp_path / "cut.xlsx").write_bytes(whole[: len(whole) // 2])
    refused("not-a-workbook", "cut.xlsx", folder=tmp_path)
    (tmp_path / "old.xls").write_bytes(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(100))
    refused("not-a-workbook", "old.xls", folder=tmp_path)
    with zipfile.ZipFile(tmp_path / "other.xlsx", "w") as z:
        z.writestr("word/document.xml", "<a/>")
    refused("not-a-workbook", "other.xlsx", folder=tmp_path)
    xlsx(tmp_path / "far.xlsx", {"log": sheet_of([(1, ['<c r="ZZZZ1"><v>1</v></c>'])])})
    refused("too-large", "far.xlsx", folder=tmp_path)


def test_a_million_rows_are_read(tmp_path):
    row = '<row r="{0}"><c r="A{0}" t="str"><v>A</v></c><c r="B{0}"><v>176</v></c></row>'
    head = '<row r="1"><c r="A1" t="str"><v>edge</v></c><c r="B1" t="str"><v>reading_gf</v></c></row>'
    text = "".join(row.format(r) for r in range(2, 1_000_002))
    xlsx(tmp_path / "many.xlsx", {"log": f"<worksheet><sheetData>{head}{text}</sheetData></worksheet>"})
    got = run("import", "many.xlsx", "--out", "many.csv", folder=tmp_path)
    assert got.returncode == 0, got.stderr
    assert (tmp_path / "many.csv").read_text().count("\n") == 1_000_001


def test_a_round_trip_through_a_workbook_keeps_every_cell_and_makes_no_formula(tmp_path):
    text = (
        "edge,step,reading_gf,operator,date,note\n"
        "A,new,176.5,K,2025-06-03,'=1+1\n"
        'A,new,180,007,2025-06-04,"\'@a, ""b"" <&> µ"\n'
        "A,new,181,,,http://example.org\n"
    )
    (tmp_path / "r.csv").write_text(text)
    got = run("import", "r.csv", "--out", "r.xlsx", folder=tmp_path)
    assert got.returncode == 0, got.stderr
    with zipfile.ZipFile(tmp_path / "r.xlsx") as z:
        sheets = [z.read(n).decode() for n in z.namelist() if n.startswith("xl/worksheets/sheet")]
        workbook = z.read("xl/workbook.xml").decode()
    assert re.findall(r'sheet name="(\w+)"', workbook) == ["readings", "columns"]
    assert len(sheets) == 2 and not any("<f>" in sheet for sheet in sheets)
    back, _ = taken("r.xlsx", folder=tmp_path)
    assert list(csv.reader(io.StringIO(back))) == list(csv.reader(io.StringIO(text)))


def test_readings_of_a_configuration_can_be_several_files_of_any_kind(tmp_path):
    rows = [(1, HEAD), (2, [cell(2, 0, "A"), cell(2, 1, "new"), cell(2, 2, 176), cell(2, 3, 45811, style=1)])]
    xlsx(tmp_path / "2025.xlsx", {"log": sheet_of(rows)})
    (tmp_path / "june.csv").write_text("edge;sharp (N);Datum\nA;1,85;3.6.2025\n")
    (tmp_path / "shop.toml").write_text(
        SHOP + '[readings]\nfile = ["2025.xlsx", "june.csv"]\ncolumns = { "Datum" = "date" }\nmoments = { "sharp (N)" = "new" }\n'
    )
    got = run("check", "shop.toml", folder=tmp_path)
    assert got.returncode == 0, got.stderr
    assert "june.csv: columns are separated by semicolons." in got.stderr
    assert "decimal comma" in got.stderr
    assert 'file = ["2025.xlsx", "june.csv"]' in got.stdout
    got = run("readings", "shop.toml", "--json", "r.json", folder=tmp_path)
    assert got.returncode == 0, got.stderr
    # each file stands among what was read, with the sum of its own bytes
    inputs = (tmp_path / "r.json").read_text()
    assert "2025.xlsx" in inputs and "june.csv" in inputs
    err = run("import", "june.csv", "--config", "shop.toml", "--out", "june.csv", folder=tmp_path).stderr
    assert "[would-overwrite]" in err


def add(folder, reading, *more):
    return run("log", "add", "log.csv", "--edge", "check", "--reading", reading, *more, folder=folder)


def test_a_log_grows_and_the_tester_is_checked_by_it(tmp_path):
    values = [180, 183, 179, 182, 178, 181, 184, 180, 179, 182, 181, 183, 210]
    for day, value in enumerate(values, 1):
        got = add(tmp_path, value, "--date", f"2025-06-{day:02}", "--lot", "N-07")
        assert got.returncode == 0, got.stderr
    again = add(tmp_path, 205, "--date", "2025-06-13", "--lot", "N-07")
    assert again.stdout.startswith("check,,,205,2,,N-07,2025-06-13")
    got = run("log", "check", "log.csv", "--base", 12, "--out", "c.h5", "--json", "c.json", folder=tmp_path)
    assert got.returncode == 0, got.stderr
    assert "The tester, or check itself, has changed. 2025-06-13 reads 207.5 gf, above the limit of" in " ".join(got.stdout.split())
    got = run("report", "c.h5", "--figure", "control", "--out", "c.svg", folder=tmp_path)
    assert got.returncode == 0, got.stderr
    assert (tmp_path / "c.svg").read_text().count("<circle") >= 13
    assert run("report", "c.h5", "--out", "c.html", folder=tmp_path).returncode == 0


def test_a_log_holds_the_check_edge_beside_the_edges_of_a_configuration(tmp_path):
    (tmp_path / "shop.toml").write_text(SHOP + '[readings]\nfile = "log.csv"\ncheck_edge = "check"\n')
    days = [f"2025-06-{d:02}" for d in range(1, 13)]
    (tmp_path / "log.csv").write_text(
        "edge,step,reading_gf,date\n"
        + "".join(f"check,,{180 + (i * 7) % 5},{day}\nA,new,{150 + i},{day}\n" for i, day in enumerate(days))
    )
    fitted = run("readings", "shop.toml", folder=tmp_path)
    assert fitted.returncode == 0, fitted.stderr
    assert "12 rows of the check edge" in fitted.stderr and "arris log check" in fitted.stderr
    assert re.search(r"\b12 readings of 1 edge", fitted.stdout), fitted.stdout
    checked = run("log", "check", "shop.toml", folder=tmp_path)
    assert checked.returncode == 0, checked.stderr
    assert "check" in checked.stdout and "180" in checked.stdout
    added = run("log", "add", "log.csv", "--edge", "check", "--reading", "181", "--config", "shop.toml", folder=tmp_path)
    assert added.returncode == 0, added.stderr
    # any other name that the configuration does not have is a slip
    wrong = run("log", "add", "log.csv", "--edge", "chek", "--reading", "181", "--config", "shop.toml", folder=tmp_path)
    assert wrong.returncode == 3 and "[unknown-edge]" in wrong.stderr


def test_a_table_without_edges_is_no_table_of_readings(tmp_path):
    ods(tmp_path / "a.ods", f"<table:table-row>{text_cell('Klinge')}{text_cell('Kraft (N)')}</table:table-row>"
        f"<table:table-row>{text_cell('A1')}{number_cell('1.8')}</table:table-row>")
    assert "--column" in refused("missing-column", "a.ods", folder=tmp_path)
    assert "there is no column of readings" in refused("missing-column", "b.csv", folder=written(tmp_path / "b.csv", "edge,note\nA1,x\n"))


def test_a_reading_that_cannot_be_one_leaves_the_log_as_it_was(tmp_path):
    assert add(tmp_path, 180).returncode == 0
    before = (tmp_path / "log.csv").read_bytes()
    (tmp_path / "shop.toml").write_text(SHOP)
    for words in (["x"], ["-3"], ["180", "--unit", "N"], ["180", "--unit", "kg"], ["180", "--replicate", "0"], ["180", "--date", "2025-02-30"],
                  ["180", "--config", "shop.toml"]):
        got = add(tmp_path, *words)
        assert got.returncode in (2, 3), (words, got.stdout)
        assert (tmp_path / "log.csv").read_bytes() == before
    # a row that was cut off, or has a cell too many
    for row in (b"check,,\n", b"check,,,181,1,,N-07,2025-06-03,,,,,\n"):
        (tmp_path / "log.csv").write_bytes(before + row)
        got = add(tmp_path, 182)
        assert got.returncode == 3 and "log.csv:3:1: " in got.stderr and "[wrong-count]" in got.stderr
        assert (tmp_path / "log.csv").read_bytes() == before + row
        assert run("log", "check", "log.csv", folder=tmp_path).returncode == 3
    assert sorted(p.name for p in tmp_path.iterdir()) == ["log.csv", "shop.toml"]


def test_many_at_once_and_kills_lose_nothing(tmp_path):
    started = [
        subprocess.Popen(
            [PROGRAM, "log", "add", "log.csv", "--edge", f"E{i}", "--reading", str(100 + i), "--quiet"],
            cwd=tmp_path, stderr=subprocess.PIPE,
        )
        for i in range(12)
    ]
    assert [p.wait(timeout=120) for p in started] == [0] * 12
    for p in started:
        p.stderr.close()
    rows = list(csv.DictReader((tmp_path / "log.csv").open()))
    assert sorted(int(r["reading_gf"]) for r in rows) == list(range(100, 112))
    # killed at any moment: the log is what it was, or has the whole row
    done = 12
    for i in range(20):
        before = (tmp_path / "log.csv").read_bytes()
        p = subprocess.Popen([PROGRAM, "log", "add", "log.csv", "--edge", "K", "--reading", str(200 + i), "--quiet"], cwd=tmp_path)
        time.sleep(0.002 * i)
        p.kill()
        p.wait(timeout=60)
        after = (tmp_path / "log.csv").read_bytes()
        assert after.startswith(before)
        assert after == before or after[len(before) :].count(b"\n") == 1
        done += after != before
    rows = list(csv.DictReader((tmp_path / "log.csv").open()))
    assert len(rows) == done
    assert add(tmp_path, 300).returncode == 0


@pytest.mark.parametrize("words, code", [(["--column", "x"], "bad-option"), (["--decimal", "dot"], "bad-form")])
def test_options_that_say_nothing_are_refused(tmp_path, words, code):
    (tmp_path / "r.csv").write_text("edge,step,reading_gf\nA,new,180\n")
    refused(code, "r.csv", *words, folder=tmp_path, exit_code=2)
