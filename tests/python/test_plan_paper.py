# SPDX-License-Identifier: MIT
"""What a plan prints: sheets of A4 with the labels, the run sheet, its key and the groups for the wall."""

import csv
import os
import pathlib
import re
import subprocess

PROGRAM = os.environ["ARRIS_PROGRAM"]
STROPS = pathlib.Path(os.environ["ARRIS_SOURCE_DIR"]) / "configs" / "examples" / "two-strops.toml"


def pages_of(pdf):
    """Sizes of its pages, points."""
    data = pdf.read_bytes()
    assert data.startswith(b"%PDF-")
    return [tuple(map(float, m)) for m in re.findall(rb"/MediaBox \[ 0 0 ([0-9.]+) ([0-9.]+) \]", data)]


def test_a_plan_is_printed_on_a4_with_labels_boxes_key_and_routes(tmp_path):
    sizes = {}
    for readings in (1, 4):
        paper, sheet = tmp_path / f"{readings}.pdf", tmp_path / f"{readings}.csv"
        subprocess.run(
            [PROGRAM, "plan", STROPS, "--quiet", "--edges", "4", "--replicates", str(readings), "--moments", "2", "--sheet", sheet, "--paper", paper],
            check=True, capture_output=True,
        )
        rows = [r for r in csv.reader(sheet.read_text().splitlines()) if not r[0].startswith("#")][1:]
        assert len(rows) == 8 * 2 * readings
        pages = pages_of(paper)
        assert all(abs(wide - 595) < 2 and abs(high - 842) < 2 for wide, high in pages)
        sizes[readings] = len(pages)
    # labels, key and two groups take a page each; a run sheet of 16 readings one, one of 64 two
    assert sizes == {1: 5, 4: 6}
