"""Differences and outliers against drawn fleets with known errors in common."""

from __future__ import annotations

import math
from dataclasses import replace

import fleetlab
import numpy as np
import pytest
from scipy import stats

from profiler.errors import GreytareError
from profiler.fleet import p_values
from profiler.fleet.compare import body_names, compare_bodies, compare_meters, difference, of_body
from profiler.fleet.correlation import Correlation, covariance, factors
from profiler.fleet.drift import histories
from profiler.fleet.lines import Line
from profiler.fleet.models import _medians_of_others, _variance_against_median, compare_models
from profiler.fleet.read_rows import profile_rows
from profiler.show.fleet.body import body_answer
from profiler.show.fleet.compare import model_answer
from profiler.show.fleet.lines import line_words
from profiler.show.fleet.plots import model_figure
from profiler.show.fleet.words import Cases

OWN = fleetlab.OWN_U
REPEAT = fleetlab.REPEAT_U
RESOLUTION = fleetlab.RESOLUTION_U


@pytest.fixture(scope="module")
def base(tmp_path_factory):
    """A row to make others from."""
    folder = tmp_path_factory.mktemp("base")
    path = fleetlab.keep(folder, "a", fleetlab.profile("1", 0.0), date="2026-03-01")
    return profile_rows(path, below=folder)[0]


def row(base, serial, offset, **changes):
    half = 1.959964 * fleetlab.U
    numbers = {"offset_ev": offset, "offset_low_ev": offset - half, "offset_high_ev": offset + half}
    return replace(base, camera_serial=serial, series=serial, **(numbers | changes))


def test_one_meter_cancels_in_part(base):
    a, b = row(base, "1", 0.5), row(base, "2", 0.2)
    found = difference(a, b, "offset_ev")
    u = math.sqrt(2.0 * (fleetlab.U**2 - 0.5 * REPEAT**2))
    assert found.value_ev == pytest.approx(0.3)
    assert found.u_ev == pytest.approx(u)
    assert found.correlation == pytest.approx(0.5 * REPEAT**2 / fleetlab.U**2)
    assert found.common_ev == {"meter repeatability": pytest.approx(REPEAT * math.sqrt(0.5))}
    assert found.high_ev - found.value_ev == pytest.approx(1.95996 * u, rel=1e-4)
    assert found.significant
    assert not difference(row(base, "1", 0.25), b, "offset_ev").significant


@pytest.mark.parametrize(
    ("changes", "sharing", "variance"),
    [
        ({"meter_serial": "9"}, 0.5, 2 * fleetlab.U**2),
        ({"meter_serial": ""}, 0.5, 2 * fleetlab.U**2),
        ({}, 0.0, 2 * fleetlab.U**2),
        ({}, 1.0, 2 * (OWN**2 + RESOLUTION**2)),
        ({"session": "s"}, 0.5, 2 * OWN**2),
        ({"session": "s"}, 0.0, 2 * OWN**2),
    ],
)
def test_what_is_common(base, changes, sharing, variance):
    session = {"session": "s"} if "session" in changes else {}
    a = row(base, "1", 0.5, **session)
    found = difference(
        a, row(base, "2", 0.2, **changes), "offset_ev", Correlation(repeatability=sharing)
    )
    assert found.u_ev**2 == pytest.approx(variance)


def test_a_calibrated_meter_and_one_card_cancel(base):
    whole = fleetlab.U**2 + 0.04**2 + 0.02**2
    extra = {
        "offset_u_ev": math.sqrt(whole),
        "shared_calibration_ev": 0.04,
        "shared_card_ev": 0.02,
        "card": "c7",
    }
    a, b = row(base, "1", 0.5, **extra), row(base, "2", 0.2, **extra)
    found = difference(a, b, "offset_ev", Correlation(repeatability=0.0))
    assert found.u_ev**2 == pytest.approx(2 * fleetlab.U**2)
    assert set(found.common_ev) == {"meter calibration", "card reflectance"}
    other = difference(a, replace(b, card="c8"), "offset_ev", Correlation(repeatability=0.0))
    assert other.u_ev**2 == pytest.approx(2 * (fleetlab.U**2 + 0.02**2))


def test_differences_spread_as_stated(base):
    """Pull of 4000 drawn differences: errors of one meter, in the parts that the model says."""
    rng = np.random.default_rng(5)
    n = 4000
    slow = rng.normal(0.0, REPEAT * math.sqrt(0.5), n)
    sides = [
        slow
        + rng.normal(0.0, REPEAT * math.sqrt(0.5), n)
        + rng.normal(0.0, RESOLUTION, n)
        + rng.normal(0.0, OWN, n)
        for _ in range(2)
    ]
    u = difference(row(base, "1", 0.0), row(base, "2", 0.0), "offset_ev").u_ev
    pulls = (sides[0] - sides[1]) / u
    assert np.mean(pulls) == pytest.approx(0.0, abs=4.0 / math.sqrt(n))
    assert np.std(pulls) == pytest.approx(1.0, abs=4.0 / math.sqrt(2 * n))


def test_few_degrees_of_freedom_widen(base):
    a = row(base, "1", 0.5, effective_dof=4.0)
    found = difference(a, row(base, "2", 0.2), "offset_ev")
    dof = found.u_ev**4 / (fleetlab.U**4 / 4.0)
    k = (found.high_ev - found.value_ev) / found.u_ev
    assert k == pytest.approx(stats.t.ppf(0.975, math.floor(dof)), rel=1e-4)


def test_what_cannot_be_compared(base):
    a = row(base, "1", 0.5)
    for change, says in [
        ({"iso": 800}, "iso is 400 in one, 800 in the other"),
        ({"light": "led"}, "light is daylight in one"),
        ({"aim_stops": 2.0}, "aim_stops"),
        ({"lower_bound": True}, "only a lower bound"),
    ]:
        with pytest.raises(GreytareError, match=says):
            difference(a, row(base, "2", 0.2, **change), "offset_ev")


def test_bodies_by_serial_or_tag(base):
    rows = [
        row(base, "007", 0.5, asset_tag="A"),
        row(base, "007", 0.4, asset_tag="A", iso=100),
        row(base, "008", 0.2, asset_tag="B", date="2025-01-01"),
        row(base, "008", 0.3, asset_tag="B"),
    ]
    (found,) = compare_bodies(rows, "A", "008", "offset_ev")
    assert found.value_ev == pytest.approx(0.2)
    with pytest.raises(GreytareError, match="there is no body '7'"):
        of_body(rows, "7")
    with pytest.raises(GreytareError, match="names several bodies"):
        of_body([*rows, row(base, "9", 0.0, asset_tag="A")], "A")
    with pytest.raises(GreytareError, match="have no offset_ev with one lens"):
        compare_bodies([*rows, row(base, "9", 0.0, iso=50)], "9", "A", "offset_ev")


def test_every_body_has_a_name_of_its_own(base):
    rows = [
        row(base, "007", 0.5, asset_tag="A"),
        row(base, "008", 0.2, asset_tag="A"),
        row(base, "009", 0.3, asset_tag=""),
        row(base, "009", 0.3, asset_tag="", camera_model="Orrin X6"),
        replace(row(base, "", 0.1, asset_tag=""), series="shelf/one"),
        row(base, "A", 0.1, asset_tag="C"),
    ]
    names = body_names(rows)
    assert list(names.values())[:2] == ["007", "008"]
    assert names[rows[5].body] == "C"
    assert len(set(names.values())) == 6
    for one in rows:
        assert {found.body for found in of_body(rows, names[one.body])} == {one.body}


def test_several_meters_on_one_body(base):
    rows = [
        row(base, "1", 0.5),
        row(base, "1", 0.2, meter_serial="M2"),
        row(base, "1", 0.21, meter_serial="M3"),
        row(base, "2", 0.0),
    ]
    found = compare_meters(rows, "offset_ev")
    assert [(f.a.meter_serial, f.b.meter_serial) for f in found] == [
        ("000731", "M2"),
        ("000731", "M3"),
        ("M2", "M3"),
    ]
    assert [f.significant for f in found] == [True, True, False]
    assert {f.correlation for f in found} == {0.0}


def drawn(base, rng, n, spread, **changes):
    slow = rng.normal(0.0, REPEAT * math.sqrt(0.5))
    errors = rng.normal(0.0, math.sqrt(fleetlab.U**2 - 0.5 * REPEAT**2), n)
    bodies = rng.normal(0.1, spread, n) if spread else np.full(n, 0.1)
    return [row(base, f"{k:03d}", float(bodies[k] + slow + errors[k]), **changes) for k in range(n)]


@pytest.mark.parametrize("spread", [0.0, 0.06])
def test_outliers_are_found_and_few_others(base, spread):
    """100 fleets of 40 with one odd body: it is found, and at most 5 % of fleets accuse another."""
    rng = np.random.default_rng(12)
    found = wrong = 0
    for _ in range(100):
        rows = drawn(base, rng, 40, spread)
        rows[7] = row(base, "007", rows[7].offset_ev + 0.75)
        (group,) = compare_models(rows, "offset_ev")
        names = {one.row.camera_serial for one in group.deviations if one.outlier}
        found += "007" in names
        wrong += bool(names - {"007"})
    assert found == 100
    assert wrong <= 5 + 4 * math.sqrt(5 * 0.95)


def test_chi_squared_and_spread(base):
    """Birge ratio 1 where the uncertainties explain all; the spread is found where they don't."""
    rng = np.random.default_rng(3)
    plain = [compare_models(drawn(base, rng, 30, 0.0), "offset_ev")[0] for _ in range(200)]
    chi = [group.chi_squared for group in plain]
    assert np.mean(chi) == pytest.approx(29.0, abs=4.0 * math.sqrt(2 * 29 / 200))
    assert np.mean([g.probability < 0.05 for g in plain]) == pytest.approx(0.05, abs=0.06)
    wide = [compare_models(drawn(base, rng, 200, 0.15), "offset_ev")[0] for _ in range(20)]
    assert np.mean([g.spread_ev for g in wide]) == pytest.approx(0.15, rel=0.1)
    assert all(g.birge_ratio > 1.5 for g in wide)


def test_chi_squared_against_the_whole_matrix(base):
    rng = np.random.default_rng(4)
    rows = drawn(base, rng, 9, 0.1)
    rows = [
        replace(r, meter_serial=("a", "b", "c")[k % 3], session="s" if k < 4 else "")
        for k, r in enumerate(rows)
    ]
    (group,) = compare_models(rows, "offset_ev")
    matrix = covariance(rows, "offset_ev", Correlation())
    assert np.allclose(np.sqrt(np.diag(matrix)), fleetlab.U)
    y = np.array([r.offset_ev for r in rows])
    inverse = np.linalg.inv(matrix)
    centred = y - inverse.sum(axis=0) @ y / inverse.sum()
    assert group.chi_squared == pytest.approx(centred @ inverse @ centred, rel=1e-9)


@pytest.mark.parametrize("n", [2, 3, 4, 9, 30])
@pytest.mark.parametrize(("mixed", "good_to"), [(False, 0.03), (True, 0.07)])
def test_variance_against_the_median_by_monte_carlo(base, n, mixed, good_to):
    """Another road to the same number: draw errors with the covariance, take medians of others."""
    rng = np.random.default_rng(n)
    rows = [row(base, f"{k:02d}", 0.0) for k in range(n)]
    if mixed:
        rows = [
            replace(r, meter_serial="ab"[k % 2], session="s" if k % 3 else "")
            for k, r in enumerate(rows)
        ]
    own, loads = factors(rows, "offset_ev", Correlation())
    said = np.sqrt(_variance_against_median(own, loads))
    errors = rng.multivariate_normal(np.zeros(n), np.diag(own) + loads @ loads.T, 20000)
    others = np.stack([np.median(np.delete(errors, k, axis=1), axis=1) for k in range(n)], axis=1)
    if not mixed and n == 3:
        good_to = 0.05  # an even number of others: their mean is better than a median
    assert said == pytest.approx((errors - others).std(axis=0), rel=good_to)


@pytest.mark.parametrize("n", [2, 3, 4, 5, 10, 11])
def test_medians_of_others(n):
    y = np.round(np.random.default_rng(n).normal(size=n), 1)
    expected = [np.median(np.delete(y, k)) for k in range(n)]
    assert _medians_of_others(y) == pytest.approx(expected)


def test_the_meter_that_most_bodies_share_is_preferred_and_named(base):
    """Also where another meter was used later; what only the other measured stays, and is told."""
    by_one = [row(base, f"{k}", 0.01 * k) for k in range(3)]
    later = replace(by_one[0], meter_serial="B", date="2026-05-01", offset_ev=0.4)
    (group,) = compare_models([*by_one, later], "offset_ev")
    assert {one.row.meter_serial for one in group.deviations} == {base.meter_serial}
    words = f"All by one meter, Sprig Lm-3 {base.meter_serial}: its errors cancel."
    assert model_answer("", group).lead[0] == words
    other = row(base, "9", 0.02, meter_serial="B")
    (group,) = compare_models([*by_one, later, other], "offset_ev")
    assert {one.row.meter_serial for one in group.deviations} == {base.meter_serial, "B"}
    assert (
        model_answer("", group)
        .lead[0]
        .startswith(
            f"3 of 4 bodies by Sprig Lm-3 {base.meter_serial}, the meter that most of them share;"
        )
    )


def test_bounds_and_single_bodies(base):
    rows = [row(base, "1", 0.1), row(base, "2", 0.0, lower_bound=True), row(base, "3", 0.0, iso=50)]
    low, group = sorted(compare_models(rows, "offset_ev"), key=lambda g: g.case)
    assert (low.median_ev, low.deviations) == (0.0, ())
    assert group.median_ev == pytest.approx(0.1)
    assert [r.camera_serial for r in group.bounds] == ["2"]


def test_ten_thousand_bodies_need_no_matrix(base):
    rng = np.random.default_rng(1)
    rows = drawn(base, rng, 10_000, 0.02)
    (group,) = compare_models(rows, "offset_ev")
    assert group.chi_squared / 9999 == pytest.approx(1.0, abs=0.3)
    assert sum(one.outlier for one in group.deviations) <= 2


# upper 5 % points as the NIST/SEMATECH e-Handbook prints them (1.3.6.7.4)
@pytest.mark.parametrize(
    ("value", "dof"),
    [(3.841, 1), (5.991, 2), (11.070, 5), (18.307, 10), (31.410, 20), (124.342, 100)],
)
def test_chi_squared_tail_against_the_handbook(value, dof):
    assert p_values.chi_squared_tail(value, dof) == pytest.approx(0.05, abs=2e-5)


def test_holm():
    """Hand-worked: 4 x 0.01, 3 x 0.02, then not below the one before."""
    assert p_values.holm([0.02, 0.01, 0.6, 0.03]) == pytest.approx([0.06, 0.04, 0.6, 0.06])


# 95 % points of Student's t as JCGM 100:2008 prints them (table G.2)
@pytest.mark.parametrize(
    ("t", "dof"),
    [(12.71, 1), (4.30, 2), (3.18, 3), (2.57, 5), (2.23, 10), (2.09, 20), (2.01, 50), (1.960, 1e9)],
)
def test_two_sided_against_the_guide(t, dof):
    assert p_values.two_sided(t, dof) == pytest.approx(0.05, abs=7e-4)
    assert p_values.two_sided(-t, dof) == p_values.two_sided(t, dof)


def test_two_sided_of_infinite_dof_is_normal():
    assert p_values.two_sided(1.959964) == pytest.approx(0.05, abs=1e-6)
    assert p_values.two_sided(math.inf, 5.0) == 0.0


def test_bounds_are_said_to_be_bounds(base):
    """At least so much headroom is at most that EI; a bound is held against nothing."""
    bound = row(base, "3", 0.2, lower_bound=True)
    rows = [row(base, "1", 0.1), row(base, "2", 0.3), bound]
    (group,) = compare_models(rows, "offset_ev")
    assert [note.text for note in model_answer("Halden H2", group).notes] == [
        "Halden H2 3: only a lower bound is known, so it is left out."
    ]
    assert model_figure(group).axes[0].get_xlabel() == "offset less the median of the others, EV"
    lines = [
        line_words(Line(row=each, verdict="", worst=None, expired=False, held=False))
        for each in rows
    ]
    assert [line.ei.startswith("at most ") for line in lines] == [False, False, True]
    assert [line.offset.startswith("at least ") for line in lines] == [False, False, True]
    told = body_answer(rows[:2], histories(rows[:1], "offset_ev"), "offset_ev", Cases(rows))
    assert "Short lines: control limits from the calibrations before." in told.parts[0].lead[0]
    (note,) = body_answer([rows[0], bound], [], "offset_ev", Cases(rows)).notes
    assert note.text == "1 result with only a lower bound is left out of the histories."
    (note,) = body_answer([bound, bound], [], "offset_ev", Cases(rows)).notes
    assert note.text == "2 results with only a lower bound are left out of the histories."
