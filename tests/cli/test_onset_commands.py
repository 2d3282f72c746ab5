"""The commands on set as a user types them."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from profiler import simulate
from profiler.calibration import pipeline
from profiler.cli import main as cli
from profiler.errors import GreytareError
from profiler.files.profile import save_profile
from profiler.simulate.memory import measure_in_memory


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """A folder with the profile of a small body, spot at ISO 100 and 400, and flash at ISO 100."""
    folder = tmp_path_factory.mktemp("onset")
    for name, mode, labels in (("a", "spot", (100, 400)), ("flash", "flash-flat", (100,))):
        spec = simulate.standard_series(
            simulate.load_body("halden-h2"), 11, mode=mode, labels=labels, size=(96, 64), pairs=True
        )
        measurement, sheet = measure_in_memory(spec, 0.6)
        profile = pipeline.fit(measurement, sheet, light=spec.scene.light)
        save_profile(profile, folder / f"{name}.profile.json")
    return folder


def call(folder: Path, *words: str) -> str:
    """Standard output of a command that goes well."""
    with _in(folder):
        done = CliRunner().invoke(cli.greytare, words)
    assert done.exception is None, done.exception
    return done.output


def refusal(folder: Path, *words: str) -> GreytareError:
    """The refusal of a command that doesn't."""
    with _in(folder):
        done = CliRunner().invoke(cli.greytare, words)
    assert isinstance(done.exception, GreytareError), (done.exception, done.output)
    return done.exception


class _in:  # noqa: N801
    def __init__(self, folder: Path) -> None:
        self.folder, self.before = folder, Path.cwd()

    def __enter__(self) -> None:
        os.chdir(self.folder)

    def __exit__(self, *_: object) -> None:
        os.chdir(self.before)


def words(line: str) -> tuple[str, ...]:
    """The words of a command line, with _ for a blank inside of one."""
    return tuple(word.replace("_", " ") for word in line.split())


PROFILE = "a.profile.json"
# command line -> how its first line starts
COMMANDS = [
    (
        ("settings", PROFILE, "EV 10.3", "--iso", "400", "--aperture", "f/8"),
        "Set f/8 1/100 s at ISO 400: the grey lands 3.1 ± 0.2 stops below clip (green first).",
    ),
    (
        (
            "settings",
            PROFILE,
            "f/8 1/125 ISO 100",
            "--iso",
            "100",
            "--time",
            "1/60",
            "--mains",
            "50",
        ),
        "Set f/",
    ),
    (
        words(f"settings {PROFILE} EV_9 --iso 100 --t-stop 4.5 --fps 24 --transmission 0.9"),
        "Set T4.5 ",
    ),
    (
        words(f"settings {PROFILE} EV_11.3 --iso 400 --shutter-angle 180 --fps 24 --loss ND_0.6"),
        "Set f/",
    ),
    (("settings", PROFILE, "EV 12", "--aperture", "f/8", "--time", "1/250"), "Set f/8 1/250 s"),
    (
        ("settings", "flash.profile.json", "f/8 ISO 100", "--iso", "100", "--sync", "1/200"),
        "Set f/",
    ),
    (
        words(
            f"place {PROFILE} --iso 400 --key EV_12 --spot shirt=EV_14.0 --spot hair=EV_9;EV_9.4 "
            "--setting f/8_1/250 --keep shirt"
        ),
        "Nothing is lost: shirt lands 0.7 ± 0.2 stop below clip, green first.",
    ),
    (("place", PROFILE, "--iso", "100", "--key", "EV 12", "--aim", "white-at-clip"), "Nothing is"),
    (
        words(
            "mix --flash f/8+0_ISO_100 --ambient EV_10.0 --time 1/60 --flash-reading alone "
            "--share 70"
        ),
        "Together f/8+3 (± 0.1 stop), 80 % (78 to 82) of it flash.",
    ),
    (("mix", "--flash", "f/8 ISO 100", "--pops", "4"), "Together f/16 "),
    (
        ("mix", "--flash", "f/8+0 ISO 100", "--profile", "flash.profile.json"),
        "Together f/8 (± 0.2 stop): set f/",
    ),
    (("mix", "--key", "800 lx", "--fill", "200 lx"), "Lighting ratio 5.0:1"),
    (("convert", "EV", "12"), "EV 12: EV at ISO 100 = 12.00, luminance = 512.0 cd/m2"),
    (
        ("convert", "EV 12", "--k", "14", "--c", "340"),
        "EV 12: EV at ISO 100 = 12.00, luminance = 573",
    ),
    (("convert", "Bv", "5", "--apex", "asa"), "Bv 5: luminance"),
    (("plan", "--iso", "100", "--iso", "400", "--reading", "EV 11"), "64 frames, about "),
    (("plan", "--mode", "flash-flat", "--short", "--sync", "1/200"), "20 frames, about "),
    (("plan", "--profile", PROFILE, "--mains", "60", "--light", "led"), ""),
]


@pytest.mark.parametrize(("line", "start"), COMMANDS, ids=lambda x: "")
def test_the_answer_is_the_first_line(place, line, start):
    text = call(place, *line)
    first, second, *_ = text.splitlines()
    assert first.startswith(start)
    assert first[-1] in ".:)"
    assert second == ""


@pytest.mark.parametrize(("line", "start"), COMMANDS, ids=lambda x: "")
def test_json_is_one_object(place, line, start):
    data = json.loads(call(place, *line, "--json"))
    assert isinstance(data, dict)

    def finite(value):
        if isinstance(value, dict):
            return all(finite(each) for each in value.values())
        if isinstance(value, list):
            return all(finite(each) for each in value)
        return not isinstance(value, float) or abs(value) < 1e300

    assert finite(data)


def test_json_carries_margins_and_bounds(place):
    text = call(place, "place", PROFILE, "--iso", "400", "--key", "EV 12", "--json")
    data = json.loads(text)
    distance = data["key"]["below_clip_ev"]
    assert set(distance) == {"value", "u", "low", "high", "lower_bound"}
    assert distance["low"] < distance["value"] < distance["high"]


# wrong input: command line -> words of the one sentence
WRONG = [
    (("settings", PROFILE, "8 furlongs", "--iso", "400"), "unknown unit, 'furlongs'"),
    (("settings", PROFILE, "f/0 1/60 ISO 100", "--iso", "400"), "the f-number in 'f/0'"),
    (("settings", PROFILE, "f/8 1/125", "--iso", "400"), "no ISO value"),
    (("settings", PROFILE, "EV 10"), "the ISO label is missing"),
    (("settings", PROFILE, "EV 10", "--iso", "3200"), "ISO 3200 was not measured"),
    (
        ("settings", PROFILE, "EV 10", "--iso", "400", "--mode", "incident-dome"),
        "incident-dome was",
    ),
    (("settings", PROFILE, "EV 10", "--iso", "400", "--light", "led"), "in led was not measured"),
    (("settings", PROFILE, "EV 10", "--iso", "400", "--aperture", "f/2"), "f/2 was not measured"),
    (("settings", PROFILE, "EV 10", "--iso", "400", "--aperture", "f/0"), "is not above 0"),
    (("settings", PROFILE, "EV 10", "--iso", "400", "--t-stop", "4"), "measured by f-numbers"),
    (("settings", PROFILE, "EV 10", "--iso", "400", "--loss", "ND4"), "a density or a factor"),
    (
        ("settings", PROFILE, "EV 10", "--iso", "400", "--aim", "lots"),
        "isn't a number of stops below",
    ),
    (("settings", PROFILE, "EV 10", "--iso", "400", "--sync", "fast"), "sync 'fast'"),
    (("settings", "v99.json", "EV 10", "--iso", "400"), "has version 99"),
    (("settings", "none.json", "EV 10", "--iso", "400"), "there is no such profile"),
    (("place", PROFILE, "--iso", "400", "--spot", "hair="), "spot 'hair': it has no reading"),
    (("place", PROFILE, "--iso", "400", "--spot", "hair=EV 8"), "without a key reading"),
    (("place", PROFILE, "--iso", "400", "--key", "EV 12", "--keep", "hat"), "no spot 'hat'"),
    (
        ("place", PROFILE, "--iso", "400", "--key", "EV 12", "--plot", "a.gif"),
        "can't be written as",
    ),
    (("mix", "--flash", "f/8 ISO 100", "--ambient", "EV 8"), "may hold the ambient light"),
    (("mix", "--flash", "EV 8"), "needs the f-number that the flash meter showed"),
    (("mix", "--flash", "f/8 ISO 100", "--share", "120"), "isn't a share between 0 and 100 %"),
    (("convert", "8", "furlongs"), "unknown unit, 'furlongs'"),
    (("convert", "EV 12", "--k", "0"), "above 0"),
    (("convert", "EV 12", "--iso", "-4"), "above 0"),
    (("plan", "--iso", "0"), "no ISO label is given"),
    (("plan", "--min-time", "1", "--max-time", "1/60"), "not below the longest"),
    (("plan", "--page", PROFILE), "a file of this name exists"),
    (("check", PROFILE, "none.dng", "--reading", "EV 10"), "there is no such file"),
]


@pytest.mark.parametrize(("words", "says"), WRONG, ids=lambda x: "")
def test_wrong_input_is_answered_in_one_sentence(place, words, says):
    (place / "v99.json").write_text('{"format": "greytare-profile", "version": 99}')
    error = refusal(place, *words)
    assert says in str(error)
    assert error.what
    assert error.where or error.field
    assert error.mend
    assert "\n" not in str(error)
    assert error.mend[0].isupper()
    assert not error.mend.endswith(".")


def test_a_profile_without_flash_leaves_the_light_alone(place):
    """The sum needs no profile; the f-number for the body is refused, and it is said why."""
    words = ("mix", "--flash", "f/8 ISO 100", "--profile", PROFILE)
    text = call(place, *words)
    assert text.splitlines()[0] == "Together f/8 (± 0.2 stop)."
    assert "! There is no f-number for the body, since ISO 100 by flash-flat was not" in text
    assert "measured; the profile of Halden H2 holds ISO 100, 400 by spot" in text
    assert "f/4 and smaller. Calibrate it with flash for that." in text
    data = json.loads(call(place, *words, "--json"))
    assert data["camera"] is None
    assert "was not measured" in data["lacks"]


def test_exit_codes(place):
    def code(*words: str) -> tuple[int, str]:
        done = subprocess.run(
            [sys.executable, "-c", "from profiler.cli.main import main; main()", *words],
            cwd=place,
            capture_output=True,
            text=True,
            check=False,
        )
        assert "Traceback" not in done.stderr
        return done.returncode, done.stderr

    assert code("convert", "EV 12") == (0, "")
    status, words = code("convert", "8 furlongs")
    assert status == 1
    assert words.startswith("greytare: '8 furlongs'")
    assert words.count("\n") == 1
    assert code("mix", "--key", "800 lx")[0] == 2
    assert code("settings", PROFILE, "EV 9", "--shutter-angle", "180")[0] == 2


def test_plan_writes_sheet_and_page(place):
    words = ("plan", "--reading", "EV 11", "--sheet", "plan.csv", "--page", "plan.html")
    text = call(place, *words, "--replace")
    assert "frames" in text
    assert (place / "plan.csv").read_text().startswith("file,reading,mode")
    assert (place / "plan.html").read_text().startswith("<!DOCTYPE html>")


def test_place_draws_the_scale(place):
    call(place, "place", PROFILE, "--iso", "400", "--key", "EV 12", "--plot", "scale.png")
    assert (place / "scale.png").read_bytes().startswith(b"\x89PNG")


def test_spots_can_be_sorted(place):
    words = ("place", PROFILE, "--iso", "400", "--key", "EV 12", "--spot", "a=EV 9")
    words += ("--spot", "b=EV 13", "--json")
    given = [s["name"] for s in json.loads(call(place, *words))["spots"]]
    bright = [s["name"] for s in json.loads(call(place, *words, "--sort", "bright"))["spots"]]
    assert (given, bright) == (["a", "b"], ["b", "a"])


def test_check_with_a_raw_file(place, tmp_path, monkeypatch):
    monkeypatch.setenv("GREYTARE_CACHE", str(tmp_path / "cache"))
    spec = simulate.standard_series(
        simulate.load_body("halden-h2"), 5, labels=(400,), frames_per_label=5, ev100=10.3
    )
    written = simulate.write_series(spec, tmp_path / "series")
    words = ("check", str(place / PROFILE), str(written.frames[2]), "--reading", "EV 10.3")
    text = call(tmp_path, *words)
    assert text.startswith("As the profile says: ")
    data = json.loads(call(tmp_path, *words, "--json"))
    assert data["verdict"] == "within"
    wrong = (*words[:-1], "EV 8.3")
    assert call(tmp_path, *wrong).startswith("Not as the profile says: 2.0 ± 0.2 stops more light")


def test_light_commands_load_nothing_heavy(place):
    """Answering on set needs none of the libraries that take longer to load than all it does."""
    lines = [
        ("settings", PROFILE, "EV 10.3", "--iso", "400"),
        ("place", PROFILE, "--iso", "400", "--key", "EV 12"),
        ("mix", "--flash", "f/8 ISO 100"),
        ("convert", "EV 12"),
    ]
    code = (
        "import sys, json\n"
        "from click.testing import CliRunner\n"
        "from profiler.cli.main import greytare\n"
        "for words in json.loads(sys.argv[1]):\n"
        "    assert CliRunner().invoke(greytare, words).exit_code == 0, words\n"
        "heavy = {'scipy', 'pydantic', 'matplotlib', 'pandas', 'rawpy', 'rich'}\n"
        "print(sorted(heavy & sys.modules.keys()))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, json.dumps(lines)],
        cwd=place,
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip() == "[]"


def test_commands_stand_in_the_order_of_the_work():
    names = list(cli.COMMANDS)
    wanted = ["plan", "measure", "fit", "show", "check", "settings", "place", "mix", "convert"]
    assert [name for name in names if name in wanted] == wanted
    for name in wanted:
        context = click.Context(cli.greytare)
        assert cli.greytare.get_command(context, name).help
