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
    return subprocess.run(
        [
            sys.executable,
            "-c",
            "from profiler.cli.main import main; main()",
            "measure",
            ".",
            *options,
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
