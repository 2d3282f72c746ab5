"""The whole way from raw files to a profile, and what the cache saves."""

from __future__ import annotations

import json

import pytest

from profiler import simulate
from profiler.calibration import pipeline
from profiler.errors import FrameError, GreytareError, MeasureError, SheetError
from profiler.files.level_table import read_table, write_table
from profiler.files.profile import load_profile, save_profile
from profiler.files.sheet import parse_sheet, read_sheet
from profiler.frames import measure as measuring
from profiler.frames.cache import MeasureCache


@pytest.fixture(scope="module")
def series(tmp_path_factory):
    """A paired series at two labels with dark frames."""
    folder = tmp_path_factory.mktemp("series")
    spec = simulate.standard_series(
        simulate.load_body("halden-h2"),
        5,
        labels=(100, 400),
        pairs=True,
        darks=2,
        shutter_scatter_ev=0.02,
    )
    return simulate.write_series(spec, folder / "s")


@pytest.fixture(scope="module")
def cache(tmp_path_factory):
    return MeasureCache(tmp_path_factory.mktemp("cache"))


@pytest.fixture(scope="module")
def measured(series, cache):
    return pipeline.measure(series.folder, read_sheet(series.sheet), cache=cache)


def test_profile_against_truth(series, measured):
    profile = pipeline.fit(measured, read_sheet(series.sheet), light="daylight")
    truth = json.loads(series.truth.read_text())
    assert profile.camera.serial == truth["camera"]["serial"]
    for result, true in zip(profile.results, truth["results"], strict=True):
        assert result.offset_ev.low < true["offset_ev"] < result.offset_ev.high
        assert result.exposure_index.value == pytest.approx(true["exposure_index"], rel=0.05)
        assert result.saturation_speed.value == pytest.approx(true["saturation_speed"], rel=0.05)
        assert result.flags == ()
        for name, channel in result.channels.items():
            known = true["channels"][name]
            assert channel.clip_dn == known["clip_dn"]
            assert channel.black_dn == pytest.approx(known["black_dn"], abs=0.3)
            assert channel.gain_e_per_dn == pytest.approx(known["gain_e_per_dn"], rel=0.06)
            assert channel.read_noise_e == pytest.approx(known["read_noise_e"], rel=0.1)


def test_corrected_reading_decodes_nothing(series, measured, cache, monkeypatch):
    def never(*_, **__):
        raise AssertionError("a frame was decoded")

    monkeypatch.setattr(measuring, "decode_apart", never)
    text = series.sheet.read_text().replace("EV 10", "EV 11").replace("EV 9", "EV 10")
    sheet = parse_sheet(text, "sheet.csv")
    again = pipeline.measure(series.folder, sheet, cache=cache)
    assert again.decoded == 0
    assert again.frames == measured.frames
    before = pipeline.fit(measured, read_sheet(series.sheet)).results[0]
    after = pipeline.fit(again, sheet).results[0]
    shift = after.frames[0].placement_ev - before.frames[0].placement_ev
    assert shift == pytest.approx(1.0)
    assert after.offset_ev.value - before.offset_ev.value == pytest.approx(1.0, abs=1e-6)


def test_corrected_exposure_data_decode_nothing(series, measured, cache):
    text = series.sheet.read_text() + "IMG_0003.dng,,,800,1/30,,,,,\n"
    again = pipeline.measure(series.folder, parse_sheet(text, "sheet.csv"), cache=cache)
    assert again.decoded == 0


def test_changed_content_is_decoded_again(series, cache, tmp_path):
    for path in series.frames[:4]:
        (tmp_path / path.name).write_bytes(path.read_bytes())
    assert pipeline.measure(tmp_path, cache=cache, patch="0.4,0.4,0.2,0.2").decoded == 4
    assert pipeline.measure(tmp_path, cache=cache, patch="0.4,0.4,0.2,0.2").decoded == 0
    (tmp_path / series.frames[0].name).write_bytes(series.frames[6].read_bytes())
    assert pipeline.measure(tmp_path, cache=cache, patch="0.4,0.4,0.2,0.2").decoded >= 1


def test_table_gives_the_same_profile(series, measured, tmp_path):
    path = tmp_path / "table.csv"
    path.write_text(write_table(measured))
    sheet = read_sheet(series.sheet)
    direct, by_table = pipeline.fit(measured, sheet), pipeline.fit(read_table(path), sheet)
    assert by_table.results == direct.results


def test_profile_file_reads_back(series, measured, tmp_path):
    profile = pipeline.fit(measured, read_sheet(series.sheet))
    path = tmp_path / "a.profile.json"
    save_profile(profile, path)
    assert load_profile(path) == profile


def test_several_modes_give_several_results(series, measured):
    text = "file,reading,mode\n*,EV 10.0,spot\n*,EV 9.8,incident-flat\n"
    text += "".join(f"{f.file},dark,\n" for f in measured.frames[-4:])
    profile = pipeline.fit(measured, parse_sheet(text, "s.csv"))
    assert [(r.mode, r.iso) for r in profile.results] == [
        ("incident-flat", 100),
        ("incident-flat", 400),
        ("spot", 100),
        ("spot", 400),
    ]
    flat, spot = profile.results[0], profile.results[2]
    assert spot.offset_ev.value - flat.offset_ev.value == pytest.approx(0.2, abs=1e-6)
    assert "card reflectance" in {row.source for row in flat.budget}
    assert "card reflectance" not in {row.source for row in spot.budget}


def test_readings_before_and_after_are_averaged(series, measured):
    text = "file,reading,mode\n*,EV 10.0,spot\n*,EV 10.4,spot\n"
    text += "".join(f"{f.file},dark,\n" for f in measured.frames[-4:])
    profile = pipeline.fit(measured, parse_sheet(text, "s.csv"))
    drift = next(row for row in profile.results[0].budget if row.source == "light drift")
    assert drift.half_width_ev == pytest.approx(0.2)


REFUSED = [  # sheet, error, what
    ("file,reading,mode\n", SheetError, "no frame has a reading"),
    ("file,reading,mode\n*,EV 10,spot\nnone.dng,dark,\n", SheetError, "no file 'none"),
    ("file,reading,mode\n*,650 lx,spot\n", SheetError, "incident reading"),
]


@pytest.mark.parametrize(("text", "error", "what"), REFUSED)
def test_refused_sheets(series, cache, text, error, what):
    sheet = parse_sheet(text, "s.csv")

    def whole():
        pipeline.fit(pipeline.measure(series.folder, sheet, cache=cache), sheet)

    with pytest.raises(error, match=what):
        whole()


def test_mixed_bodies_are_refused(series, cache, tmp_path):
    other = simulate.standard_series(simulate.load_body("merle-m1"), 1, labels=(100,))
    simulate.write_series(other, tmp_path / "s")
    for path in series.frames[:8]:
        (tmp_path / "s" / f"X{path.name}").write_bytes(path.read_bytes())
    sheet = read_sheet(tmp_path / "s" / "sheet.csv")
    measurement = pipeline.measure(tmp_path / "s", sheet, cache=cache, patch="0.4,0.4,0.2,0.2")
    with pytest.raises(SheetError, match="mixes bodies"):
        pipeline.fit(measurement, sheet)


def test_frames_all_dark_are_refused(series, cache, tmp_path):
    for path in series.frames[-4:]:
        (tmp_path / path.name).write_bytes(path.read_bytes())
    sheet = parse_sheet("file,reading,mode\n*,dark,\n", "s.csv")
    with pytest.raises(MeasureError, match="no lit frame"):
        pipeline.measure(tmp_path, sheet, cache=cache)


def test_one_bad_file_names_itself(series, cache, tmp_path):
    for path in series.frames[:3]:
        (tmp_path / path.name).write_bytes(path.read_bytes())
    (tmp_path / "IMG_0002.dng").write_bytes(series.frames[1].read_bytes()[:20000])
    with pytest.raises(FrameError) as caught:
        pipeline.measure(tmp_path, cache=cache, patch="0.4,0.4,0.2,0.2")
    assert "IMG_0002.dng" in caught.value.where


def test_empty_folder(tmp_path):
    with pytest.raises(GreytareError, match="no raw"):
        pipeline.measure(tmp_path)
