"""`greytare show` writes report, card and plots beside its text."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from profiler.cli.calibrate.show import show
from profiler.errors import GreytareError

KEPT = str(Path(__file__).resolve().parents[2] / "fixtures" / "profile-v1.profile.json")


def run(*words, code=0):
    done = CliRunner().invoke(show, [KEPT, *words], catch_exceptions=False)
    assert done.exit_code == code, done.output
    return done


def test_report_card_and_plots(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("patch.png").write_bytes(b"\x89PNG\r\n\x1a\n")
    done = run(
        *("--report", "r.html", "--preview", "patch.png", "--card", "c.html"),
        *("--plot", "shutter", "--plot", "budget=b.pdf", "--plot", "all.svg"),
    )
    assert done.stdout == run().stdout
    assert "combined" in run("--budget").stdout
    assert "combined" not in done.stdout
    assert "At ISO 400" in done.stdout
    assert done.stderr.splitlines() == [
        "Report written to r.html",
        "Card written to c.html",
        "Plot written to shutter.png",
        "Plot written to b.pdf",
        "Plot written to all.svg",
        "What it rests on: --details, --budget",
    ]
    assert "data:image/png" in Path("r.html").read_text(encoding="utf-8")
    assert "<article" in Path("c.html").read_text(encoding="utf-8")
    assert Path("shutter.png").read_bytes().startswith(b"\x89PNG")
    assert Path("b.pdf").read_bytes().startswith(b"%PDF")
    assert "raw level against exposure" not in Path("r.html").read_text(encoding="utf-8")


def test_an_older_report_is_kept(tmp_path):
    card = tmp_path / "c.html"
    card.write_text("mine", encoding="utf-8")
    done = run("--card", str(card))
    assert "The older file is kept as" in done.stderr
    assert [p.read_text(encoding="utf-8") for p in tmp_path.glob("*.old")] == ["mine"]


@pytest.mark.parametrize("words", [["--plot", "nothing"], ["--plot", "x=a.png"]])
def test_unknown_plots_name_those_there_are(words):
    done = run(*words, code=2)
    assert "use one of overview, bars, response, residuals, clip" in done.stderr


def test_a_preview_needs_a_report():
    assert "add --report FILE.html" in run("--preview", "p.png", code=2).stderr


def test_a_missing_preview_is_told(tmp_path):
    with pytest.raises(GreytareError, match="the preview can't be read"):
        run("--report", str(tmp_path / "r.html"), "--preview", str(tmp_path / "no.png"))
    assert list(tmp_path.iterdir()) == []
