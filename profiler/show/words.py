"""Numbers and estimates in words: sign, digits, bound, what isn't known; said here for all."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from profiler import standards
from profiler.calibration.fit.budget import coverage_factor, decimals

if TYPE_CHECKING:
    from collections.abc import Sequence

    from profiler.records import Estimate
    from profiler.results import Span

UNKNOWN: Final = "not known"
INTERVALS: Final = (
    "± is half a 95 % interval, and ranges are 95 % intervals. Stops and EV are the same thing; "
    "more means more exposure."
)


def number(value: float, places: int) -> str:
    """Return a number without a minus before zero."""
    text = f"{value:.{places}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text


def with_sign(value: float, places: int = 1) -> str:
    """Return a number with its sign; zero has none."""
    text = number(value, places)
    return text if text.startswith("-") or float(text) == 0.0 else f"+{text}"


def count(many: int, one: str, more: str = "") -> str:
    """Return `1 frame`, `2 frames`."""
    return f"{many} {one if many == 1 else more or one + 's'}"


def unit_of(shown: str) -> str:
    """Return stop or stops, as a shown size asks for."""
    return "stop" if float(shown) <= 1.0 else "stops"


def half_width(estimate: Estimate) -> float:
    """Return half the 95 % interval."""
    return 0.5 * (estimate.high - estimate.low)


def bound_word(estimate: Estimate | Span, *, less: bool = False) -> str:
    """Return `at least ` for a bound below, `at most ` where it is spoken the other way round.

    less: the size is that of a negative number, or of one that falls where the bounded one rises.
    """
    if not estimate.lower_bound:
        return ""
    return "at most " if less else "at least "


def plus_minus(estimate: Estimate, unit: str = "") -> str:
    """Return `2.8 ± 0.2 stops`: the value with half its interval, rounded alike; a bound says so.

    >>> from profiler.records import Estimate
    >>> plus_minus(Estimate(value=2.8, u=0.1, low=2.6, high=3.0, lower_bound=True), "stops")
    'at least 2.8 ± 0.2 stops'
    """
    value = number(estimate.value, _places(estimate))
    return f"{bound_word(estimate)}{value} ± {half_words(estimate)} {unit}".rstrip()


def signed(estimate: Estimate) -> str:
    """Return `+0.5 ± 0.2`, the sign always shown; zero has none."""
    value = with_sign(estimate.value, _places(estimate))
    return f"{bound_word(estimate)}{value} ± {half_words(estimate)}"


def size(estimate: Estimate) -> str:
    """Return how large an estimate is, whatever its sign, to as many digits as are certain."""
    return number(abs(estimate.value), _places(estimate))


def half_words(estimate: Estimate) -> str:
    """Return half the 95 % interval, to the same digits; never zero."""
    return rounded_up(half_width(estimate), _places(estimate))


def half_tenths(estimate: Estimate) -> str:
    """Return half the 95 % interval in tenths, beside a number that is shown in tenths."""
    return rounded_up(half_width(estimate), 1)


def rounded_up(half: float, places: int) -> str:
    """Return half of an interval rounded up, for 0.15 shown as 0.1 would promise too much.

    It is rounded down where that takes off at most a tenth of it; never zero. JCGM 100, 7.2.6
    allows rounding up rather than to the nearest digit, with common sense.

    >>> rounded_up(0.147, 1), rounded_up(0.21, 1), rounded_up(0.0, 2)
    ('0.2', '0.2', '0.01')
    """
    steps = half * 10.0**places
    whole = math.floor(steps + 1e-9)
    shown = whole if whole >= 0.9 * steps else whole + 1
    return f"{max(shown, 1) / 10.0**places:.{places}f}"


def margin(estimate: Estimate) -> str:
    """Return `0.6 ± 0.2`: the size, whatever the sign, with half the interval; a bound says so."""
    word = bound_word(estimate, less=estimate.value < 0.0)
    return f"{word}{size(estimate)} ± {half_words(estimate)}"


def stops(estimate: Estimate | None, over: str, under: str) -> str:
    """Return an estimate as a size with its direction: over where it is positive, else under.

    A bound from below is `at least 0.6 ± 0.2 stop more`, and `at most 0.6 ± 0.2 stop less` where
    it is negative, for the truth lies above it.

    >>> from profiler.records import Estimate
    >>> low = Estimate(value=-0.5, u=0.1, low=-0.7, high=-0.3, lower_bound=True)
    >>> stops(low, "more", "less"), stops(None, "more", "less")
    ('at most 0.5 ± 0.2 stop less', 'not known')
    """
    if estimate is None:
        return UNKNOWN
    unit = unit_of(size(estimate))
    return f"{margin(estimate)} {unit} {over if estimate.value >= 0.0 else under}"


def amount(ev: float, more: str = "more", less: str = "less") -> str:
    """Return `0.3 stop more`: an exact rest in tenths, its sign in words; `nothing` for none."""
    size = f"{abs(ev):.1f}"
    if size == "0.0":
        return "nothing"
    return f"{size} {unit_of(size)} {more if ev > 0.0 else less}"


def is_spoken(left_ev: float, beside: Estimate) -> bool:
    """Return whether a rest is worth a word beside an estimate: it exceeds the ± that is shown.

    A rest that belongs in the headline is spoken whatever the uncertainty.
    """
    if belongs_in_headline(left_ev):
        return True
    return float(f"{abs(left_ev):.1f}") > float(f"{half_width(beside):.1f}")


def belongs_in_headline(left_ev: float) -> bool:
    """Return whether a rest is so large that the first sentence must say it."""
    return abs(left_ev) > standards.HEADLINE_LEFT_EV


def agrees(offset: Estimate) -> bool:
    """Return whether an offset can't be told from none: its interval holds zero, and it is no
    bound."""
    return offset.low <= 0.0 <= offset.high and not offset.lower_bound


def three_figures(value: float) -> str:
    """Return a speed to three significant figures at most, two where that is enough."""
    if value <= 0.0 or not math.isfinite(value):
        return str(value)
    step = 10 ** (math.floor(math.log10(value)) - 1)
    return f"{round(value / step) * step:g}"


def speed(span: Span, *, in_brackets: bool = False) -> str:
    """Return `490 (440 to 550)`: a speed to two figures with its 95 % interval.

    in_brackets: `490, between 440 and 550`, as it stands inside other brackets. A speed falls where
    headroom rises, so a bound below on the one is `at most` of the other.
    """
    value, low, high = (three_figures(each) for each in (span.value, span.low, span.high))
    interval = f", between {low} and {high}" if in_brackets else f" ({low} to {high})"
    return f"{bound_word(span, less=True)}{value}{interval}"


def compact(estimate: Estimate, *, sign: bool = False) -> str:
    """Return `≥ −0.3`: a value without its interval, as it fits on a card; sign: a plus is shown.

    >>> from profiler.records import Estimate
    >>> compact(Estimate(value=-0.3, u=0.1, low=-0.5, high=-0.1, lower_bound=True))
    '≥ −0.3'
    """
    places = _places(estimate)
    text = with_sign(estimate.value, places) if sign else number(estimate.value, places)
    return f"{'≥ ' if estimate.lower_bound else ''}{text.replace('-', '−')}"


def with_half(value: float, u: float, *, sign: bool = False) -> str:
    """Return `512.0 ± 0.1`: a value with half its 95 % interval, rounded alike; u is standard.

    sign: a plus is shown too; zero has none.
    """
    half = coverage_factor(math.inf) * u
    if not half > 0.0:
        return figures(value, 4)
    places = min(4, max(0, -math.floor(math.log10(half / 0.95) + 1e-12)))
    shown = with_sign(value, places) if sign else number(value, places)
    return f"{shown} ± {rounded_up(half, places)}"


def figures(value: float, count: int) -> str:
    """Return a number to `count` significant figures, without an exponent where it is readable."""
    if value == 0.0 or not math.isfinite(value):
        return f"{value:g}"
    exponent = math.floor(math.log10(abs(value)))
    if not -4 <= exponent <= 7:
        return f"{value:.{count - 1}e}"
    return f"{round(value, count - 1 - exponent):.{max(0, count - 1 - exponent)}f}"


def listed(words: Sequence[str]) -> str:
    """Return `a, b and c`."""
    return " and ".join(filter(None, (", ".join(words[:-1]), *words[-1:])))


def _places(estimate: Estimate) -> int:
    return decimals(half_width(estimate))
