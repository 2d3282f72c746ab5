"""One example for each command, shown at the end of its help."""

from __future__ import annotations

import click

EXAMPLES = {
    "plan": 'greytare plan --iso 400 --light daylight --reading "EV 12" --sheet sheet.csv',
    "measure": "greytare measure window-card --preview patch.png --out levels.csv",
    "fit": "greytare fit window-card --light daylight --out halden.profile.json",
    "follow": """\
greytare follow window-card --iso 100 --iso 400 --reading "EV 10.3" \\
  --light daylight --out halden.profile.json""",
    "show": "greytare show halden.profile.json --budget --report report.html",
    "compare": "greytare compare halden.profile.json halden-2.profile.json --plot moved.png",
    "schema": "greytare schema > profile.schema.json",
    "settings": 'greytare settings halden.profile.json "EV 12.3" --iso 400 --aperture f/5.6',
    "place": """\
greytare place halden.profile.json --iso 400 --key "EV 12" \\
  --spot "shirt=EV 14.3" --spot "hair=EV 8.1" --keep shirt --plot scale.png""",
    "mix": """\
greytare mix --flash "f/8 ISO 100" --flash-reading alone \\
  --ambient "EV 9" --time 1/60""",
    "convert": 'greytare convert "650 lx"',
    "carry": "greytare carry halden.profile.json --out halden.html",
    "check": 'greytare check halden.profile.json IMG_0019.dng --reading "EV 10.1"',
    "meter": "greytare meter lamp-walk --out sprig.toml --plot sprig.png",
    "lens": "greytare lens bag --profile halden.profile.json",
    "fleet": "greytare fleet run shelf --out results --light daylight",
    "fleet run": "greytare fleet run shelf --out results --light daylight --jobs 2",
    "fleet table": "greytare fleet table results --out fleet.csv",
    "fleet decide": "greytare fleet decide results --tolerances limits.toml --out verdicts.csv",
    "fleet compare": "greytare fleet compare results --body 0004217 --against 0004218",
    "fleet drift": "greytare fleet drift results --tolerances limits.toml",
    "fleet record": "greytare fleet record results --out records --tolerances limits.toml",
    "demo": "greytare demo my-demo",
    "simulate": "greytare simulate window-card --seed 4 --pairs --darks 2 --fault cloud=0.5",
    "serve": "greytare serve calibrations",
}
"""Words of a command -> a call as one types it; a test holds each to the command's options."""


def add_example(command: click.Command, words: str) -> None:
    """Put the example of a command, and those of the commands below it, under its help."""
    if words in EXAMPLES:
        command.epilog = f"\b\nExample:\n  {EXAMPLES[words]}".replace("\n  --", "\n    --")
    if isinstance(command, click.Group):
        for name, below in command.commands.items():
            add_example(below, f"{words} {name}")
