"""Settings of a camera as a photographer or a camera assistant writes them."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from profiler.errors import ExposureError, SheetError, about
from profiler.exposure.flicker import time_from_angle_s
from profiler.exposure.marks import TIME_SCALE
from profiler.exposure.reading_tokens import Token, tokens
from profiler.exposure.stops import StopStep, exact_f_number, exact_time_s
from profiler.exposure.wording import format_f_number, format_time
from profiler.standards import MARK_TOLERANCE

_LONGEST_MARK_S = TIME_SCALE["third"][0][0][0]
_BARE = re.compile(r"[\d.,/ ]+")


@dataclass(frozen=True, kw_only=True)
class Aperture:
    """A marked f-number, or a T-stop where word is T; a computed one stands for itself."""

    marked: float
    word: str = "f"
    computed: bool = False

    @property
    def label(self) -> str:
        """As it is marked: `f/8`, `T2.8`."""
        words = format_f_number(self.marked)
        return words if self.word == "f" else words.replace("f/", "T")

    def exact(self, series: StopStep = "third") -> float:
        """Exact member of the series that the mark stands for."""
        return self.marked if self.computed else exact_f_number(self.marked, series)


@dataclass(frozen=True, kw_only=True)
class Shutter:
    """A marked time in s, or a shutter angle in degrees at a frame rate (then it has no mark)."""

    marked_s: float
    angle_deg: float | None = None
    fps: float | None = None

    @property
    def is_counted(self) -> bool:
        """Whether no dial has the time, so that it is held open on bulb and counted."""
        return self.angle_deg is None and self.marked_s > _LONGEST_MARK_S * (1.0 + MARK_TOLERANCE)

    @property
    def label(self) -> str:
        """As it is marked: `1/60 s`, `180deg 24fps`, or to be counted: `bulb 64 s`."""
        if self.angle_deg is not None and self.fps is not None:
            return f"{self.angle_deg:g}deg {self.fps:g}fps"
        return f"{'bulb ' if self.is_counted else ''}{format_time(self.marked_s)}"

    def seconds(self, rule: str = "exact", series: StopStep = "third") -> float:
        """Time in s that the body gives: exact member or as marked; angle/(360 fps)."""
        if self.angle_deg is not None or rule != "exact":
            return self.marked_s
        return exact_time_s(self.marked_s, series)


@dataclass(frozen=True, kw_only=True)
class CameraSetting:
    """Aperture with shutter; no shutter for flash alone."""

    aperture: Aperture
    shutter: Shutter | None = None

    @property
    def label(self) -> str:
        """As a photographer says it: `f/8 1/60 s`."""
        return " ".join(part.label for part in (self.aperture, self.shutter) if part is not None)


def parse_setting(text: str, where: str = "setting") -> CameraSetting:
    """Return the setting in a text such as `f/8 1/60` or `T2.8 180deg 24fps`.

    >>> parse_setting("f/8 1/60").label, parse_setting("T2.8 180deg 24fps").label
    ('f/8 1/60 s', 'T2.8 180deg 24fps')
    """
    found = _tokens(text, text, where, "f/8 1/60, f/8 0.5 s or T2.8 180deg 24fps")
    aperture = _aperture(found)
    if aperture is None:
        raise ExposureError(
            "the aperture is missing", f"{where} '{text}'", "Write for example f/8 1/60"
        )
    _nothing_else(found, {"f", "t", "time", "angle", "fps"}, f"{where} '{text}'")
    return CameraSetting(aperture=aperture, shutter=_shutter(found, f"{where} '{text}'"))


def parse_aperture(text: str, where: str = "aperture") -> Aperture:
    """Return the aperture in `f/8`, `T2.8` or a bare `8`."""
    bare = _BARE.fullmatch(text.strip())
    found = _tokens(f"f/{text.strip()}" if bare else text, text, where, "f/8, T2.8 or 8")
    aperture = _aperture(found)
    if aperture is None or len(found) > 1:
        raise ExposureError("it isn't an aperture", f"{where} '{text}'", "Write f/8, T2.8 or 8")
    return aperture


def parse_shutter(text: str, where: str = "time") -> Shutter:
    """Return the time in `1/60`, `0.5`, `2 s`, or an angle such as `180deg 24fps`."""
    bare = _BARE.fullmatch(text.strip())
    found = _tokens(
        f"{text.strip()} s" if bare else text, text, where, "1/60, 0.5, 2 s or 180deg 24fps"
    )
    shutter = _shutter(found, f"{where} '{text}'")
    if shutter is None or set(found) - {"time", "angle", "fps"}:
        raise ExposureError(
            "it isn't a time", f"{where} '{text}'", "Write 1/60, 0.5, 2 s or 180deg 24fps"
        )
    return shutter


def seconds_of(typed: float | str, field: str) -> float:
    """Return a time in s, from a number or as it is marked."""
    if not isinstance(typed, str):
        return typed
    with about(field):
        return parse_shutter(typed, field.replace("_", " ")).marked_s


def _tokens(text: str, typed: str, where: str, example: str) -> dict[str, Token]:
    """The quantities of a setting; what can't be read is answered with settings, not readings."""
    try:
        return tokens(text, where)
    except SheetError as error:
        raise ExposureError(error.what, f"{where} '{typed}'", f"Write {example}") from error


def _aperture(found: dict[str, Token]) -> Aperture | None:
    if "f" in found and "t" in found:
        raise ExposureError(
            "both an f-number and a T-stop",
            f"f/{found['f'].typed}, T{found['t'].typed}",
            "Write the one that counts",
        )
    token = found.get("f") or found.get("t")
    if token is None:
        return None
    value = token.value
    if token.more:
        value = exact_f_number(value) * math.exp2(float(token.more) / 2.0)
    word = "f" if token.kind == "f" else "T"
    return Aperture(marked=value, word=word, computed=bool(token.more))


def _shutter(found: dict[str, Token], where: str) -> Shutter | None:
    angle, fps, time = found.get("angle"), found.get("fps"), found.get("time")
    if angle is not None and fps is not None:
        if time is not None:
            raise ExposureError(
                "both a time and a shutter angle", where, "Write the one that counts"
            )
        return Shutter(
            marked_s=time_from_angle_s(angle.value, fps.value),
            angle_deg=angle.value,
            fps=fps.value,
        )
    if angle is not None or fps is not None:
        raise ExposureError(
            "a shutter angle needs its frame rate", where, "Write both, such as 180deg 24fps"
        )
    return None if time is None else Shutter(marked_s=time.value)


def _nothing_else(found: dict[str, Token], known: set[str], where: str) -> None:
    for kind, token in found.items():
        if kind not in known:
            raise ExposureError(
                f"'{token.typed}' ({kind}) has no place in it", where, "Write for example f/8 1/60"
            )
