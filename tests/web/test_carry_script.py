"""Python written as JavaScript: what can't be is refused with its place; sheets in their words."""

from __future__ import annotations

import sys
import textwrap

import pytest
from starlette.datastructures import QueryParams

from profiler.errors import GreytareError
from profiler.onset.profile import Profile
from profiler.web.carry.answers import expiry, sheet_of
from profiler.web.carry.javascript import written
from profiler.web.carry.sources import Symbol, module_of
from profiler.web.carry.style import slim


@pytest.fixture
def module(tmp_path, monkeypatch):
    """Return the symbol of a function in a module of its own."""

    def made(name: str, text: str) -> Symbol:
        (tmp_path / f"{name}.py").write_text(textwrap.dedent(text))
        monkeypatch.syspath_prepend(tmp_path)
        return Symbol(name, "asked")

    yield made
    module_of.cache_clear()
    for name in ("first_odd", "second_odd", "third_odd", "plain_one"):
        sys.modules.pop(name, None)


@pytest.mark.parametrize(
    ("name", "line", "said"),
    [
        ("first_odd", "return text.zfill(3)", "first_odd, line 2: Call can't be written"),
        ("second_odd", "return open(text)", "second_odd: open isn't known"),
        ("third_odd", "return await_(**text)", "third_odd: await_ isn't known"),
    ],
)
def test_what_cannot_be_written_is_refused_with_its_place(module, name, line, said):
    with pytest.raises(ValueError, match=f"^{said}"):
        written([module(name, f"def asked(text):\n    {line}\n")])


def test_keywords_defaults_and_fields_are_put_in_line(module):
    asked = module(
        "plain_one",
        """
        def asked(text):
            return helper(2, last=text)
        def helper(first, *, middle=3, last):
            return f"{first * middle:.1f} {last}"
        """,
    )
    text = written([asked]).text
    assert "(2,undefined,a)" in text
    assert text.endswith("return {asked: $a};")


def test_only_rules_that_a_page_uses_are_kept():
    sheet = "a{b:c} .gone{d:e} @media (x){.kept .gone{f:g} .kept{h:i}}"
    assert slim(sheet, '"kept"') == "a{b:c}@media (x){.kept{h:i}}"


def test_a_profile_is_too_old_only_after_its_days():
    assert expiry("2026-01-05", 30, 30) == ""
    assert "31 days ago, and was to be checked again after 30" in expiry("2026-01-05", 31, 30)


FLASH = [("reading", "f/8+0 ISO 100"), ("iso", "400"), ("mode", "flash-dome"), ("light", "flash")]


def test_flash_is_read_frame_by_frame():
    from pathlib import Path

    fixture = Path(__file__).resolve().parents[2] / "fixtures" / "profile-v2.profile.json"
    profile = Profile.load(fixture)
    with pytest.raises(GreytareError, match="each needs the name of its file"):
        sheet_of(profile, QueryParams(FLASH), [(0, "f/2.8+1 ISO 400")])
    text = sheet_of(
        profile,
        QueryParams([*FLASH, ("first_file", "IMG_0999.dng")]),
        [(0, "f/2.8+1 ISO 400"), (1, "")],
    )
    rows = text.splitlines()
    assert rows[1].startswith("IMG_0999.dng,f/2.8+1 ISO 400,flash-dome")
    assert rows[2].startswith("IMG_1000.dng,f/")
    with pytest.raises(GreytareError, match="a file name with a number"):
        sheet_of(profile, QueryParams([*FLASH, ("first_file", "../9.dng")]), [(0, "")])
