"""Pictures hold the numbers of the records, with units on their axes."""

from __future__ import annotations

import itertools
import math
import re
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest

from profiler.cli.calibrate.show import PLOT_NAMES
from profiler.errors import GreytareError
from profiler.show import plots
from profiler.show.plots import noise, style

WHOLE = ("bars", "iso", "shutter")
UNITS = re.compile(r"\b(EV|DN|DN²|s)$|\(EV\)$|, e-$|, % of (clip|the highest)$|in EV$")
COUNTED = {"ISO label", "frame, counted in the order of the files", "source"}


def dots(axes, marker):
    """All points drawn as single marks of this shape."""
    lines = [
        line
        for line in axes.lines
        if line.get_linestyle() == "None" and line.get_marker() == marker
    ]
    return np.array(sorted((float(x), float(y)) for line in lines for x, y in line.get_xydata()))


def points(rows):
    """Pairs in rising order, to be compared with dots."""
    return pytest.approx(np.array(sorted(rows)))


def test_the_command_knows_every_plot():
    assert tuple(plots.PLOTS) == PLOT_NAMES


@pytest.mark.parametrize("name", plots.PLOTS)
@pytest.mark.parametrize("which", ["kept", "odd"])
def test_units_on_every_axis(name, which, request):
    profile = request.getfixturevalue(which)
    for result in (None, profile.results[-1]):
        figure = plots.PLOTS[name](profile, result)
        assert figure.axes
        for axes in figure.axes:
            for axis, words in ((axes.xaxis, axes.get_xlabel()), (axes.yaxis, axes.get_ylabel())):
                hidden = not any(tick.get_visible() for tick in axis.get_ticklabels())
                shared = axis.axis_name == "y" and name == "overview" and words == ""
                if (
                    hidden
                    or shared
                    or (words == "" and axes.get_shared_x_axes().get_siblings(axes)[1:])
                ):
                    continue
                assert UNITS.search(words) or words in COUNTED, (name, words)


@pytest.mark.parametrize("name", [n for n in plots.PLOTS if n not in (*WHOLE, "overview")])
def test_all_results_are_stacked(name, kept):
    one, all_of_them = plots.PLOTS[name](kept, kept.results[0]), plots.PLOTS[name](kept, None)
    assert len(all_of_them.axes) == 3 * len(one.axes)
    assert all_of_them.get_figheight() == pytest.approx(3 * one.get_figheight())


def test_channels_differ_in_grey_too():
    for names in (("R", "G1", "G2", "B"), ("R", "G", "B")):
        looks = [style.look(name) for name in names]
        for a, b in itertools.combinations(looks, 2):
            assert a[1] != b[1]
            assert a[2] != b[2]


def test_response_holds_levels_clip_grey_and_aim(kept):
    result = kept.results[1]
    above, below = plots.PLOTS["response"](kept, result).axes
    for name, marker in (("R", "o"), ("B", "^")):
        wanted = [
            (f.placement_ev, f.level_dn[name] - result.channels[name].black_dn)
            for f in result.frames
        ]
        assert dots(above, marker) == points(wanted)
    upright = {round(float(line.get_xdata()[0]), 3) for line in above.lines if _upright(line)}
    clip = result.channels["G1"].headroom_ev
    assert upright == {0.0, round(clip, 3), round(clip - result.aim_stops, 3)}
    wanted = [(f.placement_ev, f.residual_ev) for f in result.frames if f.residual_ev is not None]
    assert dots(below, "o") == points(wanted)


def _upright(line):
    x = line.get_xdata()
    return len(x) == 2 and x[0] == x[1]


def test_response_line_goes_through_the_metered_level(kept):
    result = kept.results[0]
    above = plots.PLOTS["response"](kept, result).axes[0]
    line = next(line for line in above.lines if line.get_label() == "Blue")
    x, y = line.get_data()
    slope = math.log2(y[1] / y[0]) / (x[1] - x[0])
    assert slope == pytest.approx(1.0)
    assert y[0] * 2.0 ** -x[0] == pytest.approx(result.channels["B"].metered_dn)
    assert y[-1] == pytest.approx(result.channels["B"].clip_dn - result.channels["B"].black_dn)


def test_unseen_clip_is_not_drawn(odd):
    result = odd.results[0]
    above = plots.PLOTS["response"](odd, result).axes[0]
    assert "no clip seen" in {text.get_text() for text in above.texts}
    for axes in (above, plots.PLOTS["clip"](odd, result).axes[0]):
        line = next(line for line in axes.lines if line.get_label().startswith("Red"))
        assert max(line.get_xdata()) == pytest.approx(result.channels["R"].headroom_ev)


def test_slips_are_named_and_crossed_out(odd):
    result = odd.results[3]
    for name in ("response", "residuals"):
        axes = plots.PLOTS[name](odd, result).axes[-1]
        assert [y for _, y in dots(axes, "x")] == [1.0]
        assert [text.get_text() for text in axes.texts] == ["…of-a-frame-0042"]


def test_clip_is_a_hundred_per_cent_at_the_headroom(kept):
    result = kept.results[2]
    (axes,) = plots.PLOTS["clip"](kept, result).axes
    for label, name in (("Red", "R"), ("Green 2", "G2")):
        channel = result.channels[name]
        line = next(li for li in axes.lines if li.get_label().startswith(f"{label}: "))
        assert line.get_label() == f"{label}: {channel.headroom_ev:.2f}"
        x, y = line.get_data()
        at = np.interp(channel.headroom_ev - 1.0, x, y)
        assert at == pytest.approx(50.0, abs=0.2)
        assert max(y) == 100.0


def test_transfer_is_the_model(kept):
    channel = kept.results[1].channels["R"]
    signal = np.array([0.0, 100.0])
    dark = 3.3117128470555173**2 + 1.0 / 12.0
    wanted = [dark, dark + 100.0 / 0.9971033622875025]
    assert noise.variance_dn2(channel, signal) == pytest.approx(wanted, rel=1e-6)


def test_transfer_floors_have_the_snr_they_name(kept):
    for result in kept.results:
        (axes,) = plots.PLOTS["transfer"](kept, result).axes
        channel = result.channels[result.footroom_ev.channel]
        marks = [float(line.get_xdata()[0]) for line in axes.lines if _upright(line)]
        assert len(marks) == 3
        variance = noise.variance_dn2(channel, np.array(marks))
        snr = np.array(marks) / np.sqrt(variance)
        assert snr == pytest.approx([1.0, 10.0, 40.0], rel=2e-3)


def test_transfer_refuses_where_there_is_no_noise(odd):
    assert len(plots.PLOTS["transfer"](odd, None).axes) == 3
    with pytest.raises(GreytareError, match="noise was not measured"):
        plots.PLOTS["transfer"](odd, odd.results[1])


def test_iso_holds_headroom_step_error_and_read_noise(kept):
    headroom, steps, dark = plots.PLOTS["iso"](kept, None).axes
    assert dots(headroom, "o") == points((r.iso, r.clip_headroom_ev.value) for r in kept.results)
    assert dots(steps, "o") == points((r.iso, r.step_ev - r.asked_ev) for r in kept.iso_steps)
    line = next(li for li in dark.lines if li.get_linestyle() == "--" and len(li.get_xdata()) == 3)
    assert list(line.get_ydata()) == [r.channels["G1"].read_noise_e for r in kept.results]


def test_shutter_holds_every_time(kept):
    (axes,) = plots.PLOTS["shutter"](kept, None).axes
    assert dots(axes, "o") == points((r.time_s, r.deviation_ev) for r in kept.shutter)
    bars = axes.collections[0].get_segments()
    half = [0.5 * (float(bar[1][1]) - float(bar[0][1])) for bar in bars]
    assert half == pytest.approx([1.959964 * row.u_ev for row in kept.shutter], rel=1e-5)
    with pytest.raises(GreytareError, match="no shutter table"):
        plots.PLOTS["shutter"](replace(kept, shutter=()), None)


def test_budget_bars_add_as_squares(kept):
    (axes,) = plots.PLOTS["budget"](kept, kept.results[0]).axes
    widths = [bar.get_width() for bar in axes.patches]
    assert sorted(widths[1:]) == sorted(row.contribution_ev for row in kept.results[0].budget)
    assert widths[0] == pytest.approx(math.hypot(*widths[1:]))
    assert widths[0] == pytest.approx(kept.results[0].offset_ev.u, rel=1e-6)


@pytest.mark.parametrize("name", plots.PLOTS)
def test_svg_stands_in_a_page(name, odd):
    result = None if name in WHOLE else odd.results[3]
    text = plots.figure_svg(plots.PLOTS[name](odd, result), "a-1", 'says "<x>"')
    root = ElementTree.fromstring(text)
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert root.get("aria-label") == 'says "<x>"'
    assert re.findall(r"https?:[^\"]*", text) == ["http://www.w3.org/2000/svg"]
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(set(ids)) == len(ids)
    assert all(each.startswith("a-1-") for each in ids)
    used = set(re.findall(r"url\(#([^)]+)\)", text)) | set(re.findall(r'href="#([^"]+)"', text))
    assert used == set(ids)
    # no style sheet, which would reach out into the page
    tags = {element.tag.rpartition("}")[2] for element in root.iter()}
    assert not tags & {"style", "script", "metadata"}
    assert " style=" not in text
    assert len(text) < 60_000


def test_svg_is_the_same_each_time_also_beside_others(kept):
    def draw(name):
        result = None if name in WHOLE else kept.results[0]
        return plots.figure_svg(plots.PLOTS[name](kept, result))

    names = ["response", "transfer", "clip", "iso"] * 2
    one_by_one = [draw(name) for name in names]
    with ThreadPoolExecutor(4) as pool:
        assert list(pool.map(draw, names)) == one_by_one
    assert one_by_one[:4] == one_by_one[4:]


def test_own_prefix_differs_from_picture_to_picture(kept):
    one, two = (
        set(re.findall(r' id="([^"]+)"', plots.figure_svg(plots.PLOTS["clip"](kept, result))))
        for result in kept.results[:2]
    )
    assert one
    assert not one & two


@pytest.mark.parametrize(
    ("ending", "start"), [("png", b"\x89PNG"), ("pdf", b"%PDF"), ("svg", b"<?xml")]
)
def test_plots_are_saved(ending, start, kept, tmp_path):
    path = tmp_path / f"clip.{ending}"
    assert plots.save_plot(kept, "clip", path, kept.results[0]) is None
    first = path.read_bytes()
    assert first.startswith(start)
    older = plots.save_plot(kept, "clip", path, kept.results[0])
    assert older is not None
    assert older.read_bytes() == first == path.read_bytes()


def test_other_endings_are_refused(kept, tmp_path):
    with pytest.raises(GreytareError, match=r"can't be written as \.gif"):
        plots.save_plot(kept, "clip", tmp_path / "clip.gif")
    with pytest.raises(ValueError, match="kind must be one of png, pdf, svg"):
        plots.figure_bytes(plots.PLOTS["clip"](kept, None), "gif")
    assert list(tmp_path.iterdir()) == []


def test_names_with_a_dollar_are_drawn_as_they_are(evil):
    for name, draw in plots.PLOTS.items():
        figure = draw(evil, None if name in WHOLE else evil.results[0])
        assert "<script" not in plots.figure_svg(figure)
    title = plots.PLOTS["clip"](evil, evil.results[0])
    assert "$a_{b$" in plots.figure_svg(title)


def test_words_need_no_drawing():
    code = (
        "import sys; import profiler.show.calibration.profile, profiler.show.plots; "
        "import profiler.show.report.document, profiler.show.card; "
        "print([m for m in ('matplotlib', 'jinja2', 'scipy', 'pydantic') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
