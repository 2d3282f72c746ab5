"""Faults of files, tags, sheet and people: what the files and the sheet then say."""

from __future__ import annotations

import csv
import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import exiv2
import numpy as np
import pytest
import rawpy
import tifffile

from profiler.errors import GreytareError
from profiler.simulate import (
    FAULTS,
    SeriesFiles,
    SeriesSpec,
    load_body,
    parse_fault,
    render_frame,
    standard_series,
    write_series,
)
from profiler.simulate.exposure import placement_ev
from profiler.simulate.faults import with_faults
from profiler.simulate.truth import result
from profiler.simulate.write import sheet_rows


def series(*faults: str, body: str = "halden-h2", **options: object) -> SeriesSpec:
    chosen: dict[str, object] = {
        "size": (96, 72),
        "labels": (100, 400),
        "frames_per_label": 4,
        "ev100": 10.3,
    }
    spec = standard_series(load_body(body), 8, **(chosen | options))  # type: ignore[arg-type]
    return with_faults(spec, faults)


def exif(path: Path) -> dict[str, str]:
    image = exiv2.ImageFactory.open(str(path))
    image.readMetadata()
    return {datum.key(): datum.toString() for datum in image.exifData()}


@pytest.fixture
def written(tmp_path: Path) -> Any:
    def write(*faults: str, **options: object) -> SeriesFiles:
        return write_series(series(*faults, **options), tmp_path / "s")

    return write


def test_capped_iso_tag(written: Any) -> None:
    tags = [exif(path) for path in written("iso-65535").frames]
    isos = [
        (t["Exif.Photo.ISOSpeedRatings"], t.get("Exif.Photo.RecommendedExposureIndex"))
        for t in tags
    ]
    assert isos == [("100", None)] * 4 + [("65535", "400")] * 4 + [("100", None), ("400", None)]


def test_wrong_iso_tag(written: Any) -> None:
    tags = [exif(path)["Exif.Photo.ISOSpeedRatings"] for path in written("iso-as-base").frames]
    assert tags == ["100"] * 9 + ["400"]


BLACK_TAGS = [
    ("black-tag-off=5", 517),
    ("black-tag-zero", 0),
    ("black-tag-doubled", 1024),
    ("black-fraction=0.7", (5127, 10)),
    ("black-cut", 0),
]


@pytest.mark.parametrize(("fault", "tag"), BLACK_TAGS)
def test_black_tag(written: Any, fault: str, tag: object) -> None:
    path = written(fault).frames[0]
    with tifffile.TiffFile(path) as tiff:
        assert tiff.pages[0].tags[50714].value == tag
    with rawpy.imread(str(path)) as raw:
        assert raw.black_level_per_channel[0] == (512 if isinstance(tag, tuple) else tag)


def test_white_tag(written: Any) -> None:
    with rawpy.imread(str(written("white-tag-low=0.1").frames[0])) as raw:
        assert raw.white_level == round(16383 * 0.9)


def test_odd_times_stay_near_their_mark(written: Any) -> None:
    files = written("odd-times")
    frames = json.loads(files.truth.read_text())["frames"]
    for path, frame in zip(files.frames, frames, strict=True):
        numerator, denominator = map(int, exif(path)["Exif.Photo.ExposureTime"].split("/"))
        marked_s = float(Fraction(frame["time_mark"]))
        assert numerator / denominator == pytest.approx(marked_s, rel=0.06)
        assert numerator != 1


def test_missing_times_are_zero_or_65535_or_absent(written: Any) -> None:
    times = [exif(p).get("Exif.Photo.ExposureTime") for p in written("time-missing=3").frames]
    assert [t for t in times if t in ("0/1", "65535/1", None)] == ["0/1", "65535/1", None]


def test_manual_lens_leaves_the_aperture_to_the_sheet(written: Any) -> None:
    files = written("manual-lens")
    for path in files.frames:
        assert exif(path)["Exif.Photo.FNumber"] == "0/1"
        assert "Exif.Photo.LensModel" not in exif(path)
    with files.sheet.open() as file:
        first = next(csv.DictReader(file))
    assert (first["file"], first["aperture"]) == ("*", "5.6")


def test_curve_coded_raw_keeps_few_codes(written: Any) -> None:
    files = written("curve-coded=8")
    with rawpy.imread(str(files.frames[2])) as raw:
        coded = raw.raw_image.astype(float)
    ideal = render_frame(series(), 2).astype(float)
    assert len(np.unique(coded)) <= 256
    assert coded.mean() == pytest.approx(ideal.mean(), rel=0.01)
    assert not np.array_equal(coded, ideal)


@pytest.mark.parametrize("body", ["halden-h2", "orrin-x6", "merle-m1"])
def test_linear_file_has_three_samples_of_the_right_colour(written: Any, body: str) -> None:
    path = written("linear-dng", body=body).frames[1]
    with tifffile.TiffFile(path) as tiff:
        assert int(tiff.pages[0].photometric) == 34892
        pixels = tiff.asarray().astype(float)
    assert pixels.shape == (72, 96, 3)
    spec = series(body=body)
    key = result(spec, 100, "spot")["channels"]
    middle = pixels[30:42, 42:54].mean(axis=(0, 1))
    for sample, names in zip(middle, (("R", "Y"), ("G1", "G", "Y"), ("B", "Y")), strict=True):
        channel = next(key[name] for name in names if name in key)
        level = channel["metered_dn"] * 2 ** placement_ev(spec, 1, "spot")
        assert sample - channel["black_dn"] == pytest.approx(level, rel=0.03)
    with rawpy.imread(str(path)) as raw:
        assert raw.raw_pattern is None


def test_damaged_files(written: Any, tmp_path: Path) -> None:
    files = written("zero-file", "half-file", "truncated-file")
    damage = [frame["damage"] for frame in json.loads(files.truth.read_text())["frames"]]
    assert sorted(set(damage)) == ["", "half", "truncated", "zeros"]
    whole = files.frames[damage.index("")].stat().st_size
    assert files.frames[damage.index("truncated")].stat().st_size < 0.65 * whole
    with rawpy.imread(str(files.frames[damage.index("zeros")])) as raw:
        assert raw.raw_image.max() == 0
    with rawpy.imread(str(files.frames[damage.index("half")])) as raw:
        assert (raw.raw_image == 0).mean() == pytest.approx(0.5, abs=0.06)
        assert raw.raw_image[0].max() > 0
    with pytest.raises(rawpy.LibRawError):
        rawpy.imread(str(files.frames[damage.index("truncated")])).raw_image.max()


def test_same_names_in_two_folders(written: Any) -> None:
    files = written("same-names")
    names = [path.relative_to(files.folder).as_posix() for path in files.frames]
    assert names[0] == "card1/IMG_0001.dng"
    assert names[5] == "card2/IMG_0001.dng"
    assert len(set(names)) == 10
    assert len({Path(name).name for name in names}) == 5


def test_other_bodies_and_lenses(written: Any) -> None:
    tags = [exif(p) for p in written("mixed-bodies=2", "mixed-lenses=3").frames]
    serials = [t["Exif.Photo.BodySerialNumber"] for t in tags]
    lenses = [t["Exif.Photo.LensModel"] for t in tags]
    assert sorted(map(serials.count, set(serials))) == [2, 8]
    assert sorted(map(lenses.count, set(lenses))) == [3, 7]


def _readings(*faults: str, **options: object) -> list[float]:
    return [
        float(row["reading"].removeprefix("EV "))
        for row in sheet_rows(series(*faults, **options))
        if row["reading"] != "dark"
    ]


def test_one_mistyped_reading() -> None:
    assert sorted(_readings("mistyped-reading=1")) == [10.3] * 7 + [11.3]


@pytest.mark.parametrize(
    ("fault", "reading"),
    [("iso-left-on-meter=2", 12.3), ("compensation-left=0.3", 10.6), ("meter-error=-0.1", 10.2)],
)
def test_reading_off_by(fault: str, reading: float) -> None:
    assert _readings(fault) == [pytest.approx(reading)]
    assert result(series(fault), 400, "spot") == result(series(), 400, "spot")


def test_meter_scatter_gives_one_reading_for_each_frame() -> None:
    found = _readings("meter-repeatability=0.2", frames_per_label=100)
    assert len(found) == 200
    assert np.std(found) == pytest.approx(0.2, rel=0.15)


def test_rounded_reading_lies_off_the_light() -> None:
    spec = series("reading-rounded=0.5")
    off = placement_ev(spec, 0, "spot") - placement_ev(series(), 0, "spot")
    assert 0.01 < abs(off) < 0.25
    assert _readings("reading-rounded=0.5") == [10.5]


def test_wrong_mode_is_judged_by_the_mode_in_the_sheet() -> None:
    spec = series("wrong-mode")
    row = sheet_rows(spec)[0]
    assert (row["mode"], row["reading"]) == ("incident-flat", "EV 10.3")
    # spot minus incident on an 18 % card for K 12.5, C 250: 0.1965
    gap = placement_ev(spec, 0, "spot") - placement_ev(spec, 0, "incident-flat")
    assert gap == pytest.approx(0.1965, abs=5e-5)


def test_wrong_receptor_reads_with_the_dome() -> None:
    spec = series("wrong-receptor")
    row = sheet_rows(spec)[0]
    assert (row["mode"], row["reading"]) == ("incident-flat", "EV 10.3")
    # log2(340/250): what the flat receptor would have shown more
    assert placement_ev(spec, 0, "incident-flat") - placement_ev(
        spec, 0, "incident-dome"
    ) == pytest.approx(0.4436, abs=5e-5)


def test_t_stop_stands_in_the_sheet() -> None:
    row = sheet_rows(series("t-stop-in-sheet=0.42"))[0]
    assert float(row["t_stop"]) == pytest.approx(5.65685 * 2**0.21, abs=1e-3)
    assert "t_stop" not in sheet_rows(series("t-stop-loss=0.42"))[0]
    headroom = {
        fault: result(series(*fault), 400, "spot")["clip_headroom_ev"]
        for fault in ((), ("t-stop-in-sheet=0.42",), ("t-stop-loss=0.42",))
    }
    assert headroom[("t-stop-in-sheet=0.42",)] == headroom[()]
    assert headroom[("t-stop-loss=0.42",)] - headroom[()] == pytest.approx(0.42)


def test_series_that_never_clips() -> None:
    spec = series("clip-missing", frames_per_label=8)
    for index, shot in enumerate(spec.shots):
        if not shot.dark:
            key = result(spec, shot.iso, "spot")
            assert placement_ev(spec, index, "spot") < key["clip_headroom_ev"]
    assert 10 <= len(spec.shots) < 18


def test_few_frames() -> None:
    spec = series("few-frames=3", frames_per_label=8)
    assert [s.iso for s in spec.shots] == [100] * 3 + [400] * 3 + [100, 400]


def test_aperture_bracket_keeps_the_time_and_the_placements() -> None:
    spec, ideal = series("aperture-bracket=0"), series()
    assert len({(s.iso, s.time) for s in spec.shots if not s.dark}) == 2
    assert len({s.aperture for s in spec.shots}) > 3
    for index in range(8):
        assert placement_ev(spec, index, "spot") == pytest.approx(
            placement_ev(ideal, index, "spot"), abs=0.17
        )


@pytest.mark.parametrize("name", list(FAULTS))
def test_every_fault_changes_the_series_and_is_in_the_key(name: str, tmp_path: Path) -> None:
    mode = "incident-flat" if name == "card-reflectance" else "spot"
    ideal, spec = series(mode=mode), series(name, mode=mode)
    assert spec.faults == ((name, FAULTS[name].size),)
    assert FAULTS[name].what
    assert FAULTS[name].name == name
    first = write_series(series(mode=mode), tmp_path / "ideal")
    second = write_series(spec, tmp_path / "fault")
    assert json.loads(second.truth.read_text())["faults"] == [
        {"name": name, "size": FAULTS[name].size}
    ]
    same_sheet = first.sheet.read_bytes() == second.sheet.read_bytes()
    same_files = len(first.frames) == len(second.frames) and all(
        a.read_bytes() == b.read_bytes() for a, b in zip(first.frames, second.frames, strict=True)
    )
    assert not (same_sheet and same_files)
    assert ideal.faults == ()


PARSED = [
    ("knee", "knee", 0.85),
    ("knee=0.9", "knee", 0.9),
    (" light-drift = -1 ", "light-drift", -1.0),
]


@pytest.mark.parametrize(("text", "name", "size"), PARSED)
def test_parse_fault(text: str, name: str, size: float) -> None:
    assert parse_fault(text) == (FAULTS[name], size)


REFUSED = [
    ("kneee", r"no fault 'kneee'\. Did you mean knee\? Use one of clip-channel, "),
    ("=3", r"no fault ''\. Use one of "),
    ("knee=", r"'' isn't a size\. Write knee=0\.85 \(part of the range\)"),
    ("knee=big", r"'big' isn't a size\. Write knee=0\.85"),
    ("knee=nan", r"'nan' isn't a size"),
    ("knee=1.5", r"1\.5 isn't a size for this fault\. Use sizes from 0\.1 to 1 \(part"),
    ("truncated-file=1.5", r"1\.5 isn't a size.*whole numbers from 1 up \(frames\)"),
    ("truncated-file=0", r"0 isn't a size.*whole numbers from 1 up \(frames\)"),
    ("black-cut=2", r"this fault takes no size\. Write black-cut"),
]


@pytest.mark.parametrize(("text", "message"), REFUSED)
def test_parse_fault_refuses(text: str, message: str) -> None:
    with pytest.raises(GreytareError, match=message):
        parse_fault(text)


def test_faults_add_up_in_the_key() -> None:
    spec = series("knee=0.9", "light-drift", "hot-pixels=0.01")
    assert spec.faults == (("knee", 0.9), ("light-drift", 0.3), ("hot-pixels", 0.01))
