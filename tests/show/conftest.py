"""Profiles for the tests of what is shown: the kept one, and one with every oddity."""

from __future__ import annotations

import importlib.util
import json
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from profiler.files.profile import load_profile, parse_profile
from profiler.flags import KINDS
from profiler.records import Flag
from profiler.results import EmvaRow, ModeRow

KEPT = Path(__file__).resolve().parents[2] / "fixtures" / "profile-v1.profile.json"
EVIL = '<script>alert("x")</script> & $a_{b$'


@pytest.fixture(scope="session")
def page_of():
    """Takes an HTML text apart: headings, tables, ids, addresses."""
    spec = importlib.util.spec_from_file_location("pages", Path(__file__).parent / "pages.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules["pages"] = module  # dataclasses look their module up there
    spec.loader.exec_module(module)
    return module.Page


@pytest.fixture(scope="session")
def kept():
    """The kept profile of version 1: ISO 100, 400, 800 in spot mode, nothing wrong."""
    return load_profile(KEPT)


@pytest.fixture(scope="session")
def odd(kept):
    """A profile with a bound, no noise at one label, two modes, every flag, a slip."""
    low, middle, high = kept.results

    def bound(estimate):
        return replace(estimate, lower_bound=True)

    unseen = replace(
        low,
        offset_ev=bound(low.offset_ev),
        exposure_index=replace(low.exposure_index, lower_bound=True),
        saturation_speed=replace(low.saturation_speed, lower_bound=True),
        clip_headroom_ev=bound(low.clip_headroom_ev),
        channels={n: replace(c, clip_seen=False) for n, c in low.channels.items()},
        flags=tuple(Flag(name=name, size=0.25) for name in KINDS),
    )
    quiet = replace(
        middle,
        footroom_ev=None,
        channels={
            n: replace(c, gain_e_per_dn=None, read_noise_e=None, read_noise_dn=None, emva=None)
            for n, c in middle.channels.items()
        },
    )
    slipped = replace(
        high.frames[2], file="long-name-of-a-frame-0042.dng", residual_ev=1.0, used=False,
        flags=("slip",),
    )  # fmt: skip
    emva = EmvaRow(
        gain_dn_per_e=2.0, dark_noise_dn=6.1, dark_noise_e=3.05, dynamic_range=4096.0,
        linearity_low_percent=-0.5, linearity_high_percent=0.52,
    )  # fmt: skip
    dome = replace(
        high,
        channels=dict(high.channels) | {"R": replace(high.channels["R"], emva=emva)},
        mode="incident-dome",
        frames=(*high.frames[:2], slipped, *high.frames[3:]),
        linear_headroom_ev=replace(high.linear_headroom_ev, lower_bound=False),
    )
    gap = ModeRow(
        iso=high.iso, mode="spot", against="incident-dome", gap_ev=0.61, u_ev=0.1,
        expected_ev=0.64, left_ev=-0.03,
    )  # fmt: skip
    alone = [
        replace(
            result,
            channels={n: replace(c, transfer_points=()) for n, c in result.channels.items()},
        )
        for result in (unseen, quiet, high, dome)
    ]
    return replace(kept, results=tuple(alone), modes=(gap,))


@pytest.fixture(scope="session")
def evil():
    """The kept profile with markup in every field of free text."""
    data = json.loads(KEPT.read_text(encoding="utf-8"))
    data["camera"] = dict.fromkeys(data["camera"], EVIL)
    data["lens"] = dict.fromkeys(data["lens"], EVIL)
    for name in ("make", "model", "serial"):
        data["meter"][name] = EVIL
    for result in data["results"]:
        result |= {"mode": EVIL, "light": EVIL, "black_source": EVIL}
        result["black_candidates_dn"][EVIL] = {}
        result["flags"] = [{"name": "slip", "size": 1.0, "unit": "EV", "where": EVIL}]
        result["flags"][0]["detail"] = EVIL
        for row in result["budget"]:
            row |= {"source": EVIL, "basis": EVIL}
        for frame in result["frames"]:
            frame |= {"file": EVIL, "flags": ["slip", EVIL]}
    for row in data["iso_steps"]:
        row["digital"] = EVIL
    provenance = data["provenance"]
    provenance |= dict.fromkeys(("software", "created", "patch", "sheet", "sheet_sha256"), EVIL)
    provenance["readings"] = {EVIL: [EVIL]}
    for frame in provenance["frames"]:
        frame |= {"file": EVIL, "sha256": EVIL}
    return parse_profile(json.dumps(data), "evil")
