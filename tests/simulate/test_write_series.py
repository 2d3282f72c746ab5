"""A series on disk: its files, its sheet, its answer key, and the same bytes for the same seed."""

from __future__ import annotations

import csv
import hashlib
import json
import subprocess
import sys
from pathlib import Path

import exiv2
import numpy as np
import pytest
import rawpy

from profiler.errors import GreytareError
from profiler.simulate import (
    HandMeter,
    SeriesSpec,
    load_body,
    render_frame,
    standard_series,
    write_series,
)
from profiler.simulate.faults import with_faults
from profiler.simulate.memory import frame_record

SMALL = {"size": (96, 72), "labels": (100, 400), "frames_per_label": 4}


def _spec(seed: int = 1, body: str = "halden-h2", **options: object) -> SeriesSpec:
    return standard_series(load_body(body), seed, **(SMALL | options))  # type: ignore[arg-type]


def _digest(folder: Path) -> str:
    found = hashlib.sha256()
    for path in sorted(folder.rglob("*")):
        if path.is_file():
            found.update(path.relative_to(folder).as_posix().encode() + path.read_bytes())
    return found.hexdigest()


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("compression", ["none", "lossless"])
@pytest.mark.parametrize("body", ["halden-h2", "orrin-x6", "merle-m1"])
def test_files_hold_the_rendered_pixels_and_settings(
    tmp_path: Path, body: str, compression: str
) -> None:
    spec = _spec(body=body, compression=compression)
    seen: list[tuple[int, int]] = []
    files = write_series(spec, tmp_path / "s", lambda done, total: seen.append((done, total)))
    assert seen == [(i, 10) for i in range(1, 11)]
    assert [p.name for p in files.frames] == [f"IMG_{i:04d}.dng" for i in range(1, 11)]
    key = json.loads(files.truth.read_text())
    for index, path in enumerate(files.frames):
        with rawpy.imread(str(path)) as raw:
            assert np.array_equal(raw.raw_image, render_frame(spec, index))
            assert raw.other.iso_speed == key["frames"][index]["iso"]
            numerator, _, denominator = key["frames"][index]["time_mark"].partition("/")
            marked_s = float(numerator) / float(denominator or 1)
            assert raw.other.shutter_speed == pytest.approx(marked_s, rel=1e-6)
            assert raw.other.aperture == pytest.approx(5.6)


def test_frames_are_dated_in_their_order(tmp_path: Path) -> None:
    taken = []
    for path in write_series(_spec(), tmp_path / "s").frames:
        image = exiv2.ImageFactory.open(str(path))
        image.readMetadata()
        taken.append(image.exifData()["Exif.Photo.DateTimeOriginal"].toString())
    assert taken == sorted(set(taken))
    assert taken[:2] == ["2026:01:05 10:00:00", "2026:01:05 10:00:20"]


def test_the_same_seed_gives_the_same_bytes_and_another_does_not(tmp_path: Path) -> None:
    for name, seed in (("a", 5), ("b", 5), ("c", 6)):
        write_series(_spec(seed), tmp_path / name)
    assert _digest(tmp_path / "a") == _digest(tmp_path / "b")
    assert _digest(tmp_path / "a") != _digest(tmp_path / "c")


def test_frames_do_not_depend_on_the_order_of_rendering() -> None:
    spec = _spec()
    late = render_frame(spec, 3)
    assert np.array_equal(render_frame(spec, 3), late)
    assert not np.array_equal(render_frame(spec, 2), late)
    assert not np.array_equal(render_frame(_spec(2), 9), render_frame(spec, 9))


def test_large_frames_are_rendered_in_parts_that_fit() -> None:
    spec = standard_series(load_body("orrin-x6"), 3, size=(1806, 1200), labels=(100,))
    whole = render_frame(spec, 3)
    card = whole[-900:-300, 36 + 500 : 36 + 1300].astype(float)
    rows = card.reshape(100, 6, -1).mean(axis=(1, 2))
    assert np.ptp(rows) / rows.mean() < 0.04
    assert whole.shape == (1218, 1842)


def test_sheet_has_one_reading_for_all_and_names_the_dark_frames(tmp_path: Path) -> None:
    files = write_series(_spec(ev100=10.3), tmp_path / "s")
    rows = _rows(files.sheet)
    assert files.sheet.read_text().splitlines()[0] == (
        "file,reading,mode,iso,time,aperture,t_stop,nd_stops,use,note"
    )
    assert [(r["file"], r["reading"], r["mode"]) for r in rows] == [
        ("*", "EV 10.3", "spot"),
        ("IMG_0009.dng", "dark", ""),
        ("IMG_0010.dng", "dark", ""),
    ]


def test_two_modes_make_two_rows_and_two_results(tmp_path: Path) -> None:
    meter = HandMeter(resolution_ev=0.0)
    files = write_series(
        _spec(mode=("spot", "incident-flat"), ev100=10.0, meter=meter), tmp_path / "s"
    )
    rows = _rows(files.sheet)[:2]
    # spot minus incident on an 18 % card for K 12.5, C 250: log2(0.18 x 250/(12.5 pi)) = 0.1965
    assert [r["mode"] for r in rows] == ["spot", "incident-flat"]
    assert float(rows[0]["reading"][3:]) - float(rows[1]["reading"][3:]) == pytest.approx(
        0.1965, abs=5e-5
    )
    results = json.loads(files.truth.read_text())["results"]
    offsets = {(r["iso"], r["mode"]): r["offset_ev"] for r in results}
    assert offsets[400, "spot"] - offsets[400, "incident-flat"] == pytest.approx(0.1965, abs=5e-5)


def test_flash_is_metered_frame_by_frame(tmp_path: Path) -> None:
    files = write_series(_spec(mode="flash-flat"), tmp_path / "s")
    rows = [r for r in _rows(files.sheet) if r["reading"] != "dark"]
    assert len(rows) == 8
    assert all(r["reading"].startswith("f/") and r["mode"] == "flash-flat" for r in rows)
    key = json.loads(files.truth.read_text())
    for row, frame in zip(rows, key["frames"], strict=False):
        mark, _, tenths = row["reading"].removeprefix("f/").removesuffix(" ISO 100").partition("+")
        exact = {"5.6": 5, "8": 6, "11": 7, "16": 8, "22": 9, "4": 4, "2.8": 3, "2": 2, "1.4": 1}
        exact |= {"32": 10, "45": 11, "1": 0, "0.7": -1}
        asked = exact[mark] + float(tenths or 0) / 10
        gives = asked + np.log2(frame["iso"] / 100) - 6.0
        assert gives == pytest.approx(frame["placement_ev"], abs=1e-6)


def test_a_full_folder_is_refused_unless_it_may_be_overwritten(tmp_path: Path) -> None:
    write_series(_spec(frames_per_label=6), tmp_path)
    with pytest.raises(GreytareError, match="the folder isn't empty"):
        write_series(_spec(), tmp_path)
    (tmp_path / "mine.txt").write_text("keep")
    write_series(_spec(), tmp_path, overwrite=True)
    assert len(list(tmp_path.glob("*.dng"))) == 10
    assert (tmp_path / "mine.txt").read_text() == "keep"


def test_an_answer_key_that_points_outside_deletes_nothing(tmp_path: Path) -> None:
    outside = tmp_path / "outside.dng"
    outside.write_text("keep")
    folder = tmp_path / "s"
    folder.mkdir()
    (folder / "truth.json").write_text('{"frames": [{"file": "../outside.dng"}]}')
    write_series(_spec(), folder, overwrite=True)
    assert outside.read_text() == "keep"


def test_a_file_in_place_of_the_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "s").write_text("")
    with pytest.raises(GreytareError, match="this is a file, not a folder"):
        write_series(_spec(), tmp_path / "s")


REFUSED = [
    ({"labels": (160,)}, "no ISO label 160"),
    ({"labels": ()}, "no ISO label is given"),
    ({"mode": "matrix"}, "no mode 'matrix'.*incident-dome"),
    ({"mode": ("spot", "flash-spot")}, "flash and continuous light are mixed"),
    ({"light": "moon"}, "no light 'moon'.*daylight"),
    ({"compression": "zip"}, "no compression 'zip'.*none, lossless"),
    ({"time_rule": "roughly"}, "no time rule 'roughly'.*exact, as-marked"),
    ({"size": (8, 8)}, "8 x 8 pixels are too few"),
    ({"frames_per_label": 2}, "2 frames a label are too few"),
    ({"seed": -1}, "-1 isn't a seed"),
]


@pytest.mark.parametrize(("options", "message"), REFUSED)
def test_impossible_wishes_are_refused(options: dict[str, object], message: str) -> None:
    with pytest.raises(GreytareError, match=message):
        _spec(**options)  # type: ignore[arg-type]


def test_the_record_in_memory_is_what_the_file_holds(tmp_path: Path) -> None:
    spec = with_faults(_spec(), ["black-channels"])
    files = write_series(spec, tmp_path / "s")
    record = frame_record(spec, 9)
    with rawpy.imread(str(files.frames[9])) as raw:
        assert np.array_equal(raw.raw_image_visible, record.values_dn)
        border = raw.raw_image.astype(float)[:24]
    assert record.cfa == (("R", "G1"), ("G2", "B"))
    assert record.black_tag_dn == {"R": 518.0, "G1": 512.0, "G2": 515.0, "B": 506.0}
    assert record.masked["R"].mean_dn == pytest.approx(border[::2, ::2].mean(), abs=0.3)
    assert record.masked["B"].mean_dn == pytest.approx(506, abs=0.3)
    assert record.masked["R"].n == (96 * 144 - 72 * 96) // 4
    assert frame_record(_spec(body="merle-m1"), 0).masked == {}


def test_names_load_only_when_they_are_used() -> None:
    code = (
        "import sys, profiler.simulate as s; s.load_body, s.FAULTS;"
        "print([m for m in ('tifffile', 'exiv2', 'imagecodecs', 'rawpy', 'scipy')"
        " if m in sys.modules], callable(s.render))"
    )
    run = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(__file__).parents[2],
    )
    assert run.stdout.strip() == "[] True"


def test_an_unknown_name_is_an_attribute_error() -> None:
    import profiler.simulate as simulate

    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = simulate.nothing  # type: ignore[attr-defined]
    assert {name for name in simulate.__all__ if not hasattr(simulate, name)} == set()
