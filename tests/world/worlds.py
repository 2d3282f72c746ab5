"""The kinds of calibration that are tried."""

from __future__ import annotations

from .habits import late, logistic, lopsided, normal, student, two_sided
from .kind import World

THREE = (100, 200, 400)

WORLDS: tuple[World, ...] = (
    World(name="normal shutter", labels=THREE, frame_error=normal(0.05), efficiency=0.05),
    World(name="t3 shutter", frame_error=student(0.03)),
    World(name="shutter now and then late", frame_error=late(0.25, 0.08)),
    World(
        name="error per shutter time, two of each",
        labels=THREE,
        frame_error=logistic(0.012),
        time_error=two_sided(0.05),
        repeats=2,
    ),
    World(
        name="error per shutter time, one label, three of each",
        frame_error=logistic(0.012),
        time_error=logistic(0.05),
        repeats=3,
    ),
    World(name="light drifts, one reading", labels=THREE, drift_ev=0.3),
    World(
        name="one light in five drifts, one reading", labels=THREE, drift_ev=0.3, drift_share=0.2
    ),
    World(name="light drifts a little, one reading", drift_ev=0.1),
    World(name="light drifts, one label, one reading", drift_ev=0.3),
    World(name="light drifts, read before and after", drift_ev=0.3, readings="before and after"),
    World(name="steady light, read before and after", readings="before and after"),
    World(name="steady light, read twice", readings="two at once"),
    World(name="display of tenths (EV)"),
    World(name="display of tenths (f)", display="f and tenths"),
    World(name="display of thirds", display="thirds"),
    World(
        name="display of halves, not told",
        display="halves",
        truly=("coarse-reading",),
        why="its readings look like a display of thirds, where f/13 and f/1.2 are other values",
    ),
    World(name="display of halves, told", display="halves", told_step_ev=0.5),
    World(
        name="display of full stops, not told",
        display="full stops",
        why="the readings look like a meter's of thirds: its file has to tell the step",
    ),
    World(name="display of full stops, told", display="full stops", told_step_ev=1.0),
    World(name="display of whole EV", display="EV whole", truly=("coarse-reading",)),
    World(
        name="display of lx, two figures",
        display="lx two figures",
        mode="incident-flat",
    ),
    World(name="a reading for every frame", labels=THREE, readings="each frame", wander_ev=0.1),
    World(
        name="a reading for every frame, one label",
        readings="each frame",
        wander_ev=0.1,
    ),
    World(name="iris set anew", labels=THREE, frame_error=lopsided(0.1)),
    World(name="iris set anew, one label", frame_error=lopsided(0.1)),
    World(
        name="marked times in thirds",
        judges_rule=True,
        truly=("time-rule-unsure",),
        labels=THREE,
        rule="marked",
        thirds=True,
        frame_error=logistic(0.03),
    ),
    World(
        name="exact times in thirds",
        judges_rule=True,
        truly=("time-rule-unsure",),
        thirds=True,
        frame_error=logistic(0.03),
    ),
    World(
        name="marked times in thirds, one label",
        judges_rule=True,
        truly=("time-rule-unsure",),
        rule="marked",
        thirds=True,
        frame_error=logistic(0.03),
    ),
    World(name="scatter differs between labels", labels=THREE, label_scale=(0.3, 1.0, 2.0)),
    World(name="5 to 7 frames", few=(5, 7)),
    World(name="nonlinear by 1 %", nonlinear=0.01),
    World(name="nonlinear by 3 %", nonlinear=0.03, truly=("bends-before-clip",)),
    World(
        name="black tag off by one, low grey",
        tag_error_dn=1.0,
        darks=0,
        bits=12,
        headroom_ev=6.0,
        bracket=(-7.5, -7.0, -6.5, -6.0, -5.5, -5.0, -4.5, 1.0, 2.0),
    ),
    World(
        name="clip in one channel",
        one_channel=True,
        thirds=True,
        bracket=(-6.0, -5.0, -4.0, -3.0, -2.0, -1.0, -0.5, 0.25, 0.42),
    ),
    World(name="two slips in 27 frames", labels=THREE, slips=2, fault=("slip",)),
    World(name="two slips in 9 frames", slips=2, fault=("slip",)),
    World(name="one slip in 7 frames", slips=1, fault=("slip",), few=(7, 7)),
    World(
        name="bell clip",
        labels=THREE,
        bell_dn=12.0,
        truly=("clip-smeared",),
        fault=("clip-smeared",),
    ),
    World(
        name="wide bell clip, one label",
        bell_dn=60.0,
        truly=("clip-smeared",),
        fault=("clip-smeared",),
    ),
    World(
        name="wide bell clip, one frame over",
        bell_dn=60.0,
        truly=("clip-smeared", "clip-not-seen"),
        bracket=(-6.0, -5.0, -4.0, -3.0, -2.0, -1.3, -0.7, 0.6),
    ),
    World(
        name="no frame over clip",
        truly=("clip-not-seen",),
        fault=("clip-not-seen",),
        bracket=(-6.0, -5.0, -4.0, -3.0, -2.0, -1.3, -0.8),
    ),
)
