"""Each doubt is raised where its limit is passed, with its size, and not before."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from profiler.calibration.assemble import budget_rows, flags
from profiler.calibration.assemble.result import check_actionable
from profiler.errors import MeasureError
from profiler.results import Source


def names(found):
    return [flag.name for flag in found]


def exposure(*, f_number=8.0, time_s=1 / 64, iso=100, own_reading=False):
    return SimpleNamespace(
        f_number=f_number, time_s=time_s, iso=iso, own_reading=own_reading, readings={}
    )


def frames_case(deviation, *, slips=(), f_numbers=(8.0,), scatter=0.05, doubt=0.0):
    deviation = np.array(deviation)
    response = SimpleNamespace(
        slips=slips,
        deviation_ev=deviation,
        kept=np.array([i not in slips for i in range(deviation.size)]),
        scatter_ev=scatter,
    )
    exposures = [exposure(f_number=f_numbers[i % len(f_numbers)]) for i in range(deviation.size)]
    return SimpleNamespace(
        fit=SimpleNamespace(response=response),
        group=SimpleNamespace(
            exposures=exposures,
            frames=[SimpleNamespace(file=f"{i}.dng") for i in range(deviation.size)],
            mode="spot",
        ),
        series_fit=SimpleNamespace(doubt=doubt),
    )


@pytest.mark.parametrize(
    ("off", "detail"),
    [
        (1.0, "this frame is 1.0 stop off the others: f/8 typed for f/5.6? 1/60 s typed for"),
        (-2.0, "this frame is 2.0 stops off the others: f/8 typed for f/16? 1/60 s typed for"),
        (0.5, "this frame is 0.5 stop off the others"),
    ],
)
def test_a_slip_is_named_with_what_may_have_happened(off, detail):
    (flag,) = flags.frame_flags(frames_case([0.0, off, 0.0, 0.0, 0.0], slips=(1,)))
    assert (flag.name, flag.size, flag.where) == ("slip", off, "1.dng")
    assert flag.detail.startswith(detail)
    assert (":" in flag.detail) is (off != 0.5)


@pytest.mark.parametrize(("many", "raised"), [(3, ["few-frames"]), (4, [])])
def test_few_frames(many, raised):
    case = frames_case([0.0] * many + [math.nan])
    assert names(flags.frame_flags(case)) == raised


@pytest.mark.parametrize(
    ("f_numbers", "stops"),
    [
        ((math.sqrt(8.0), 8.0), [3.0]),
        ((math.sqrt(8.0), 4.0), [1.0]),
        ((math.sqrt(8.0), 2.0), []),
        ((4.0, 8.0), []),
        ((None,), []),
    ],
)
def test_apertures_from_either_side_of_the_bands(f_numbers, stops):
    found = list(flags.frame_flags(frames_case([0.0] * 6, f_numbers=f_numbers)))
    assert names(found) == ["mixed-apertures"] * len(stops)
    assert [flag.size for flag in found] == pytest.approx(stops)


@pytest.mark.parametrize(("scatter", "raised"), [(0.08, []), (0.1, ["uneven-exposures"])])
def test_uneven_exposures(scatter, raised):
    assert names(flags.frame_flags(frames_case([0.0] * 6, scatter=scatter))) == raised


def test_a_slip_of_a_reading_of_its_own_is_the_readings():
    reading = SimpleNamespace(aperture=5.6, time_s=0.5, iso=200.0)
    own = exposure(own_reading=True)
    own.readings = {"spot": (reading,)}
    typed = flags.typed(own, "spot")
    assert (typed.reading, typed.f_number, typed.time_s, typed.iso) == (True, 5.6, 0.5, 200.0)
    plain = flags.typed(exposure(), "spot")
    assert (plain.reading, plain.f_number, plain.iso) == (False, 8.0, 100.0)
    assert flags.typed(exposure(iso=None), "spot").iso is None


def clip_case(*, bound=False, bell=(False, False), bend=False, curved=False, offset=0.0):
    ends = [SimpleNamespace(seen=True, bell=each, u_dn=3.0 + k) for k, each in enumerate(bell)]
    return SimpleNamespace(
        fit=SimpleNamespace(
            clip=ends,
            bend=SimpleNamespace(found=bend, limit=0.5),
            curvature=SimpleNamespace(seen=curved, part=0.03),
        ),
        headroom=SimpleNamespace(lower_bound=bound, name="G"),
        headroom_ev=2.963 + offset,
    )


@pytest.mark.parametrize(
    ("more", "raised", "size"),
    [
        ({}, [], 0.0),
        ({"bell": (False, True)}, ["clip-smeared"], 4.0),
        # half of the straight line's range is one stop under clip
        ({"bend": True}, ["bends-before-clip"], 1.0),
        ({"bend": True, "curved": True}, ["bends-before-clip"], 1.0),
        ({"curved": True}, ["curved-response"], 3.0),
        ({"bound": True, "offset": 3.0}, ["clip-not-seen"], 5.963),
        ({"offset": 3.0}, ["unusual-offset"], 3.0),
        ({"offset": -3.0}, ["unusual-offset"], -3.0),
    ],
)
def test_clip_and_line(more, raised, size):
    found = list(flags.clip_flags(clip_case(**more)))
    assert names(found) == raised
    assert [flag.size for flag in found] == [pytest.approx(size, abs=1e-3)] * len(raised)


@pytest.mark.parametrize(
    ("step", "stated", "raised"),
    [(0.5, None, ["coarse-reading"]), (1 / 3, None, []), (0.5, 0.5, []), (0.1, None, [])],
)
def test_a_coarse_display(step, stated, raised):
    case = SimpleNamespace(
        reading_error=SimpleNamespace(step_ev=step), meter=SimpleNamespace(resolution_ev=stated)
    )
    assert names(flags.reading_flags(case)) == raised


def cell(*, neighbour=1.0, temporal=None, top_share=0.0, gap=1, step=0, cut=0.0):
    return SimpleNamespace(
        neighbour_variance_dn2=neighbour,
        temporal_variance_dn2=temporal,
        top_share=top_share,
        gap_period=gap,
        code_step=step,
        bottom_share=cut,
    )


def shown(*cells):
    return SimpleNamespace(channels=dict(enumerate(cells)), flags=(), masked={})


def group(frames=(), darks=()):
    return SimpleNamespace(group=SimpleNamespace(frames=frames, darks=darks))


def test_smoothing_is_told_by_dark_pairs_where_there_are_any():
    dark, lit = shown(cell(neighbour=2.0, temporal=4.0)), shown(cell(neighbour=9.0, temporal=10.0))
    assert flags.smoothing(group([lit], [dark])) == 0.5
    assert flags.smoothing(group([lit])) == 0.9
    assert flags.smoothing(group([shown(cell())])) is None
    piled = shown(cell(neighbour=1.0, temporal=10.0, top_share=0.5))
    assert flags.smoothing(group([piled])) is None


@pytest.mark.parametrize(
    ("gap", "step", "size"), [(1, 0, []), (1, 1, []), (2, 1, [2.0]), (1, 4, [4.0]), (4, 8, [8.0])]
)
def test_codes_that_lie_apart(gap, step, size):
    one = cell(gap=gap, step=step)
    one.top_dn, one.high_edge_dn, one.n = 4000.0, 3000.0, 100
    found = list(flags.coding_flags(group([shown(one)])))
    assert names(found) == ["code-gaps"] * len(size)
    assert [flag.size for flag in found] == size


@pytest.mark.parametrize(("neighbour", "raised"), [(0.9, []), (0.8, ["smoothed-raw"])])
def test_a_smoothed_raw(neighbour, raised):
    one = cell(neighbour=neighbour, temporal=1.0)
    one.top_dn, one.high_edge_dn, one.n = 4000.0, 3000.0, 100
    assert names(flags.coding_flags(group([shown(one)]))) == raised


def transfer(noise, *, pairs=True, quantised=False):
    return SimpleNamespace(
        read_noise_e=noise,
        from_pairs=pairs,
        quantised=quantised,
        dark_variance_dn2=-0.1,
        dark_variance_u=0.2,
    )


def noise_case(transfers, none=()):
    return SimpleNamespace(
        group=SimpleNamespace(darks=(), frames=()),
        transfers=transfers,
        no_transfer=dict(none),
        fit=SimpleNamespace(channels=("R", "G", "B")),
    )


def test_noise_that_is_a_bound_and_noise_that_is_none():
    assert names(flags.noise_flags(noise_case({"R": transfer(3.0), "G": transfer(4.0)}))) == []
    single = {"R": transfer(3.0, pairs=False), "G": transfer(4.0, pairs=False)}
    (bound,) = flags.noise_flags(noise_case(single))
    assert (bound.name, bound.size) == ("noise-upper-bound", 4.0)
    (coarse,) = flags.noise_flags(noise_case({"R": transfer(3.0, quantised=True)}))
    assert coarse.name == "quantised-dark"
    (one,) = flags.noise_flags(noise_case({"R": transfer(3.0), "G": transfer(None)}))
    assert (one.name, one.size, one.unit) == ("noise-not-measured", 1.0, "channel")
    assert one.detail == "(G: the dark variance is -0.1 ± 0.4 DN²)"
    (two,) = flags.noise_flags(noise_case({"R": transfer(None)}, [("B", "no pairs")]))
    assert (two.size, two.unit) == (2.0, "channels")
    assert two.detail.startswith("(R: ")


@pytest.mark.parametrize(("dof", "kept"), [(0.5, 2.0), (2.0, 2.0), (7.0, 7.0)])
def test_scatter_has_two_degrees_of_freedom_at_least(dof, kept):
    """Student's t of fewer has no variance."""
    assert budget_rows.scatter_row(0.02, 6, 0.05, dof).dof == kept


def test_an_interval_that_nobody_can_act_on_names_what_widens_it():
    scatter = SimpleNamespace(source=Source.FIT_SCATTER, contribution_ev=0.8, basis="3 frames")
    meter = SimpleNamespace(source=Source.METER_REPEATABILITY, contribution_ev=0.06, basis="one")
    found = SimpleNamespace(
        offset_ev=SimpleNamespace(low=-1.5, high=1.5), budget=(meter, scatter, meter)
    )
    case = frames_case([0.1, -0.9, 0.4, 2.0], slips=(3,))
    case.group.iso = 400
    with pytest.raises(MeasureError) as caught:
        check_actionable(found, case)
    assert "the offset is only known within ± 1.5 EV" in caught.value.what
    assert "most of it comes from the fit scatter (3 frames); 3 frames lie" in caught.value.what
    assert caught.value.what.endswith("and 1.dng lies 0.9 EV off the others")
    found.offset_ev.low = 0.0
    check_actionable(found, case)
