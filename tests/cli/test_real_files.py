"""Real files through the command: one clear sentence for each that can't be measured."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys

import pytest

BAD = (
    "bep_sample.arw",
    "bep_sample.nef",
    "exiftool_CanonRaw.cr2",
    "exiftool_CanonRaw.crw",
    "exiftool_DNG.dng",
    "exiftool_FujiFilm.raf",
    "exiftool_Minolta.mrw",
    "exiftool_Nikon.nef",
    "exiv2_Canon-R6-pruned.CR3",
    "exiv2_IMG_1361.dng",
    "exiv2_issue_839_poc.rw2",
)


def measure(folder, *options):
    return command(folder, "measure", ".", *options)


def command(folder, *words):
    return subprocess.run(
        [
            sys.executable,
            "-c",
            "from profiler.cli.main import main; main()",
            *words,
        ],
        cwd=folder,
        text=True,
        capture_output=True,
        env=os.environ | {"GREYTARE_CACHE": str(folder / "cache")},
        timeout=30,
        check=False,
    )


@pytest.mark.parametrize("name", BAD)
def test_bad_file_gets_one_sentence(name, shared_data, tmp_path):
    shutil.copy(shared_data / "bad" / name, tmp_path / name)
    done = measure(tmp_path, "--patch", "0.4,0.4,0.2,0.2")
    assert done.returncode == 1
    assert done.stderr.startswith(f"greytare: {name}: ")
    assert done.stderr.count("\n") == 1
    assert done.stdout == ""


def test_every_bad_file_is_in_the_list(shared_data):
    assert {path.name for path in (shared_data / "bad").iterdir()} == set(BAD)


def test_scanner_like_and_lossy_files(shared_data, tmp_path):
    raw = shared_data / "raw"
    shutil.copy(raw / "Kodak_DC120_uncompressed_P003908.KDC", tmp_path)
    done = measure(tmp_path, "--patch", "0.4,0.4,0.2,0.2")
    assert done.returncode == 1
    assert "8" in done.stderr
    assert "bit" in done.stderr


def test_whole_real_file_is_measured(shared_data, tmp_path):
    shutil.copy(shared_data / "raw" / "Canon_PowerShotS40_CRW_0119.CRW", tmp_path)
    done = measure(tmp_path, "--patch", "0.4,0.4,0.1,0.1", "--out", "t.csv")
    assert done.returncode == 0, done.stderr
    table = (tmp_path / "t.csv").read_text().splitlines()
    assert len(table) == 1 + 4
    assert "PowerShot S40" in table[1]


def test_fields_that_a_real_file_lacks_are_asked_about_together(shared_data, tmp_path):
    """No tag of this file holds a label, and its f-number was emptied by hand."""
    name = "Kodak_DC120_uncompressed_P003908.KDC"
    content = bytearray((shared_data / "raw" / name).read_bytes())
    order = "little" if content[:2] == b"II" else "big"
    at = content.index((33437).to_bytes(2, order) + (5).to_bytes(2, order))
    place = int.from_bytes(content[at + 8 : at + 12], order)
    content[place : place + 4] = bytes(4)
    folder = tmp_path / "s"
    folder.mkdir()
    (folder / name).write_bytes(content)
    (folder / "sheet.csv").write_text("file,reading,mode\n*,EV 10,spot\n")
    patch = ("--patch", "0.4,0.4,0.2,0.2")
    done = command(tmp_path, "fit", "s", "--out", "x.json", "--allow-8bit", *patch)
    assert done.returncode == 1
    assert f"neither the files nor the sheet give the iso of {name}; aperture of {name}" in (
        done.stderr
    )
    assert done.stderr.count("\n") == 1
    assert not (tmp_path / "x.json").exists()
