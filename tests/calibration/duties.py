"""What the tool owes the user for every fault that the simulator can make."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

Kind = Literal["survive", "flag", "refuse", "unseen"]


@dataclass(frozen=True, kw_only=True)
class Duty:
    """survive: the truth stays inside the stated interval; flag: a result carries one of `says`.

    refuse: the series is refused with a message that holds `says[0]`; unseen: nothing in the
    frames can tell, and `says[0]` is what the user can do. size: where the usual one is too small
    to be seen by the standard series.
    """

    kind: Kind
    says: tuple[str, ...] = ()
    size: float | None = None


def _survive(size: float | None = None) -> Duty:
    return Duty(kind="survive", size=size)


def _flag(*says: str, size: float | None = None) -> Duty:
    return Duty(kind="flag", says=says, size=size)


def _refuse(says: str) -> Duty:
    return Duty(kind="refuse", says=(says,))


def _unseen(remedy: str) -> Duty:
    return Duty(kind="unseen", says=(remedy,))


DUTIES: Final[dict[str, Duty]] = {
    # sensor and coding
    "clip-channel": _survive(),
    "clip-label": _survive(),
    "burst-12bit": _refuse("coded in steps of 4"),
    "clip-bell": _flag("clip-smeared"),
    "knee": _flag("bends-before-clip", size=0.6),
    "digital-push": _flag("code-gaps"),
    "wide-open-gain": _flag("code-gaps"),
    "highlight-mode": _refuse("two groups"),
    "black-channels": _survive(),
    "black-fraction": _survive(),
    "black-cut": _survive(),
    "mask-leak": _survive(),
    "hot-pixels": _survive(),
    "noise-reduction": _flag("smoothed-raw"),
    "coarse-dark": _flag("quantised-dark"),
    "long-exposure-dark": _survive(),
    "shading-baked": _flag("clip-smeared"),
    "pattern-noise": _survive(),
    # light
    "light-drift": _flag("trend"),
    "lamp-warm-up": _flag("trend"),
    "cloud": _refuse("two groups"),
    "mains-flicker": _flag("pulsing-light"),
    "led-pulse": _flag("pulsing-light"),
    "pair-flicker": _survive(),
    # card and lens
    "glare": _survive(),
    "card-gradient": _survive(),
    "vignetting": _survive(),
    "colour-cast": _survive(),
    "card-small": _survive(),
    "card-off-centre": _survive(),
    "card-missed": _flag("unusual-offset"),
    "bright-surround": _survive(),
    "flare": _survive(),
    "card-reflectance": _survive(),
    # shutter, iris, lens
    "as-marked-times": _survive(),
    "as-marked-apertures": _survive(),
    "shutter-scatter": _survive(),
    "shutter-late": _survive(),
    "iris-scatter": _flag("uneven-exposures"),
    "aperture-mark": _survive(),
    "aperture-bracket": _flag("mixed-apertures"),
    "t-stop-loss": _survive(),
    "t-stop-in-sheet": _survive(),
    "close-focus": _unseen("Write the magnification into the sheet's column of that name"),
    # tags
    "iso-65535": _survive(),
    "iso-as-base": _refuse("two groups"),
    "black-tag-off": _survive(),
    "black-tag-zero": _flag("black-disagrees"),
    "black-tag-doubled": _flag("black-disagrees"),
    "white-tag-low": _survive(),
    "odd-times": _survive(),
    "time-missing": _refuse("sheet give the time of"),
    "manual-lens": _survive(),
    # files
    "curve-coded": _flag("lossy-coding"),
    "linear-dng": _refuse("developed colour"),
    "truncated-file": _refuse("cut short"),
    "zero-file": _refuse("the one value 0"),
    "half-file": _refuse("the one value 0"),
    "same-names": _refuse("folders below it"),
    "mixed-bodies": _refuse("mixes bodies"),
    "mixed-lenses": _refuse("mixes lenses"),
    # people
    "mistyped-reading": _flag("slip"),
    "iso-left-on-meter": _flag("unusual-offset"),
    "compensation-left": _unseen("Clear the meter's compensation before you read"),
    "meter-error": _survive(),
    "meter-repeatability": _survive(),
    "reading-rounded": _survive(),
    "wrong-mode": _unseen(
        "Read the card in two modes: a difference that constants can't explain is a flag"
    ),
    "wrong-receptor": _unseen(
        "Read the card in two modes: a difference that constants can't explain is a flag"
    ),
    "clip-missing": _flag("clip-not-seen"),
    "few-frames": _flag("few-frames"),
}
