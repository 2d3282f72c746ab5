"""The commands `mix`, `convert`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from profiler.cli import onset_options, options
from profiler.records import MODES

if TYPE_CHECKING:
    from profiler.onset.mix_camera import MixCamera
    from profiler.onset.profile import Profile
    from profiler.records import Meter


@click.command()
@click.option("--flash", multiple=True, metavar="READING", help='Such as "f/8 ISO 100".')
@click.option("--ambient", metavar="READING", help="Ambient light, in any form.")
@click.option("--total", metavar="READING", help="Flash with ambient light; a part is found.")
@click.option(
    "--flash-reading",
    type=click.Choice(["alone", "with-ambient"]),
    help="Whether the flash was read alone or with the ambient light in it.",
)
@click.option("--time", metavar="TIME", help="The camera's time: it sets the ambient light.")
@click.option("--iso", type=int, default=100, show_default=True, help="ISO label on the body.")
@click.option("--pops", type=int, default=1, show_default=True, help="Number of equal pops.")
@click.option("--share", metavar="PERCENT", help="Wanted share of flash, such as 70.")
@click.option("--over", type=float, metavar="STOPS", help="Wanted flash over ambient, in stops.")
@click.option("--key", metavar="READING", help="Key light alone, for the lighting ratio.")
@click.option("--fill", metavar="READING", help="Fill light alone, for the lighting ratio.")
@click.option(
    "--mode",
    type=click.Choice([m for m in MODES if m.startswith("flash")]),
    default="flash-flat",
    show_default=True,
    help="How the flash was read.",
)
@click.option(
    "--ambient-mode",
    type=click.Choice([m for m in MODES if not m.startswith("flash")]),
    default="incident-flat",
    show_default=True,
    help="How the ambient light (or key and fill) was read.",
)
@click.option(
    "--profile", type=options.EXISTING_PATH, metavar="FILE", help="Give the body's f-number too."
)
@click.option("--meter", type=options.EXISTING_PATH, metavar="METER.toml", help="As in fit.")
@onset_options.LIGHT
@onset_options.MARKS
@options.as_json
def mix(
    flash: tuple[str, ...],
    ambient: str | None,
    total: str | None,
    flash_reading: Any,
    time: str | None,
    iso: int,
    pops: int,
    share: str | None,
    over: float | None,
    key: str | None,
    fill: str | None,
    mode: str,
    ambient_mode: str,
    profile: Path | None,
    meter: Path | None,
    light: str | None,
    marks: Any,
    as_json: bool,
) -> None:
    """Add flash and ambient light as light; find a part, a share, or the lighting ratio.

    Time moves ambient light only, flash power flash only, the iris both alike.
    """
    from dataclasses import asdict

    from profiler.onset.metered import read_meter_texts
    from profiler.onset.mix import mix as add
    from profiler.onset.mix import ratio
    from profiler.show.onset.mix import mix_words, ratio_words

    loaded = None if profile is None else onset_options.load(profile)
    used = _meter(loaded, meter)
    if key is not None or fill is not None:
        _both(key, fill)
        found = ratio(
            read_meter_texts(key or "", ambient_mode, used, where="key"),
            read_meter_texts(fill or "", ambient_mode, used, where="fill"),
        )
        if as_json:
            options.print_json(found)
        else:
            click.echo(ratio_words(found))
        return
    part = _share(share)
    camera: MixCamera | None = None
    if loaded is not None:
        mixed, camera = loaded.mix(
            iso=iso,
            flash=flash,
            ambient=ambient,
            total=total,
            flash_reading=flash_reading,
            time=time,
            pops=pops,
            share=part,
            over_ambient_ev=over,
            mode=mode,
            ambient_mode=ambient_mode,
            light=light,
            marks=marks,
        )
    else:
        from profiler.onset.camera import parse_shutter

        mixed = add(
            iso=float(iso),
            flashes=[read_meter_texts(text, mode, used, where="--flash") for text in flash],
            ambient=None
            if ambient is None
            else read_meter_texts(ambient, ambient_mode, used, where="--ambient"),
            total=None if total is None else read_meter_texts(total, mode, used, where="--total"),
            holds=flash_reading,
            time_s=None if time is None else parse_shutter(time).seconds("exact", marks),
            pops=pops,
            share=part,
            over_ambient_ev=over,
        )
    if as_json:
        plain = asdict(mixed)
        options.print_json(plain if camera is None else plain | {"camera": asdict(camera)})
        return
    click.echo(mix_words(mixed, camera))


@click.command()
@click.argument("quantity", nargs=-1, required=True)
@click.option("--iso", type=float, default=100.0, show_default=True, help="ISO for settings.")
@click.option("--mode", type=click.Choice(MODES), help="How a reading was taken: which constant.")
@click.option("--meter", type=options.EXISTING_PATH, metavar="METER.toml", help="As in fit.")
@click.option("--k", "k_cd_m2", type=float, help="Meter constant K in cd/m2.")
@click.option("--c", "c_lx", type=float, help="Meter constant C in lx, of dome and flat alike.")
@click.option(
    "--apex",
    "zero",
    type=click.Choice(["exif", "asa"]),
    default="exif",
    show_default=True,
    help="Whose zero APEX speed and brightness values have.",
)
@options.as_json
def convert(
    quantity: tuple[str, ...],
    iso: float,
    mode: str | None,
    meter: Path | None,
    k_cd_m2: float | None,
    c_lx: float | None,
    zero: Any,
    as_json: bool,
) -> None:
    """Show all that QUANTITY stands for: EV, lx, fc, cd/m2, fL, f/t/ISO; marks; filters; APEX.

    Examples: EV 12 | 650 lx | f/8 1/125 ISO 100 | f/11 | 1/60 | ND 0.9 | factor 8 | 18 % | Bv 5
    """
    from dataclasses import replace

    from profiler.exposure.quantities import positive
    from profiler.onset.convert import convert as find
    from profiler.show.onset.mix import conversion_words

    used = _meter(None, meter)
    if k_cd_m2 is not None:
        used = replace(used, k_cd_m2=positive(k_cd_m2, "K", "cd/m2"))
    if c_lx is not None:
        c_lx = positive(c_lx, "C", "lx")
        used = replace(used, c_flat_lx=c_lx, c_dome_lx=c_lx)
    found = find(" ".join(quantity), meter=used, mode=mode, iso=positive(iso, "ISO"), zero=zero)
    if as_json:
        options.print_json(found)
        return
    click.echo(conversion_words(found))


def _meter(loaded: Profile | None, path: Path | None) -> Meter:
    from profiler.records import Meter

    if path is not None:
        from profiler.files.meter import read_meter

        return read_meter(path)
    if loaded is not None:
        from profiler.onset.lookup import meter_of

        return meter_of(loaded.data)
    return Meter()


def _share(share: str | None) -> float | None:
    if share is None:
        return None
    from profiler.errors import ExposureError

    try:
        percent = float(share.strip().removesuffix("%"))
    except ValueError:
        percent = -1.0
    if not 0.0 < percent < 100.0:
        raise ExposureError(
            "it is no share between 0 and 100 %", f"--share '{share}'", "Write for example 70"
        )
    return percent / 100.0


def _both(key: str | None, fill: str | None) -> None:
    if key is None or fill is None:
        raise click.UsageError("a lighting ratio needs both --key and --fill")
