"""A simulated camera body, read from a small TOML file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from profiler.errors import GreytareError
from profiler.files.regular import read_text
from profiler.files.toml import parse_toml

CFA_ROWS: Final[Mapping[str, tuple[tuple[str, ...], ...]]] = {
    "RGGB": (("R", "G1"), ("G2", "B")),
    "BGGR": (("B", "G2"), ("G1", "R")),
    "GRBG": (("G1", "R"), ("B", "G2")),
    "GBRG": (("G2", "B"), ("R", "G1")),
    "XTRANS": tuple(
        tuple(row) for row in ("GBGGRG", "RGRBGB", "GBGGRG", "GRGGBG", "BGBRGR", "GRGGBG")
    ),
    "MONO": (("Y",),),
}
"""Channel names of one period from the corner of the active area; G1 shares its rows with R."""

_BODIES: Final = Path(__file__).parent / "bodies"


@dataclass(frozen=True, kw_only=True)
class IsoLabel:
    """What one ISO label does on a body; black and clip per channel in DN."""

    iso: int
    gain_e_per_dn: float
    read_noise_e: float
    black_dn: Mapping[str, float]
    clip_dn: Mapping[str, float]


@dataclass(frozen=True, kw_only=True)
class Body:
    """A camera body with its lens: who it says it is, and what its sensor does.

    electrons_per_lx_s: electrons of one pixel of sensitivity 1 for 1 lx s on the focal plane.
    prnu: rms pixel-to-pixel spread of the sensitivity. Masked borders lie left of, and above, the
    active area of width x height; masked_tag: the file says where.
    """

    make: str
    model: str
    serial: str
    lens: str
    cfa: str
    bits: int
    width: int
    height: int
    full_well_e: float
    electrons_per_lx_s: float
    sensitivity: Mapping[str, float]
    labels: tuple[IsoLabel, ...]
    masked_left: int = 0
    masked_top: int = 0
    masked_tag: bool = False
    prnu: float = 0.0
    source_toml: str = field(default="", repr=False, compare=False)

    @property
    def pattern(self) -> tuple[tuple[str, ...], ...]:
        """Channel names of one CFA period, from the corner of the active area."""
        return CFA_ROWS[self.cfa]

    @property
    def channels(self) -> tuple[str, ...]:
        """Channel names, R first."""
        return channels_of(self.cfa)

    @property
    def top_code_dn(self) -> int:
        """Highest code that the bit depth can hold, in DN."""
        return int((1 << self.bits) - 1)

    def label(self, iso: int) -> IsoLabel:
        """Return what the body does at an ISO label; GreytareError where it has no such label."""
        for label in self.labels:
            if label.iso == iso:
                return label
        known = ", ".join(str(label.iso) for label in self.labels)
        raise GreytareError(
            f"there is no ISO label {iso}", f"{self.make} {self.model}", f"Use one of {known}"
        )


def channels_of(cfa: str) -> tuple[str, ...]:
    """Return the channel names of a CFA, in the order R, G1, G2, B."""
    return tuple(sorted({name for row in CFA_ROWS[cfa] for name in row}, key="RG1G2BY".index))


def shipped_bodies() -> dict[str, Path]:
    """Return the invented bodies that come with the package: name to TOML file."""
    return {path.stem: path for path in sorted(_BODIES.glob("*.toml"))}


def load_body(body: str | Path) -> Body:
    """Return the body described by a TOML file, or by the name of a shipped one."""
    shipped = shipped_bodies()
    path = shipped.get(str(body), Path(body))
    try:
        text = read_text(path)
    except (OSError, UnicodeDecodeError) as exc:
        raise GreytareError(
            "this body can't be read",
            str(body),
            f"Give a TOML file, or one of the shipped bodies: {', '.join(shipped)}",
        ) from exc
    return parse_body(text, where=str(path))


def parse_body(text: str, *, where: str = "body") -> Body:
    """Return the body that a TOML text describes; `where` names it in error messages."""
    top = _Table(parse_toml(text, where), "", where)
    sensor = _Table(top.take("sensor", dict), "sensor.", where)
    cfa = sensor.take("cfa", str)
    if cfa not in CFA_ROWS:
        raise sensor.wrong("cfa", f"is {cfa!r}", f"Use one of {', '.join(CFA_ROWS)}")
    bits = sensor.whole("bits")
    if bits not in (12, 14):
        raise sensor.wrong("bits", f"is {bits}", "Use 12 or 14")
    for name in ("masked_left", "masked_top"):
        if len(CFA_ROWS[cfa]) == 2 and sensor.left.get(name, 0) in range(1, 1 << 16, 2):
            raise sensor.wrong(name, "is odd", "Use an even number, as LibRaw rounds odd ones up")
    channels = channels_of(cfa)
    rows = top.take("label", list)
    if not rows:
        raise top.wrong("label", "is empty", "Add at least one [[label]] table")
    labels = []
    for i, row in enumerate(rows, start=1):
        table = _Table(row, f"label {i}: ", where)
        labels.append(
            IsoLabel(
                iso=table.whole("iso"),
                gain_e_per_dn=table.number("gain_e_per_dn"),
                read_noise_e=table.number("read_noise_e", zero=True),
                black_dn=table.per_channel("black_dn", channels, zero=True),
                clip_dn=table.per_channel("clip_dn", channels, most=float((1 << bits) - 1)),
            )
        )
        for channel, clip_dn in labels[-1].clip_dn.items():
            if clip_dn != int(clip_dn) or clip_dn <= labels[-1].black_dn[channel]:
                raise table.wrong(
                    "clip_dn", f"is {clip_dn:g}", "Give a whole code that lies above black_dn"
                )
        table.close()
    isos = [label.iso for label in labels]
    if len(set(isos)) < len(isos):
        raise top.wrong("label", "names an iso twice", "Keep one [[label]] table for each iso")
    body = Body(
        make=top.take("make", str),
        model=top.take("model", str),
        serial=top.take("serial", str),
        lens=top.take("lens", str),
        cfa=cfa,
        bits=bits,
        width=sensor.whole("width"),
        height=sensor.whole("height"),
        masked_left=sensor.whole("masked_left", default=0),
        masked_top=sensor.whole("masked_top", default=0),
        full_well_e=sensor.number("full_well_e"),
        electrons_per_lx_s=sensor.number("electrons_per_lx_s"),
        sensitivity=sensor.per_channel("sensitivity", channels),
        masked_tag=sensor.take("masked_tag", bool) if "masked_tag" in sensor.left else False,
        prnu=sensor.number("prnu", default=0.0, zero=True),
        labels=tuple(sorted(labels, key=lambda label: label.iso)),
        source_toml=text,
    )
    sensor.close()
    top.close()
    return body


class _Table:
    """One TOML table whose fields are taken one by one; what stays behind is an error."""

    def __init__(self, values: Any, prefix: str, where: str) -> None:
        self.prefix, self.where = prefix, where
        if not isinstance(values, dict):
            raise self.wrong("", "isn't a table", "Write it as a TOML table")
        self.left = dict(values)

    def wrong(self, name: str, what: str, mend: str) -> GreytareError:
        return GreytareError(f"{self.prefix}{name} {what}".replace("  ", " "), self.where, mend)

    def take(self, name: str, kind: type) -> Any:
        if name not in self.left:
            raise self.wrong(name, "is missing", f"Add it ({_KINDS[kind]})")
        value = self.left.pop(name)
        if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
            raise self.wrong(name, f"is {value!r}", f"Give {_KINDS[kind]}")
        return value

    def whole(self, name: str, *, default: int | None = None) -> int:
        if default is not None and name not in self.left:
            return default
        value: int = self.take(name, int)
        least = 1 if default is None else default
        if value < least:
            raise self.wrong(name, f"is {value}", f"Use {least} or more")
        return value

    def number(
        self,
        name: str,
        *,
        default: float | None = None,
        zero: bool = False,
        most: float = float("inf"),
    ) -> float:
        if default is not None and name not in self.left:
            return default
        if type(self.left.get(name)) is int:  # True is an int too, but no number here
            self.left[name] = float(self.take(name, int))
        value: float = self.take(name, float)
        fits = (value >= 0.0 if zero else value > 0.0) and value <= most and value < float("inf")
        if not fits:
            bound = "0 or more" if zero else "a number above 0"
            top = "" if most == float("inf") else f", {most:g} at most"
            raise self.wrong(name, f"is {value:g}", f"Use {bound}{top}")
        return value

    def per_channel(
        self,
        name: str,
        channels: tuple[str, ...],
        *,
        zero: bool = False,
        most: float = float("inf"),
    ) -> dict[str, float]:
        """Take one number for all channels, or a table with one number for each channel."""
        if not isinstance(self.left.get(name), dict):
            value = self.number(name, zero=zero, most=most)
            return dict.fromkeys(channels, value)
        table = _Table(self.take(name, dict), f"{self.prefix}{name}.", self.where)
        values = {c: table.number(c, zero=zero, most=most) for c in channels}
        table.close()
        return values

    def close(self) -> None:
        for name in self.left:
            raise self.wrong(name, "is not a field", "Take it out, or mend its spelling")


_KINDS: Final[Mapping[type, str]] = {
    str: "text in quotes",
    bool: "true or false",
    int: "a whole number",
    float: "a number",
    dict: "a table",
    list: "[[label]] tables",
}
