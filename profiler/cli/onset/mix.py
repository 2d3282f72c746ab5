"""The command `mix`."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from profiler.cli import onset_options, options
from profiler.records import MODES
from profiler.show.inputs import LOSS, MARKS, TRANSMISSION


@options.example("""\
greytare mix --flash "f/8+0 ISO 100" --flash-reading alone \\
  --ambient "EV 9.0" --time 1/60""")
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
@click.option(
    "--iso", type=int, help="ISO label on the body; default: 100, or the only one of the profile."
)
@click.option("--pops", type=int, default=1, show_default=True, help="Number of equal pops.")
@click.option("--share", metavar="PERCENT", help="Wanted share of flash, such as 70.")
@click.option(
    "--over",
    "over_ambient_ev",
    type=float,
    metavar="STOPS",
    help="Wanted flash over ambient, in stops.",
)
@click.option("--aperture", metavar="f/N", help="One that stays: what is turned for it.")
@click.option("--key", metavar="READING", help="Key light alone, for the lighting ratio.")
@click.option(
    "--fill",
    multiple=True,
    metavar="[NAME=]READING",
    help="Fill or another light alone, for the lighting ratio; may be given several times.",
)
@click.option(
    "--wanted",
    multiple=True,
    metavar="[NAME=]PLACE",
    help='Where a light should lie beside the key: "1 stop under", "hair=4:1" (key : light).',
)
@click.option(
    "--mode",
    type=click.Choice([m for m in MODES if m.startswith("flash")]),
    default="flash-flat",
    show_default=True,
    help="How the flash was read; key and fill: by the form of their readings.",
)
@click.option(
    "--ambient-mode",
    type=click.Choice(MODES),
    help="How ambient light, or key and fill, were read. Default: incident-flat, or by the form.",
)
@click.option(
    "--profile", type=options.EXISTING_PATH, metavar="FILE", help="Give the body's f-number too."
)
@options.meter
@onset_options.LIGHT
@onset_options.asked(MARKS)
@onset_options.asked(LOSS)
@onset_options.asked(TRANSMISSION)
@onset_options.other_lens
@options.as_json
def mix(
    key: str | None,
    fill: tuple[str, ...],
    wanted: tuple[str, ...],
    ambient_mode: str | None,
    share: str | None,
    profile: Path | None,
    meter: Path | None,
    lens: str | None,
    lenses: Path | None,
    as_json: bool,
    **asked: Any,
) -> None:
    """Add flash and ambient light as light; find a part, a share, or the lighting ratio.

    Time moves ambient light only, flash power flash only, the iris both alike.
    """
    loaded = None if profile is None else onset_options.load(profile)
    used = options.meter_in(meter)
    if (lens or lenses) and (profile is None or key is not None or fill):
        raise click.UsageError("--lens goes with --profile, for the f-number of a body")
    if key is not None or fill:
        if key is None or not fill:
            raise click.UsageError("a lighting ratio needs both --key and --fill")
        from profiler.onset.lookup import meter_of
        from profiler.onset.ratio import RatioAsk, ratio_of
        from profiler.records import Meter
        from profiler.show.onset.ratio import ratio_answer

        lights = {name: asked[name] for name in ("aperture", "time", "loss")}
        iso = asked["iso"] or 100
        mode = ambient_mode or _chosen("mode", asked["mode"])
        ratio = RatioAsk(key=key, fill=fill, wanted=wanted, iso=iso, ambient_mode=mode, **lights)
        lit = ratio_of(ratio, used or (meter_of(loaded.data) if loaded else Meter()))
        onset_options.tell(lit, lambda: ratio_answer(lit), as_json)
        return
    from dataclasses import asdict

    from profiler.onset.mix_camera import MixAsk, mixed_light
    from profiler.show.onset.mix import mix_answer

    if wanted:
        raise click.UsageError("--wanted goes with --key and --fill")
    glass = None
    if loaded is not None and profile is not None:
        glass = onset_options.mounted(loaded, profile, lens, lenses)
    ask = MixAsk(
        ambient_mode=ambient_mode or "incident-flat", share=_share(share), lens=glass, **asked
    )
    found = mixed_light(ask, None if loaded is None else loaded.data, used)
    record = asdict(found.mix)
    if loaded is not None:
        record |= {"camera": found.camera and asdict(found.camera), "lacks": found.lacks}
    onset_options.tell(record, lambda: mix_answer(found), as_json)


def _chosen(option: str, value: str) -> str | None:
    """The value of an option that was typed, None for its default."""
    source = click.get_current_context().get_parameter_source(option)
    return None if source is click.core.ParameterSource.DEFAULT else value


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
            f"'{share}' isn't a share between 0 and 100 %", "", "Write for example 70", "share"
        )
    return percent / 100.0
