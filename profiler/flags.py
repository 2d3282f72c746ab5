"""Every doubt that a result can carry, and what to do about it."""

from __future__ import annotations

from dataclasses import dataclass

from profiler.records import Flag


@dataclass(frozen=True, kw_only=True)
class FlagKind:
    """What a flag of this name means, and the advice that goes with it.

    doubt, look: both in few words, to stand beside every answer that rests on the result; only
    where offset or headroom may be further off than their interval says.
    """

    meaning: str
    advice: str
    doubt: str = ""
    look: str = ""


KINDS: dict[str, FlagKind] = {
    "clip-not-seen": FlagKind(
        meaning="no frame reached clip, so headroom and offset are lower bounds",
        advice="Add frames 1 to 2 stops above where the highlights clip",
    ),
    "clip-smeared": FlagKind(
        meaning="clipped pixels pile up over many codes, not on one",
        advice="The low edge of the pile is used; switch off long-exposure noise reduction",
        doubt="clip spreads over many codes",
        look="shoot without long-exposure noise reduction",
    ),
    "bends-before-clip": FlagKind(
        meaning="the response leaves the straight line before it clips",
        advice="Keep tones that must stay true below the linear headroom",
    ),
    "curved-response": FlagKind(
        meaning="the response falls short of a straight line more and more towards clip",
        advice="Check that the raw files are neither lossy nor curve-coded; "
        "the interval makes room for the curve",
    ),
    "black-disagrees": FlagKind(
        meaning="two sources of the black level differ",
        advice="Add two lens-cap frames per ISO label, marked dark in the sheet",
        doubt="sources of the black level differ",
        look="shoot two dark frames per ISO label",
    ),
    "dark-cut": FlagKind(
        meaning="the camera cuts dark noise off at its lowest code, so that the mean is too high",
        advice="Black and read noise are drawn from what is left of it, and less certain; "
        "where the camera has it, choose a raw without in-camera dark subtraction",
    ),
    "slip": FlagKind(
        meaning="one frame is far off the others and was left out",
        advice="Check its reading, time and aperture in the sheet, or shoot it again",
    ),
    "decoder-died": FlagKind(
        meaning="one frame could not be decoded and was left out",
        advice="Copy it from the card again; the decoder crashed or hung over it, "
        "which ended nothing else",
    ),
    "sheet-against-files": FlagKind(
        meaning="the sheet says something else than the files",
        advice="Correct the cell, or leave it where the files are wrong: the sheet's value counts",
        doubt="the sheet says something else than the files",
        look="the result names the cell to correct",
    ),
    "few-frames": FlagKind(
        meaning="few frames lie on the straight part",
        advice="Shoot at least five different times per ISO label between the floor and clip",
        doubt="few frames on the straight part",
        look="shoot five times or more per ISO label",
    ),
    "noise-upper-bound": FlagKind(
        meaning="without pairs of equal frames fixed pattern counts as noise",
        advice="Shoot two of each frame; read noise and floor are upper bounds until then",
    ),
    "noise-not-measured": FlagKind(
        meaning="the frames don't tell gain or read noise",
        advice="Shoot two of each frame, from the darkest up to half of clip, "
        "and two lens-cap frames",
    ),
    "uneven-patch": FlagKind(
        meaning="the light changes across the patch",
        advice="Move the light or the card, or have a smaller patch measured",
        doubt="light uneven across the patch",
        look="move light or card, or take a smaller patch",
    ),
    "coarse-reading": FlagKind(
        meaning="the readings were typed in large steps, which widens the interval",
        advice="Type every figure that the meter shows, zeros too (EV 12.0, f/8+0), "
        "or state its step as resolution_ev in the meter's file",
    ),
    "light-drift": FlagKind(
        meaning="the readings before and after differ",
        advice="Wait until the lamp is warm or the sky steady, and shoot again",
        doubt="readings before and after differ",
        look="shoot again in a steady light",
    ),
    "time-rule-unsure": FlagKind(
        meaning="exact and marked times fit equally well",
        advice="Use more shutter times whose mark and exact value differ (1/15, 1/30, 1/60)",
    ),
    "uneven-exposures": FlagKind(
        meaning="frames scatter more than a shutter does",
        advice="Bracket by time with the iris untouched, under a light that doesn't flicker",
        doubt="frames scatter more than a shutter does",
        look="bracket by time in a steady light",
    ),
    "eight-bit": FlagKind(
        meaning="the raw data have 8 bit only",
        advice="Check that the coding is linear; expect steps where the light is low",
        doubt="raw data of 8 bit",
        look="check that their coding is linear",
    ),
    "lossy-coding": FlagKind(
        meaning="the file's coding throws levels away",
        advice="Choose lossless or uncompressed raw in the camera; noise figures don't hold",
    ),
    "quantised-dark": FlagKind(
        meaning="rounding to whole codes hides the dark noise",
        advice="Read noise is an upper bound; a higher ISO label shows more of it",
    ),
    "trend": FlagKind(
        meaning="the frame errors follow the order of the frames",
        advice="The light drifted, or short times are off: read the meter again after the last "
        "frame, as one more row for *, and shoot one label again in reverse order",
        doubt="frames drift in their order",
        look="read after the last frame, too, and shoot in reverse order",
    ),
    "pulsing-light": FlagKind(
        meaning="bands or a gradient that changes from frame to frame: the light pulses",
        advice="Keep to times that hold whole periods of the mains, or use daylight or flash",
        doubt="the light pulses",
        look="calibrate in daylight, by flash, or at whole periods",
    ),
    "code-gaps": FlagKind(
        meaning="the codes leave regular gaps: this ISO label is made by multiplying, "
        "or the bit depth is lower than the file's",
        advice="A lower ISO label with the exposure kept gives the same noise and more headroom",
    ),
    "smoothed-raw": FlagKind(
        meaning="neighbouring pixels are more alike than noise leaves them",
        advice="Noise was reduced inside the raw; gain and read noise do not hold",
    ),
    "unusual-offset": FlagKind(
        meaning="meter and body are further apart than they usually are",
        advice="Check that the patch lies on the card, the ISO set on the meter, "
        "and any compensation left on it",
        doubt="offset unusually large",
        look="check reading, ISO, compensation, patch",
    ),
    "modes-disagree": FlagKind(
        meaning="two modes on one card differ by more than their constants explain",
        advice="Check receptor (dome or flat), card, and what the sheet says of the mode",
        doubt="two modes disagree on one card",
        look="check receptor, card, and modes in the sheet",
    ),
    "monte-carlo": FlagKind(
        meaning="linear propagation and Monte Carlo differ in the digits shown",
        advice="The interval is the Monte Carlo one",
    ),
    "mixed-apertures": FlagKind(
        meaning="the frames were taken at apertures from different bands",
        advice="Calibrate wide apertures in a series of their own",
        doubt="wide apertures among the others",
        look="calibrate them in a series of their own",
    ),
}


_UNKNOWN = FlagKind(
    meaning="a flag that this version of greytare doesn't know",
    advice="Install a newer greytare to read what it means",
    doubt="a flag that this version doesn't know",
    look="install a newer greytare",
)


def advice(flag: Flag) -> str:
    """Return what to do about a flag."""
    return kind_of(flag).advice


def meaning(flag: Flag) -> str:
    """Return what a flag says, without its size."""
    return kind_of(flag).meaning


def kind_of(flag: Flag) -> FlagKind:
    """Return what is known of flags of that name."""
    return KINDS.get(flag.name, _UNKNOWN)


def moves_answers(flag: Flag) -> bool:
    """Return whether offset or headroom may be further off than their interval says."""
    return bool(kind_of(flag).doubt)
