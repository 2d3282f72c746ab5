"""One file to take along: answers, numbers and words of some profiles, without a network."""

from __future__ import annotations

import base64
import hashlib
import json
import re
import zlib
from collections.abc import Sequence
from dataclasses import dataclass, fields, is_dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from profiler import __version__
from profiler.errors import GreytareError
from profiler.onset.aperture import band_words
from profiler.onset.dial import dial
from profiler.onset.on_body import OnBody
from profiler.show import answer as answers
from profiler.show import marks
from profiler.show.calibration.identity import body, day, full_name, who
from profiler.show.calibration.result import flag_words
from profiler.show.meter import ei_words, offset_words
from profiler.show.words import INTERVALS, plus_minus
from profiler.web.carry.carried import carried
from profiler.web.carry.field_sheet import Planned
from profiler.web.carry.javascript import Script, written
from profiler.web.carry.sources import Symbol
from profiler.web.carry.style import slim
from profiler.web.fields import Field
from profiler.web.phone.link import RISK
from profiler.web.profiles import body_of, first_of, is_doubted
from profiler.web.rendering import fragment

if TYPE_CHECKING:
    from profiler.results import ProfileData, Result

MOST_BYTES: Final = 200_000
_HERE: Final = Path(__file__).parent
_STATIC: Final = _HERE.parent / "static"
_ENTRIES: Final = tuple(
    Symbol(module, name)
    for module, names in (
        (
            "profiler.web.carry.answers",
            ("tools_offered", "form_of", "answer_to", "frames_of", "sheet_of", "expiry"),
        ),
        ("profiler.web.rendering", ("sentence",)),
        ("profiler.show.drawing", ("drawing",)),
        ("profiler.errors", ("GreytareError",)),
        ("profiler.exposure.reading_tokens", ("tokens",)),
        ("profiler.exposure.marks", ("F_SCALE", "TIME_SCALE")),
    )
    for name in names
)
_WITHOUT: Final = (Symbol("profiler.onset.plan", "half_of"),)
"""The interval of a plan is held against a Monte Carlo; the page's list promises none."""
_OWN: Final = (
    "data what where mend field typed unit more parts value getlist multi_items writeheader "
    "writerows getvalue waits numerator denominator"
)
_KEPT: Final = (
    frozenset(_OWN.split())
    | {
        each.name
        for module in (answers, marks)
        for record in vars(module).values()
        if isinstance(record, type) and is_dataclass(record)
        for each in fields(record)
    }
    | {each.name for record in (Field, OnBody, Planned) for each in fields(record)}
)
"""Fields that the page's own script, or Python's dicts, know by name."""


@dataclass(frozen=True, kw_only=True)
class Carried:
    """A profile to take along: its file's name, where the server finds it, what it holds.

    interval_days: after which it was to be checked again, 0 where nothing was said.
    """

    name: str
    path: str
    data: ProfileData
    interval_days: int = 0


@dataclass(frozen=True, kw_only=True)
class Row:
    """One result as the table shows it, script or none."""

    iso: str
    ei: str
    offset: str
    headroom: str
    holds: str
    doubts: tuple[str, ...]


def carry_page(profiles: Sequence[Carried]) -> str:
    """Return the page as one file that asks for nothing; GreytareError where it gets too large."""
    text, _ = _made(profiles)
    size = len(text.encode())
    if size >= MOST_BYTES:
        raise GreytareError(
            f"the page would hold {size / 1000:.0f} kB, which is more than "
            f"{MOST_BYTES / 1000:.0f} kB",
            ", ".join(each.name for each in profiles),
            "Carry fewer profiles in one page, or one page for each",
        )
    return text


def served_page(profiles: Sequence[Carried], link: str, code: str) -> tuple[str, str]:
    """Return the page for phones with the policy of its scripts.

    link: what lets another phone in; code: the same as an SVG. The server writes its field sheet.
    """
    return _made(profiles, link=link, code=code)


def _made(profiles: Sequence[Carried], *, link: str = "", code: str = "") -> tuple[str, str]:
    script = answers_script()
    given = [_given(each, script) for each in profiles]
    key = hashlib.sha256(json.dumps(given).encode()).hexdigest()[:16]
    answering, page = _code()
    asks = "'self'" if link else "'none'"
    policy = (
        f"default-src 'none'; style-src 'unsafe-inline'; script-src {_hash(page)} "
        f"{_hash(answering)}; img-src data:; connect-src {asks}; base-uri 'none'; "
        "form-action 'none'"
    )
    text = fragment(
        "carry.html",
        title=f"{', '.join(each.name for each in profiles)} – greytare",
        policy=policy,
        style=_style(),
        profiles=[_table(each) for each in profiles],
        intervals=INTERVALS,
        link=link,
        code=code,
        risk=RISK,
        data=_in_html(
            {"key": key, "served": bool(link), "start": _start(profiles), "profiles": given}
        ),
        packed=base64.b64encode(zlib.compress(answering.encode(), 9)).decode(),
        script=page,
    )
    return text, f"{policy}; frame-ancestors 'none'; object-src 'none'"


@cache
def answers_script() -> Script:
    """Return the answers as JavaScript."""
    return written(_ENTRIES, _KEPT, _WITHOUT)


def made_words(profile: Carried) -> str:
    """Return which profile answers: body, lens, meter, file, days, version."""
    data = profile.data
    meter = full_name(data.meter.make, data.meter.model) or "meter not named"
    made = data.provenance.created.partition("T")[0]
    return (
        f"{profile.name}: {body(data)}, {data.lens.model or 'lens not named'}, {meter}. Shot "
        f"{day(data)}, fitted {made} by {data.provenance.software}; carried by greytare "
        f"{__version__}."
    )


def _start(profiles: Sequence[Carried]) -> int:
    """Which profile answers before one is chosen, -1 for none: they are of several bodies."""
    datas = [each.data for each in profiles]
    at = first_of([body_of(data) for data in datas], [is_doubted(data) for data in datas])
    return -1 if at is None else at


def _given(profile: Carried, script: Script) -> dict[str, Any]:
    """What the script is told of a profile."""
    return {
        "name": profile.name,
        "path": profile.path,
        "short": f"{profile.name}: {who(profile.data)}",
        "day": day(profile.data),
        "interval": profile.interval_days,
        "first": _first(profile.data.results[0]) if profile.data.results else {},
        "data": carried(profile.data, script),
    }


def _first(result: Result) -> dict[str, str]:
    """A question that the profile answers."""
    return {"iso": f"{result.iso}", "mode": result.mode, "light": result.light}


def _table(profile: Carried) -> dict[str, Any]:
    rows = [_row(result) for result in profile.data.results]
    return {"name": profile.name, "made": made_words(profile), "rows": rows}


def _row(result: Result) -> Row:
    found = dial(result, result.aim_stops)
    return Row(
        iso=f"ISO {result.iso}",
        ei=ei_words(found),
        offset=offset_words(found),
        headroom=plus_minus(result.clip_headroom_ev),
        holds=f"{result.mode}, {result.light}, {band_words(result)}",
        doubts=tuple(flag_words(flag) for flag in result.flags),
    )


@cache
def _code() -> tuple[str, str]:
    """The script that answers, which is packed, and the page's own."""
    drawing = "".join(
        re.sub(r"^(?:import .*?;\n|export )", "", _plain(_STATIC / name), flags=re.M)
        for name in ("svg.js", "scale_draw.js")
    )
    runtime = _plain(_HERE / "runtime.js")
    answering = f"{runtime}const greytare=(()=>{{\n{answers_script().text}\n}})();\n"
    return answering, (drawing + _plain(_HERE / "carry.js")).replace("</", "<\\/")


def _hash(code: str) -> str:
    """A script as the page's policy names it."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(code.encode()).digest()).decode()}'"


def _plain(path: Path) -> str:
    """A script without its comments and the blanks before its lines."""
    lines = (line.strip() for line in path.read_text(encoding="utf-8").splitlines())
    return "".join(f"{line}\n" for line in lines if line and not line.startswith("//"))


@cache
def _style() -> str:
    sheet = (_STATIC / "style.css").read_text(encoding="utf-8")
    paths = (_HERE / "carry.js", _STATIC / "scale_draw.js", _HERE.parent / "templates/carry.html")
    texts = "".join(path.read_text(encoding="utf-8") for path in paths)
    used = " ".join(re.findall(r"[\"`]([^\"`<>]*)[\"`]", texts))
    return slim(sheet, used) + _plain(_HERE / "carry.css")


def _in_html(value: Any) -> str:
    """JSON that no HTML can end early."""
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"))
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text
