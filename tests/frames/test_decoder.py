"""A frame that the decoder doesn't survive costs that frame, and is named."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

from profiler import simulate, standards
from profiler.calibration import pipeline
from profiler.errors import FrameError, GreytareError
from profiler.files.sheet import read_sheet
from profiler.fleet.batch.run import run_fleet
from profiler.frames import decoder
from profiler.frames.cache import MeasureCache
from profiler.onset.check import measure_for_check
from profiler.web.series.pictures import Pictures

DEADLY = Path(__file__).parent / "deadly"
HANG_S = 3.0


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """A series with pairs, IMG_0001 to IMG_0010, and its honest measurement."""
    spec = simulate.standard_series(
        *(simulate.load_body("halden-h2"), 3),
        labels=(400,),
        frames_per_label=5,
        pairs=True,
        darks=0,
        size=(160, 112),
    )
    folder = simulate.write_series(spec, tmp_path_factory.mktemp("series") / "s").folder
    cache = MeasureCache(folder.parent / "cache")
    measurement = pipeline.measure(folder, read_sheet(folder / "sheet.csv"), cache=cache)
    cache.close()
    return folder, measurement


@pytest.fixture
def series(whole, tmp_path, monkeypatch):
    """A copy of the series; the decoders that start now are the deadly ones."""
    monkeypatch.setenv("PYTHONPATH", str(DEADLY))
    monkeypatch.setenv("GREYTARE_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr(standards, "DECODE_S", HANG_S)
    monkeypatch.setattr(standards, "DECODE_ROOM_BYTES", 1 << 29)
    decoder.stop_decoders()
    yield Path(shutil.copytree(whole[0], tmp_path / "s"))
    decoder.stop_decoders()


def spoil(folder, number, how):
    with (folder / f"IMG_{number:04d}.dng").open("ab") as stream:
        stream.write(how)


def measured(folder, **options):
    return pipeline.measure(folder, read_sheet(folder / "sheet.csv"), **options)


@pytest.mark.parametrize(
    ("how", "number"),
    [("crash", 5), ("crash", 8), ("hang", 8), ("swell", 8)],  # 5: of the middle exposure
)
def test_the_frame_is_named_and_the_others_are_measured(series, whole, how, number):
    if how == "swell" and sys.platform != "linux":
        pytest.skip("only Linux limits the memory of a process")
    spoil(series, number, how.encode())
    sheet = read_sheet(series / "sheet.csv")
    found = measured(series)
    words = {"crash": "LibRaw crashed", "hang": "LibRaw hung", "swell": "LibRaw ran out of memory"}
    name = f"IMG_{number:04d}.dng"
    assert [(flag.where, flag.detail) for flag in found.lost] == [(name, words[how])]
    true = {frame.file: frame for frame in whole[1].frames}
    assert [frame.file for frame in found.frames] == [file for file in true if file != name]
    if number == 8:  # the patch is that of the whole series
        twin = true[name].pair
        for frame in found.frames:
            same = frame.channels == true[frame.file].channels
            assert same == (frame.file != twin)  # which has lost its pair
    result = pipeline.fit(found, sheet).results[0]
    assert ("decoder-died", name) in {(flag.name, flag.where) for flag in result.flags}
    assert len(result.frames) == 9
    assert measured(series).decoded <= 1  # the twin at most: the rest was kept


def test_two_deadly_frames_of_one_pair_and_threads(series):
    spoil(series, 3, b"crash")
    spoil(series, 4, b"crash")
    spoil(series, 9, b"crash")
    found = measured(series, threads=4)
    assert [flag.where[4:8] for flag in found.lost] == ["0003", "0004", "0009"]
    assert len(found.frames) == 7


def test_nothing_but_deadly_frames_is_an_error(series):
    for path in sorted(series.glob("*.dng"))[2:]:
        path.unlink()
    for number in (1, 2):
        spoil(series, number, b"crash")
    with pytest.raises(FrameError, match=r"IMG_0\d+\.dng: LibRaw crashed over this file\. Copy it"):
        measured(series)


def test_a_check_of_a_deadly_frame_is_one_sentence(series):
    spoil(series, 3, b"crash")
    with pytest.raises(FrameError, match=r"IMG_0003\.dng: LibRaw crashed over this file\. Copy"):
        measure_for_check([series / "IMG_0003.dng"])


def test_a_picture_of_a_deadly_frame_is_refused_and_the_page_lives(series):
    spoil(series, 3, b"crash")
    pictures = Pictures()
    with pytest.raises(FrameError, match=r"IMG_0003\.dng: LibRaw crashed"):
        pictures.get(series / "IMG_0003.dng", 120)
    assert pictures.get(series / "IMG_0004.dng", 120).png.startswith(b"\x89PNG")


def test_a_fleet_names_it_and_goes_on(series, tmp_path):
    root = tmp_path / "shelf"
    shutil.copytree(series, root / "a")
    shutil.copytree(series, root / "b")
    spoil(root / "a", 3, b"crash")
    summary = run_fleet(root, tmp_path / "out", jobs=1)
    assert summary.failures == ()
    assert summary.measured == 2
    text = (tmp_path / "out" / "profiles" / "a.profile.json").read_text()
    assert "decoder-died" in text
    assert run_fleet(root, tmp_path / "out", jobs=1).same == 1  # the spoilt one is tried again


def test_the_command_says_it(series, tmp_path):
    spoil(series, 3, b"crash")
    words = ["fit", str(series), "--out", str(tmp_path / "p.json")]
    code = "from profiler.cli.main import main; main()"
    done = subprocess.run([sys.executable, "-c", code, *words], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert "IMG_0003.dng" in done.stdout
    assert "LibRaw crashed" in done.stdout
    words = ["measure", str(series), "--out", str(tmp_path / "t.csv")]
    done = subprocess.run([sys.executable, "-c", code, *words], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert "IMG_0003.dng" in done.stderr


def test_a_decoder_that_cannot_start_is_one_sentence(series, monkeypatch):
    monkeypatch.setattr(decoder, "_BEGIN", "raise SystemExit(1) #{path}")
    with pytest.raises(GreytareError, match="before it had a frame"):
        measured(series)


@pytest.mark.skipif(not Path("/proc").is_dir(), reason="looks the process up in /proc")
def test_the_decoder_ends_with_its_parent(series):
    code = (
        "import os; from pathlib import Path; from profiler.frames import decoder; "
        "decoder.start_decoder(); print(decoder._idle[0]._process.pid, flush=True); os._exit(9)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    child = int(done.stdout)
    for _ in range(100):
        status = Path(f"/proc/{child}/stat")
        if not status.exists() or status.read_text().split()[2] == "Z":
            return
        time.sleep(0.1)
    os.kill(child, 9)
    pytest.fail("the decoder outlived its parent by 10 s")


@pytest.mark.skipif(not Path("/proc").is_dir(), reason="looks the process up in /proc")
def test_a_decoder_killed_from_outside_costs_nothing(series):
    """As the system does when memory runs short."""
    killed = []

    def kill_once(done, total):
        if not killed:
            ours = Path(f"/proc/{os.getpid()}/task").glob("*/children")
            for child in " ".join(path.read_text() for path in ours).split():
                if b"decoder_child" in Path(f"/proc/{child}/cmdline").read_bytes():
                    killed.append(done)
                    os.kill(int(child), 9)

    found = measured(series, progress=kill_once, threads=1)
    assert len(killed) == 1
    assert found.lost == ()
    assert len(found.frames) == 10
