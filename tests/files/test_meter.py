"""A meter file: defaults, and one sentence for each mistake."""

from __future__ import annotations

import pytest

from profiler.errors import GreytareError
from profiler.files.meter import read_meter


def test_what_is_not_said_has_defaults(tmp_path):
    path = tmp_path / "m.toml"
    path.write_text('[meter]\nmodel = "Lm-3"\nserial = "007"\nk_cd_m2 = 14\n')
    meter = read_meter(path)
    assert (meter.model, meter.serial, meter.k_cd_m2, meter.c_flat_lx) == ("Lm-3", "007", 14, 250)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("k = ", "isn't valid TOML"),
        ("k = 3\n", r"no table \[meter\]"),
        ("[meter]\nk = 12.5\n", "not known"),
        ("[meter]\nserial = 7\n", "isn't text"),
        ("[meter]\nk_cd_m2 = 0\n", "is zero"),
        ("[meter]\nk_cd_m2 = true\n", "isn't a usable number"),
        ("[meter]\nresolution_ev = -1\n", "isn't a usable number"),
    ],
)
def test_mistakes(tmp_path, text, what):
    path = tmp_path / "m.toml"
    path.write_text(text)
    with pytest.raises(GreytareError, match=what):
        read_meter(path)


def test_missing_file(tmp_path):
    with pytest.raises(GreytareError, match="can't be read"):
        read_meter(tmp_path / "none.toml")


@pytest.mark.parametrize("lines", ["[linearity.banana]\nev = [1]", "[linearity]\nspot = 3"])
def test_linearity_of_no_mode_is_refused(tmp_path, lines):
    path = tmp_path / "m.toml"
    path.write_text(f'[meter]\nmake = "Sprig"\n{lines}\n')
    with pytest.raises(GreytareError, match="isn't a meter mode"):
        read_meter(path)


NO_LISTS = ["3", "[1]", '"12"', '["1", "2"]', "[true, false]", "[1, 200]", "[1, nan]", "{a=1,b=2}"]


@pytest.mark.parametrize("values", [*NO_LISTS, f"[{', '.join(['0.1'] * 1001)}]"])
def test_linearity_is_lists_of_numbers_of_ev(tmp_path, values):
    path = tmp_path / "m.toml"
    lines = f"level_ev100 = [4, 8]\ndeviation_ev = {values}\nu_ev = [0.02, 0.02]"
    path.write_text(f"[meter]\n[linearity.spot]\n{lines}\n")
    with pytest.raises(GreytareError, match="deviation_ev: it isn't a list of numbers"):
        read_meter(path)
