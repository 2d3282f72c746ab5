"""Nikon D70 aperture series, 1/250 s at ISO 1000, of the UPENN natural image database (Tkacik et
al., PLoS ONE 6:e20409, 2011).

Its iris moves in half stops: marks in thirds fall together, f/7.1 and f/8 differ by 0.01 EV in
level where their marks ask for 0.33.
"""

from __future__ import annotations

import csv
from itertools import pairwise

import numpy as np
import pytest

from profiler.calibration.instruments.lenses import measure_lenses
from profiler.files.level_table import read_table
from profiler.files.sheet import parse_sheet

LENS = "the series' lens"


def lenses(rows, tmp_path):
    """The lens of rows (f-number, R, G, B) at 1/250 s, against its own f/8."""
    table = tmp_path / "aperture.csv"
    with table.open("w", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(["file", "time_s", "f_number", "iso", "R", "G", "B"])
        writer.writerows([f"{10 * n:03.0f}", 1 / 250, n, 1000, *levels] for n, *levels in rows)
        # dark.csv, the same body under the lens cap at short times: R 1, G 8, B 2
        writer.writerows([f"dark{k}", 1 / 250, 8, 1000, 1, 8, 2] for k in range(2))
    sheet = parse_sheet(
        f"file,reading,mode,lens\n*,,,{LENS}\ndark0,dark,,\ndark1,dark,,\n", "sheet.csv"
    )
    # one frame each: 1/250 s throughout, so that the shutter's error is one
    return measure_lenses(
        read_table(table), sheet, calibrated=LENS, aperture=8.0, electronic_shutter=True
    )


def steps_ev(found):
    """Mark -> stops that the iris really closes by, from the mark before it."""
    marks = found.lenses[0].marks
    # the exact third of a stop that a mark stands for, and what the iris gives beside it
    given = {m.aperture: m.iris_ev.value - round(6.0 * np.log2(m.aperture)) / 3.0 for m in marks}
    at = sorted(given)
    return {n: given[before] - given[n] for before, n in pairwise(at)}


# rows of aperture.csv, so that a lone clone is checked too
ROWS = (
    (5.0, 10337.569, 6325.58, 2576.1067),
    (5.6, 7746.7511, 4713.3667, 1933.5567),
    (6.3, 7090.8211, 4337.7556, 1772.52),
    (7.1, 4216.3833, 2570.3111, 1041.4089),
    (8.0, 4178.4156, 2553.1356, 1034.3822),
    (9.0, 3363.0333, 2061.4511, 829.96889),
)


def test_quoted_rows(tmp_path):
    steps = steps_ev(lenses(ROWS, tmp_path))
    assert steps[8.0] == pytest.approx(0.01, abs=0.01)
    assert steps[6.3] < 0.15
    # straight from the quoted levels of the green channel, dark 8
    assert steps[5.6] == pytest.approx(np.log2((6325.58 - 8) / (4713.3667 - 8)), abs=0.01)


def test_the_iris_moves_in_half_stops(shared_data, tmp_path):
    text = (shared_data / "d70" / "aperture.csv").read_text().splitlines()
    rows = [[float(row[k]) for k in ("f_number", "R", "G", "B")] for row in csv.DictReader(text)]
    found = lenses(rows, tmp_path)
    marks = [mark.aperture for mark in found.lenses[0].marks]
    assert marks[0] == 2.5  # at f/1.8 and f/2 all channels clip, at f/2.2 blue nearly does
    steps = steps_ev(found)
    assert steps[8.0] == pytest.approx(0.01, abs=0.01)
    together = [n for n, step in steps.items() if step < 0.2]
    assert together == [3.5, 4.5, 6.3, 8.0, 13.0, 18.0, 22.0]
    apart = [step for step in steps.values() if step >= 0.2]
    travelled = sum(step for step in steps.values())
    assert travelled / len(apart) == pytest.approx(0.5, abs=0.1)
