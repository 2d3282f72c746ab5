"""Nikon D70 series of Tkacik et al., PLoS ONE 6:e20409 (2011), UPENN natural image database."""

from __future__ import annotations

import csv

import numpy as np
import pytest

from profiler.calibration import pipeline
from profiler.files.level_table import read_table
from profiler.files.sheet import parse_sheet

SHEET = parse_sheet("file,reading,mode,iso\n*,EV 8,spot,200\n", "sheet.csv")
CLIP = {"R": 16384.0, "G": 16380.0, "B": 16384.0}


def fitted(shared_data, times):
    measurement = read_table(shared_data / "d70" / "exposure.csv")
    return pipeline.fit(measurement, SHEET, times=times).results[0]


def rms(result):
    residuals = [f.residual_ev for f in result.frames if f.used]
    assert len(residuals) >= 20
    return float(np.sqrt(np.mean(np.square(residuals))))


def test_clip_is_found(shared_data):
    result = fitted(shared_data, "best")
    assert {name: c.clip_dn for name, c in result.channels.items()} == CLIP
    assert all(c.clip_seen for c in result.channels.values())
    assert not result.clip_headroom_ev.lower_bound


def test_exact_times_are_chosen(shared_data):
    result = fitted(shared_data, "best")
    assert result.time_rule.used == "exact"
    assert rms(result) <= 0.03
    assert rms(fitted(shared_data, "as-marked")) >= 0.04
    # the same 0.1 EV of f/11 in every frame doesn't touch the residuals
    assert result.time_rule.rms_exact_ev == pytest.approx(rms(result))


# a dozen rows of exposure.csv, so that a lone clone is checked too
ROWS = """\
f_number,time_s,R,G,B
11,0.01,438.181,371.529,184.454
11,0.016666667,708.546,592.164,296.69
11,0.02,894.414,749.136,377.541
11,0.033333333,1417.99,1188,603.839
11,0.05,2232.55,1859.12,940.588
11,0.066666667,2876.89,2402.36,1221.18
11,0.1,4538.49,3778.46,1920.94
11,0.125,5821.87,4834.52,2460.39
11,0.25,11372,9410.28,4829.91
11,0.5,16384,16380,9871.07
11,1,16384,16380,16384
11,2,16384,16380,16384
"""


def test_quoted_rows(tmp_path):
    table = tmp_path / "rows.csv"
    table.write_text(ROWS)
    result = pipeline.fit(read_table(table), SHEET).results[0]
    assert result.time_rule.used == "exact"
    assert {name: c.clip_dn for name, c in result.channels.items()} == CLIP
    assert result.first_to_clip == "R"
    # ratio of levels at 1/8 s
    assert result.channels["R"].metered_dn / result.channels["G"].metered_dn == pytest.approx(
        1.20, abs=0.01
    )


def test_step_from_200_to_250(shared_data, tmp_path):
    """One time and aperture, ten ISO labels: 200 to 250 is +0.44 EV where +0.32 was asked."""
    folder = shared_data / "d70"
    rows = list(csv.DictReader((folder / "iso.csv").read_text().splitlines()))
    table = tmp_path / "iso.csv"
    with table.open("w", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(["file", "time_s", "f_number", "iso", "R", "Gr", "Gb", "B"])
        for row in rows:
            writer.writerow(
                [f"iso{row['iso']}", 1 / 250, 2.8, row["iso"]]
                + [row[c] for c in ("R", "Gr", "Gb", "B")]
            )
        # dark.csv, the same body under the lens cap at short times: R 1, G 8, B 2
        for row in rows:
            writer.writerow([f"dark{row['iso']}", 1 / 250, 2.8, row["iso"], 1, 8, 8, 2])
    text = "file,reading,mode\n*,EV 8,spot\n"
    text += "".join(f"dark{row['iso']},dark,\n" for row in rows)
    profile = pipeline.fit(read_table(table), parse_sheet(text, "sheet.csv"))
    level = {r.iso: r for r in profile.results}
    asked = np.log2(250 / 200)
    for name in ("R", "G1", "G2", "B"):
        at = [level[iso].channels[name].metered_dn for iso in (200, 250)]
        # levels at one and the same exposure: the metered one moves with the label
        assert np.log2(at[1] / at[0]) + asked == pytest.approx(0.44, abs=0.03)
    assert all(r.clip_headroom_ev.lower_bound for r in profile.results)


def test_black_lies_within_its_interval(shared_data):
    """dark.csv at short times: R 1, G 8, B 2. Here the line alone gives black; the shutter of this
    body is late by some 0.1 ms, which looks like a lower one."""
    for times in ("exact", "as-marked"):
        result = fitted(shared_data, times)
        assert result.black_source == "fit"
        for name, dark in (("R", 1.0), ("G", 8.0), ("B", 2.0)):
            channel = result.channels[name]
            assert abs(channel.black_dn - dark) < 2.0 * channel.black_u_dn
            assert channel.black_u_dn < 8.0
