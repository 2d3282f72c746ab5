"""The report holds the profile's numbers, in order, escaped, from inside itself only."""

from __future__ import annotations

import hashlib
import itertools
import os
import re
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest

from profiler.errors import GreytareError
from profiler.flags import KINDS
from profiler.show.report import document as report

KEPT = Path(__file__).resolve().parents[2] / "fixtures" / "profile-v1.profile.json"
PNG = b"\x89PNG\r\n\x1a\n" + bytes(8)


@pytest.fixture(scope="module")
def text(kept):
    return report.report_page(kept, preview=PNG)


@pytest.fixture(scope="module")
def page(text, page_of):
    return page_of(text)


@pytest.fixture(scope="module")
def odd_text(odd):
    return report.report_body(odd)


@pytest.fixture(scope="module")
def odd_page(odd_text, page_of):
    return page_of(odd_text)


# by hand from fixtures/profile-v1.profile.json: offset = headroom - 2.963, EI = label / 2^offset
FIRST = [
    ["ISO label", "EI to set", "or give", "headroom, stops", "footroom, stops"],
    [
        "100 spot, daylight",
        "EI 125",
        "-0.3 ± 0.2 EV give 0.3 stop less",
        "2.7 ± 0.2 green clips first",
        "5.5 ± 0.2 to SNR 10; 9.9 ± 0.2 to SNR 1",
    ],
    [
        "400 spot, daylight",
        "EI 500",
        "-0.3 ± 0.2 EV give 0.3 stop less",
        "2.7 ± 0.2 green clips first",
        "3.7 ± 0.2 to SNR 10; 8.6 ± 0.2 to SNR 1",
    ],
    [
        "800 spot, daylight",
        "EI 1000",
        "-0.3 ± 0.2 EV give 0.3 stop less",
        "2.6 ± 0.2 green clips first",
        "2.7 ± 0.2 to SNR 10; 7.7 ± 0.2 to SNR 1",
    ],
]


def test_what_to_do_first(page):
    assert page.grids["gt-first-table"].rows == FIRST
    assert "At ISO 400 your meter and this body disagree: give 0.3 stop less" in page.text
    assert page.text.index("At ISO 100 your meter") < page.text.index("Each point is the patch")


def test_the_same_in_numbers(page):
    rows = page.grids["gt-numbers-table"].rows
    assert rows[2][1:] == [
        "-0.3 ± 0.2",
        "480 (440 to 530)",
        "590 (540 to 650)",
        "2.7 ± 0.2",
        "at least 2.3 ± 0.2",
        "8.6 ± 0.2",
        "3.7 ± 0.2",
        "-0.1 ± 0.2",
    ]


def test_every_frame_is_listed(page, kept):
    for k, result in enumerate(kept.results):
        rows = page.grids[f"gt-frames-{k}"].rows[1:]
        assert [row[0] for row in rows] == [frame.file for frame in result.frames]
        for row, frame in zip(rows, result.frames, strict=True):
            assert float(row[1]) == pytest.approx(frame.placement_ev, abs=0.005)
            off = None if row[2] == "" else float(row[2])
            assert off == (
                None if frame.residual_ev is None else pytest.approx(frame.residual_ev, abs=0.0051)
            )
            assert (row[-1] == "on the line") is frame.used
            levels = [float(cell) for cell in row[5:9]]
            assert levels == pytest.approx(list(frame.level_dn.values()), rel=1e-3)
    assert page.grids["gt-frames-0"].rows[1][3] == "1/640 s"


def test_channels_with_clip_and_noise(page):
    assert page.grids["gt-channels-0"].rows[2] == [
        "Green 1 (rows of red)",
        "512.0 ± 0.2",
        "16000.0 ± 0.6",
        "2407 ± 19",
        "2.69 ± 0.02",
    ]
    noise = page.grids["gt-noise-0"].rows
    assert noise[1][:4] == ["Red", "3.82 ± 0.05", "5.1 ± 0.1", "1.35"]


def test_figures_of_the_standard(odd_page):
    assert "gt-emva-1" not in odd_page.grids
    assert odd_page.grids["gt-emva-3"].rows[1] == [
        "Red",
        "2.00",
        "6.10",
        "3.05",
        "12.0",
        "-0.5 to +0.5",
    ]


def test_black_by_source(page):
    rows = page.grids["gt-black-0"].rows
    assert [row[0] for row in rows[1:]] == ["dark frames", "masked pixels", "tag", "fit", "used"]
    assert rows[4] == ["fit", "512.7", "513.2", "513.1", "512.9"]
    assert rows[5][1] == "512.0 ± 0.2"


def test_iso_steps_and_shutter_times(page, kept):
    rows = page.grids["gt-iso-table"].rows
    assert [row[0] for row in rows[1:]] == ["100 to 400", "400 to 800"]
    assert [float(row[3]) for row in rows[1:]] == pytest.approx(
        [row.step_ev - row.asked_ev for row in kept.iso_steps], abs=0.005
    )
    shutter = page.grids["gt-shutter-table"].rows
    assert len(shutter) == len(kept.shutter) + 1
    assert shutter[1] == ["1/5000 s", "0.00 ± 0.03", "2"]


def test_budget_adds_up(page, kept):
    rows = page.grids["gt-budget-0"].rows
    assert {"half-width, EV", "u, EV", "contribution, EV"} <= set(rows[0])
    assert rows[1][0].startswith("meter repeatability ±0.1 EV")
    assert rows[1][1:] == ["B", "rectangular", "0.100", "0.058", "1", "∞", "0.058"]
    scatter = next(row for row in rows if row[0].startswith("scatter of the frames"))
    assert scatter[1:] == ["A", "t", "", "0.006", "1", "34", "0.006"]
    assert rows[-2] == ["combined standard uncertainty", *[""] * 5, "over 1000", "0.071"]
    assert rows[-1] == ["expanded, 95 %, k = 1.96", *[""] * 6, "0.14"]
    assert len(rows) == len(kept.results[0].budget) + 3


def test_provenance_with_every_hash(page, kept):
    rows = page.grids["gt-files"].rows[1:]
    assert rows == [[frame.file, frame.sha256] for frame in kept.provenance.frames]
    for fact in (kept.provenance.created, kept.provenance.software, "EV 10.3", "0004217"):
        assert fact in page.text
    assert "240 × 160 px, its upper left corner 360 px from the left and 240 px down" in page.text


def test_three_zeros(page):
    # REF: ISO 12232 log2(7.8) = 2.963; K = 12.5 with q = 0.65: 3.263; C = 250, 18 % card: 3.067
    assert "10/S, lies 2.96 stops below clip" in page.text
    assert "K 12.5 cd/m² lies 3.26 below" in page.text
    assert "C 250 lx lies 3.07 below" in page.text
    assert "+0.30 EV (give 0.3 stop more)" in page.text


def test_headings_in_order(page, odd_page):
    levels = [level for level, _, _ in page.headings]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in itertools.pairwise(levels))
    assert 1 not in [level for level, _, _ in odd_page.headings]
    for parts in (page, odd_page):
        sections = [(id, name) for level, id, name in parts.headings if level == 2]
        assert sections == list(report.SECTIONS)
    assert page.headings[0][2] == "Profile of Halden H2"


def test_tables_are_tables(page, odd_page):
    for parts in (page, odd_page):
        for id, grid in parts.grids.items():
            assert grid.caption, id
            assert None not in grid.scopes, id
            assert len({len(row) for row in grid.rows}) == 1, id


def test_ids_are_unique_and_found(page, odd_page):
    for parts in (page, odd_page):
        assert len(parts.ids) == len(set(parts.ids))
        inside = {a[1:] for a in parts.sources if a.startswith("#")}
        assert inside | set(parts.refers) <= set(parts.ids)


def test_nothing_from_outside(text, page, odd_text):
    for whole in (text, odd_text):
        assert set(re.findall(r"https?:[^\"\s<]*", whole)) == {"http://www.w3.org/2000/svg"}
        assert "//" not in re.sub(r"https?://www\.w3\.org/2000/svg|data:[^\"]*", "", whole)
        assert set(re.findall(r"url\(([^)]*)\)", whole)) <= {
            f"#{id}" for id in re.findall(r' id="([^"]*)"', whole)
        }
        assert "@import" not in whole
    assert not {"script", "link", "iframe", "object", "base"} & set(page.tags)
    assert all(a.startswith(("#", "data:image/png;base64,")) for a in page.sources)


def test_svg_parses(text, odd_text):
    for whole in (text, odd_text):
        drawn = re.findall(r"<svg .*?</svg>", whole, flags=re.DOTALL)
        plots = [ElementTree.fromstring(svg) for svg in drawn if 'class="gt-plot"' in svg]
        assert len(plots) >= 8
        assert all(plot.get("role") == "img" and plot.get("aria-label") for plot in plots)


def test_names_are_escaped(evil, page_of):
    whole = report.report_page(evil)
    assert "<script" not in whole.lower()
    assert "&lt;script&gt;alert(" in whole
    assert "serial &lt;script&gt;" in whole
    assert "script" not in page_of(whole).tags


def test_bounds_say_so_everywhere(odd_page):
    first = odd_page.grids["gt-first-table"].rows[1]
    assert first[1].startswith("at most EI 125 not to be set")
    assert first[2].endswith("not known, at most 0.3 ± 0.2 stop less")
    assert first[3].startswith("at least 2.7")
    numbers = odd_page.grids["gt-numbers-table"].rows[1]
    assert [cell.partition(" ")[0] + cell[2:8] for cell in numbers[1:5]] == [
        "at least",
        "at most ",
        "at most ",
        "at least",
    ]
    channel = odd_page.grids["gt-channels-0"].rows[1]
    assert channel[2].startswith("at least 16000")
    assert channel[4].startswith("at least 3.38")


def test_every_flag_with_its_advice(odd_page, page):
    for name, doubt in KINDS.items():
        assert name in odd_page.text
        assert doubt.meaning in odd_page.text
        assert doubt.advice in odd_page.text
    assert "No flag on any result." in page.text


def test_what_was_not_measured_is_said(odd, odd_page, page):
    assert odd_page.grids["gt-first-table"].rows[2][4] == "not measured"
    assert "Not measured: too few levels for the noise." in odd_page.text
    assert odd_page.grids["gt-modes-table"].rows[1] == [
        "spot against incident-dome",
        "800",
        "+0.6 ± 0.2",
        "+0.64",
        "0.0 ± 0.2",
    ]
    assert "the line stands alone" in odd_page.text
    assert "the line stands alone" not in page.text
    assert odd.results[3].frames[2].flags == ("slip",)
    assert odd_page.grids["gt-frames-3"].rows[3][-1] == "left out, slip"


def test_preview_is_inside_or_missed(text, odd_text):
    assert 'src="data:image/png;base64,iVBORw0KGgo' in text
    assert "No preview was kept" in odd_text
    assert "<img" not in odd_text


def test_other_previews_are_refused(kept):
    with pytest.raises(GreytareError, match="neither PNG nor JPEG"):
        report.report_body(kept, preview=b"GIF89a")


def test_style_stays_inside(text):
    style = report.report_css()
    assert style in text
    selectors = re.findall(r"([^{}]+)\{[^{}]*\}", re.sub(r"@[^{]+\{", "", style))
    assert len(selectors) > 50
    for selector in selectors:
        assert all(part.strip().startswith(".gt-report") for part in selector.split(",")), selector
    assert "@media print" in style
    assert "@media (prefers-color-scheme: dark)" in style
    defined = set(re.findall(r"(--gt-[a-z0-9-]+):", style))
    assert defined == set(re.findall(r"var\((--gt-[a-z0-9-]+)\)", style))


def test_each_colour_of_a_plot_turns_with_the_screen(odd_text):
    plots = "".join(re.findall(r'<svg [^>]*class="gt-plot".*?</svg>', odd_text, flags=re.DOTALL))
    used = set(re.findall(r'(fill|stroke)="(#[0-9a-f]{6})"', plots))
    assert len(used) > 8
    turned = set(re.findall(r'svg \[(fill|stroke)="(#[0-9a-f]{6})"\]', report.report_css()))
    assert used <= turned


def test_same_profile_same_bytes(kept, text):
    assert report.report_page(kept, preview=PNG) == text
    code = (
        "import hashlib; from profiler.files.profile import load_profile; from pathlib import Path;"
        "from profiler.show.report.document import report_page;"
        f"p = load_profile(Path({str(KEPT)!r})); t = report_page(p, preview={PNG!r});"
        "print(hashlib.sha256(t.encode()).hexdigest())"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | {"PYTHONHASHSEED": "7"},
    )
    assert done.stdout.strip() == hashlib.sha256(text.encode()).hexdigest()
