"""What the pages of a fleet answer, held against the fleet's own library."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime
from urllib.parse import parse_qsl, urlsplit

import fleetlab
import pytest
from starlette.datastructures import QueryParams

from profiler.errors import GreytareError
from profiler.fleet.compare import compare_bodies
from profiler.fleet.decide import body_verdicts, counts, judge, moment
from profiler.fleet.drift import histories
from profiler.fleet.models import compare_models
from profiler.fleet.rules import WORST
from profiler.show.fleet.compare import difference_answer
from profiler.show.fleet.drift import drift_headline
from profiler.show.fleet.words import Cases, body_name
from profiler.web.fleet import charts, differences, drifting, fleet_table, one_body, query
from profiler.web.session import Session


def ask(session, **values):
    return query.ask(session, QueryParams(values))


def chosen(asked):
    """The rows that the filters leave, as the table shows them."""
    return list(asked.rows.take(fleet_table.selected(asked)))


def test_verdicts_are_those_of_the_library(session):
    found = ask(session)
    judged = judge(found.rows, found.tolerances, datetime.now(UTC).date())
    worst: dict[str, str] = {}
    for one in judged:
        worst[one.row.series] = min(worst.get(one.row.series, "in"), one.verdict, key=WORST.index)
    count = counts(body_verdicts(judged))
    assert min(count.values()) > 0
    said = ", ".join(f"{count[name]} {name}" for name in ("in", "out", "undecided"))
    assert fleet_table.answer(found).headline.startswith(f"9 results of 8 bodies: {said}")
    for verdict in ("in", "out", "undecided"):
        lines = chosen(ask(session, verdict=verdict))
        assert {worst[row.series] for row in lines} == {verdict}
    assert chosen(ask(session, verdict="in", tolerances="none")) != []


@pytest.mark.parametrize(
    ("filters", "serials"),
    [
        ({"find": "r2 000002"}, ["000002"]),
        ({"find": "ORRIN"}, ["000004", "000008"]),
        ({"model": "Halden Orrin X6"}, ["000004", "000008"]),
        ({"find": "as-left"}, ["000005"]),
        ({"find": "as-found", "dates": "all"}, ["000005"]),
        ({"find": "nobody"}, []),
        ({"iso": "800"}, ["000001"]),
    ],
)
def test_filters(session, filters, serials):
    lines = chosen(ask(session, **filters))
    assert [row.camera_serial for row in lines] == serials


SORTED_BY = {
    "iso": lambda row: row.iso,
    "mode": lambda row: (row.mode, row.light),
    "date": moment,
    "offset": lambda row: row.offset_ev,
    "ei": lambda row: row.exposure_index,
    "headroom": lambda row: row.clip_headroom_ev,
    "doubts": lambda row: len(row.doubts),
}


def test_every_column_sorts_both_ways(session):
    for name in fleet_table.COLUMNS:
        up = chosen(ask(session, sort=name, dates="all"))
        down = chosen(ask(session, sort=name, order="down", dates="all"))
        assert sorted(map(repr, up)) == sorted(map(repr, down))
        if name in SORTED_BY:
            keys = [SORTED_BY[name](row) for row in up]
            assert keys == sorted(keys)
            assert [SORTED_BY[name](row) for row in down] == keys[::-1]
    assert up[0].asset_tag != "R4"
    assert chosen(ask(session, sort="verdict"))[0].asset_tag == "R4"  # the one that is out
    tags = [row.asset_tag for row in chosen(ask(session))]
    assert tags == ["R1", "R1", "R2", "R3", "R4", "R5", "R6", "R7", "R10"]


def test_pages_of_the_table(session, monkeypatch):
    monkeypatch.setattr(fleet_table, "PAGE", 4)
    first, last, beyond = (
        fleet_table.answer(ask(session, page=page)).html for page in ("1", "3", "70")
    )
    assert "1 to 4 of 9" in first
    assert "9 to 9 of 9" in last
    assert last == beyond.replace("page=70", "page=3")
    assert "Before" not in first
    assert "Next" not in last
    with pytest.raises(GreytareError, match="isn't a whole number"):
        fleet_table.answer(ask(session, page="x"))


def test_models_and_drift_are_those_of_the_library(session):
    found = ask(session)
    groups = compare_models(found.rows, "offset_ev")
    largest = max(groups, key=lambda group: len(group.deviations))
    html = differences.answer(found).html
    for one in largest.deviations:
        assert f"{body_name(one.row)}</a>" in html
    every = histories(found.rows, "offset_ev", tolerances=found.tolerances)
    reply = drifting.answer(found)
    assert reply.headline == drift_headline(every) + "."
    drifting_bodies = [h for h in every if h.trend and h.trend.significant]
    assert [h.body[2] for h in drifting_bodies] == ["000003"]
    body = one_body.answer(ask(session, body="R3"))
    assert drifting_bodies[0].next_check in body.headline
    assert "Significant trend" in body.html


def test_history_chart_holds_the_numbers(session):
    found = ask(session)
    (history,) = (h for h in drifting.all_histories(found)[0] if h.asset_tag == "R3")
    chart = charts.history(history, found.tolerances)
    assert [p["value"] for p in chart["points"]] == [p.value_ev for p in history.points]
    assert [p["high"] - p["low"] for p in chart["points"]] == pytest.approx(
        [2 * 1.959964 * p.u_ev for p in history.points], rel=1e-6
    )
    assert chart["limits"] == [-0.65, 0.15]
    slope = history.trend.slope_ev_per_year
    (day0, at0), (day1, at1) = chart["trend"]
    assert (at1 - at0) / (day1 - day0) * 365.25 == pytest.approx(slope)
    assert chart["points"][0]["control"] is None


def test_pairs_and_meters(session):
    reply = differences.answer(ask(session, what="pair", body="R2", against="R5"))
    assert reply.headline == "Offset of R2 less that of R5: no significant difference."
    assert "meter repeatability 0.0" in reply.html
    reply = differences.answer(ask(session, what="pair", body="R2", against="R4"))
    assert reply.headline.endswith(": significant.")
    assert differences.answer(ask(session, what="pair", body="R2")).waits
    with pytest.raises(GreytareError, match="no body 'R99'"):
        differences.answer(ask(session, what="pair", body="R2", against="R99"))
    assert differences.answer(ask(session, what="meters")).waits


def test_links_carry_what_was_chosen(session):
    html = fleet_table.answer(ask(session, tolerances="limits.toml", common="0.7")).html
    href = html.split('class="who"><a href="')[1].split('"')[0].replace("&amp;", "&")
    values = dict(parse_qsl(urlsplit(href).query))
    assert values == {"tolerances": "limits.toml", "common": "0.7", "body": "R1"}
    again = one_body.answer(query.ask(session, QueryParams(values)))
    assert again.headline.startswith("R1 (Halden H2 000001)")


def test_a_lower_bound_says_so_everywhere(tmp_path):
    made = fleetlab.profile("000001", 0.1)
    (result,) = made.results
    bound = replace(
        result,
        offset_ev=replace(result.offset_ev, lower_bound=True),
        exposure_index=replace(result.exposure_index, lower_bound=True),
        clip_headroom_ev=replace(result.clip_headroom_ev, lower_bound=True),
    )
    fleetlab.keep(tmp_path, "a", replace(made, results=(bound,)))
    session = Session(tmp_path)
    html = fleet_table.answer(ask(session)).html
    assert html.count("at least ") == 2
    assert html.count("at most ") == 1
    reply = one_body.answer(ask(session, body="000001"))
    assert "only a lower bound" in reply.html
    assert "only a lower bound" in differences.answer(ask(session)).html


def results(made, **changes):
    """A profile whose only result has other fields."""
    return replace(made, results=(replace(made.results[0], **changes),))


def test_a_tag_that_came_later_finds_all_of_a_body(tmp_path):
    made = fleetlab.profile("000001", 0.1)
    fleetlab.keep(tmp_path, "a", made, date="2025-01-05")
    fleetlab.keep(tmp_path, "b", made, date="2026-01-05", tag="R1")
    for name in ("R1", "000001", " 000001 "):
        reply = one_body.answer(ask(Session(tmp_path), body=name))
        assert "calibrated on 2 days" in reply.headline


def test_a_body_without_numbers_is_called_by_its_series(tmp_path):
    fleetlab.keep(tmp_path, "shelf/one", fleetlab.profile("", 0.1), date="2026-01-05")
    found = ask(Session(tmp_path))
    (field,) = (each for each in one_body.form(found) if each.name == "body")
    assert field.suggestions == ("shelf/one",)
    reply = one_body.answer(ask(Session(tmp_path), body="shelf/one"))
    assert "calibrated on 1 day" in reply.headline


def test_the_chart_draws_the_interval_that_the_table_states(tmp_path):
    made = fleetlab.profile("000001", 0.1)
    wide = replace(made.results[0].offset_ev, low=-0.2, high=0.4)
    wide_one = results(made, offset_ev=wide, effective_dof=3.0)
    fleetlab.keep(tmp_path, "a", wide_one, date="2026-01-05")
    found = ask(Session(tmp_path))
    (history,) = drifting.all_histories(found)[0]
    (point,) = charts.history(history, None)["points"]
    assert (point["low"], point["high"]) == (-0.2, 0.4)
    assert "+0.1 ± 0.3" in fleet_table.answer(found).html


def test_a_verdict_of_a_body_is_that_of_all_its_latest_results(tmp_path):
    for iso, offset in ((400, 0.0), (800, 0.9), (1600, 0.0)):
        made = fleetlab.profile("000001", offset, iso=iso)
        fleetlab.keep(tmp_path, f"{iso}", made, date="2026-01-05")
    (tmp_path / "limits.toml").write_text("[tolerances]\noffset_ev = {limit = 0.4}\n")
    for filters in ({}, {"find": "iso 400"}, {"verdict": "in"}):
        reply = fleet_table.answer(ask(Session(tmp_path), **filters))
        assert reply.headline.endswith("of 1 body: 0 in, 1 out, 0 undecided.")


def test_what_an_older_meter_found_is_past(tmp_path):
    old = replace(fleetlab.METER, serial="old")
    fleetlab.keep(tmp_path, "a", fleetlab.profile("000001", 0.9, meter=old), date="2019-01-05")
    fleetlab.keep(tmp_path, "b", fleetlab.profile("000001", 0.0), date="2026-06-05")
    text = "interval_days = 36000\n[tolerances]\noffset_ev = {limit = 0.4}\n"
    (tmp_path / "limits.toml").write_text(text)
    found = ask(Session(tmp_path))
    assert fleet_table.answer(found).headline == "1 result of 1 body: 1 in, 0 out, 0 undecided."
    body = one_body.answer(ask(Session(tmp_path), body="000001"))
    assert "verdict: in; next check by 2124" in body.headline


def test_what_a_run_left_is_told_in_the_table_and_by_the_body(tmp_path):
    """From a folder above the run's output, as somebody opens it who keeps several."""
    out = tmp_path / "out"
    fleetlab.keep(out / "profiles", "a", fleetlab.profile("000001", 0.0), date="2026-06-05")
    fleetlab.keep(out / "archive", "gone", fleetlab.profile("000009", 2.0), date="2026-06-05")
    (out / "run.json").write_text("{}")
    series = {"camera_make": "Halden", "camera_model": "Halden H2", "asset_tag": ""}
    left = {
        "format": "greytare-errors",
        "failed": [
            series | {"series": "b", "camera_serial": "000001", "what": "no", "mend": "Go"},
            series | {"series": "c", "camera_serial": "000002", "what": "no", "mend": "Go"},
        ],
        "archived": [series | {"series": "gone", "camera_serial": "000009"}],
    }
    (out / "errors.json").write_text(json.dumps(left))
    (tmp_path / "limits.toml").write_text("[tolerances]\noffset_ev = {limit = 0.4}\n")
    session = Session(tmp_path)
    table = fleet_table.answer(ask(session))
    assert table.headline == "1 result of 1 body: 1 in, 0 out, 0 undecided."
    assert "2 without a verdict; 1 has one, and a failed series" in table.html
    assert "Halden H2 000009: its series are archived" in table.html
    body = one_body.answer(ask(session, body="000001"))
    assert "Its series out/b failed at the last run: no. Go." in body.html
    left["failed"].append(series | {"series": "d", "camera_serial": "000001", "what": "x"})
    (out / "errors.json").write_text(json.dumps(left))
    assert "out/d" in one_body.answer(ask(session, body="000001")).html


def test_a_lower_bound_that_is_in_hides_no_probability(tmp_path):
    made = fleetlab.profile("000001", 0.0)
    bound = replace(made.results[0].clip_headroom_ev, lower_bound=True)
    exact = replace(made.results[0].linear_headroom_ev, lower_bound=False)
    fleetlab.keep(tmp_path, "a", results(made, clip_headroom_ev=bound, linear_headroom_ev=exact))
    (tmp_path / "limits.toml").write_text(
        "[tolerances]\nclip_headroom_ev = {low = 1.0}\nlinear_headroom_ev = {low = 2.5}\n"
    )
    assert "conforms: " in fleet_table.answer(ask(Session(tmp_path))).html


def test_lens_and_aim_are_named_where_there_are_several(session, tmp_path):
    assert "50mm" not in differences.answer(ask(session)).headline
    for k, lens in enumerate(("50mm f/1.4", "85mm f/2")):
        made = fleetlab.profile(f"00000{k}", 0.1)
        made = replace(made, lens=replace(made.lens, model=lens))
        fleetlab.keep(tmp_path, f"{k}", results(made, aim_stops=2.5 + k), date="2026-01-05")
    found = ask(Session(tmp_path))
    html = differences.answer(found).html
    assert "ISO 400, spot, daylight, 50mm f/1.4, aim 2.50" in html
    assert "ISO 400, spot, daylight, 85mm f/2, aim 3.50" in html
    drift = drifting.answer(found).html
    assert "85mm f/2, aim 3.50" in drift


def test_tolerances_that_fit_nothing_say_so(tmp_path):
    fleetlab.keep(tmp_path, "a", fleetlab.profile("000001", 0.1))
    (tmp_path / "limits.toml").write_text("[tolerances]\noffset_ev = {limit = 1, iso = 3200}\n")
    reply = fleet_table.answer(ask(Session(tmp_path)))
    assert "no tolerance holds for any of these results" in reply.html
    assert "limits.toml" in reply.html
    body = one_body.answer(ask(Session(tmp_path), body="000001"))
    assert "verdict: none" in body.headline
    assert "calibrated on an unknown day" in body.headline


def test_numbers_in_names_are_counted(tmp_path):
    for tag in ("A1²", "R10", "R9", "R010", "R" + "1" * 5000):
        fleetlab.keep(tmp_path, tag[:4], fleetlab.profile(f"s{tag[:9]}", 0.1), tag=tag)
    tags = [row.asset_tag for row in chosen(ask(Session(tmp_path)))]
    assert tags[:2] == ["A1²", "R9"]
    assert set(tags[2:4]) == {"R10", "R010"}


def test_a_body_is_not_held_against_itself(session):
    with pytest.raises(GreytareError, match="one and the same body"):
        differences.answer(ask(session, what="pair", body="R2", against="000002"))


def test_a_difference_says_what_to_look_out_for(tmp_path):
    other = replace(fleetlab.METER, serial="other")
    made = fleetlab.profile("000002", 0.1, meter=other)
    fleetlab.keep(tmp_path, "a", fleetlab.profile("000001", 0.1))
    fleetlab.keep(tmp_path, "b", replace(made, meter=replace(made.meter, k_cd_m2=14.0)))
    notes = (
        "How the two meters differ from each other is part of the difference.",
        "Meter constants 12.5 and 14 differ.",
    )
    found = ask(Session(tmp_path), what="pair", body="000001", against="000002")
    assert all(note in differences.answer(found).html for note in notes)
    made = compare_bodies(found.rows, "000001", "000002", "offset_ev")
    said = difference_answer(made, Cases(found.rows), meters=False)
    assert [(note.text, note.warns) for note in said.notes] == [(note, True) for note in notes]
