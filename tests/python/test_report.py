# SPDX-License-Identifier: MIT
"""Reports as other programs read them: HTML with every element closed, pictures that are XML, nothing fetched."""

import html.parser
import os
import pathlib
import re
import subprocess
import time
import xml.etree.ElementTree as ET

import pytest

SOURCE = pathlib.Path(os.environ["ARRIS_SOURCE_DIR"])
YARD = SOURCE / "configs" / "boatyard" / "boatyard.toml"
SVG = "{http://www.w3.org/2000/svg}"
# HTML's elements without an end
VOID = {"meta", "link", "br", "hr", "img", "input"}


def run(*arguments):
    return subprocess.run([os.environ["ARRIS_PROGRAM"], *map(str, arguments)], check=True, capture_output=True, text=True)


class Reader(html.parser.HTMLParser):
    """Keeps what is open, and what a page would fetch."""

    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.open, self.faults, self.fetched, self.ids, self.referred, self.counts, self.words = [], [], [], [], [], {}, []

    def handle_starttag(self, tag, attrs):
        attrs = dict(attrs)
        self.counts[tag] = self.counts.get(tag, 0) + 1
        self.ids += [attrs["id"]] if "id" in attrs else []
        for name in ("aria-labelledby", "aria-controls", "for"):
            self.referred += attrs.get(name, "").split()
        for name in ("src", "href", "xlink:href"):
            if name in attrs and not attrs[name].startswith(("#", "data:")):
                self.fetched.append(attrs[name])
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.faults.append((tag, self.getpos()))

    def handle_data(self, data):
        if "script" not in self.open and "style" not in self.open:
            self.words.append(data)


@pytest.fixture(scope="module")
def results(tmp_path_factory):
    folder = tmp_path_factory.mktemp("reports")
    run("simulate", YARD, "--quiet", "--out", folder / "simulate.h5")
    run("gauge", YARD, "--quiet", "--out", folder / "gauge.h5")
    run("fit", YARD, "--quiet", "--starts", "1", "--free", "tester.slope_N_per_um,coefficients.dub_share", "--out", folder / "fit.h5")
    run("forecast", YARD, "--quiet", "--members", "50", "--out", folder / "forecast.h5")
    run("compare", YARD, "--quiet", "--members", "50", "--out", folder / "compare.h5")
    run("sweep", YARD, "--quiet", "--question", "soft-strop", "--out", folder / "soft-strop.h5")
    run("upkeep", YARD, "--quiet", "--members", "20", "--out", folder / "upkeep.h5")
    return folder


KINDS = ["simulate", "gauge", "fit", "forecast", "compare", "soft-strop", "upkeep"]


@pytest.mark.parametrize("kinds", [[k] for k in KINDS] + [KINDS], ids=lambda k: "+".join(k))
def test_a_page_is_well_formed_and_by_itself(results, kinds):
    page = results / "page.html"
    run("report", *(results / f"{k}.h5" for k in kinds), "-o", page, "--quiet")
    text = page.read_text(encoding="utf-8")
    assert len(text.encode()) < 1_000_000

    reader = Reader()
    reader.feed(text)
    reader.close()
    assert reader.faults == [] and reader.open == []
    assert reader.fetched == []
    assert len(reader.ids) == len(set(reader.ids))
    assert set(reader.referred) <= set(reader.ids)
    assert reader.counts["h1"] == reader.counts["main"] == 1
    assert reader.counts["figure"] >= len(kinds)
    # a table behind each figure: some stand in for two that show the same numbers
    assert reader.counts["table"] >= len(kinds)
    words = " ".join(reader.words)
    assert "Sharp edges cut" in words and "not a promise" in words

    pictures = re.findall(r"<svg\b.*?</svg>", text, re.S)
    assert len(pictures) >= len(kinds)
    for picture in pictures:
        root = ET.fromstring(picture)
        assert root.tag == SVG + "svg" and root.get("role") == "img"
        title, described = root.find(SVG + "title"), root.find(SVG + "desc")
        assert title.text and described.text
        assert root.get("aria-labelledby").split() == [title.get("id"), described.get("id")]
        # colours come from the palette only
        for element in root.iter():
            assert not {"fill", "stroke", "style"} & set(element.keys())


def test_a_report_of_all_is_made_within_a_second(results):
    began = time.perf_counter()
    run("report", *(results / f"{k}.h5" for k in KINDS), "-o", results / "timed.html", "--quiet")
    used = time.perf_counter() - began
    size = (results / "timed.html").stat().st_size
    print(f"report of {len(KINDS)} results: {used:.2f} s, {size / 1000:.0f} kB")
    # a second on a machine of its own; tests share theirs, so what counts is the processor's time of the child
    child = os.times()
    run("report", *(results / f"{k}.h5" for k in KINDS), "-o", results / "timed.html", "--quiet")
    after = os.times()
    used = after.children_user + after.children_system - child.children_user - child.children_system
    assert used < (30.0 if "-fsanitize" in run("--version").stdout else 1.0)  # a program with sanitizers is up to twenty times as slow


def test_a_picture_is_xml_with_its_colours_in_it(results):
    run("report", results / "soft-strop.h5", "--figure", "soft-strop", "-o", results / "map.svg", "--quiet")
    root = ET.parse(results / "map.svg").getroot()
    style = root.find(SVG + "style").text
    assert "var(" not in style and "#1b3a5c" in style
    classes = {c for e in root.iter() for c in e.get("class", "").split()}
    assert {"step-0", "step-7", "over"} <= classes


def test_the_picture_of_the_readme_is_that_of_the_program(results):
    run("report", results / "simulate.h5", "--figure", "section", "-o", results / "section.svg", "--quiet")
    ours, theirs = ET.parse(results / "section.svg").getroot(), ET.parse(SOURCE / "docs" / "section.svg").getroot()
    # other compilers may move a point by a hundredth; what is drawn and said is the same
    assert [e.tag for e in ours.iter()] == [e.tag for e in theirs.iter()]
    assert [e.text for e in ours.iter(SVG + "text")] == [e.text for e in theirs.iter(SVG + "text")]
