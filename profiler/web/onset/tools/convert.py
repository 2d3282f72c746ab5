"""The tab Convert."""

from __future__ import annotations

from typing import Any, Final

from profiler.onset.convert import ConvertAsk, converted
from profiler.onset.profile import Profile
from profiler.records import MODES
from profiler.show.answer import Answer, asking
from profiler.show.onset.convert import convert_answer
from profiler.web import fields
from profiler.web.fields import Field, Params
from profiler.web.onset import shared


def form(_: Profile | None, __: Params) -> list[Field]:
    """Return the fields."""
    return [
        Field(
            name="quantity", label="Quantity", hint="EV 12.0, 650 lx, f/11, ND 0.9, Bv 5", big=True
        ),
        Field(name="iso", label="ISO of settings", value="100", numeric=True),
        Field(name="mode", label="Meter mode", choices=fields.plain(MODES, "flat, if it matters")),
        Field(name="k", label="Meter constant K", hint="in cd/m²; empty: 12.5", more=True),
        Field(name="c", label="Meter constant C", hint="in lx; empty: 250, dome 340", more=True),
        Field(
            name="apex",
            label="Zero of APEX",
            value="exif",
            choices=(("exif", "Exif"), ("asa", "ASA")),
            more=True,
        ),
    ]


def answer(_: Profile | None, params: Params) -> Answer:
    """Return all that a quantity stands for, or what to type first."""
    if not fields.text(params, "quantity"):
        return asking("Type a reading, a mark, a filter or an APEX value.")
    zero: Any = fields.one_of(params, "apex", ("exif", "asa"), "exif")
    ask = ConvertAsk(
        quantity=fields.text(params, "quantity"),
        iso=fields.number(params, "iso", low=0.1, high=5e6) or 100.0,
        mode=fields.optional(params, "mode"),
        k_cd_m2=fields.number(params, "k", low=0.1, high=1000.0),
        c_lx=fields.number(params, "c", low=1.0, high=10_000.0),
        zero=zero,
    )
    return convert_answer(converted(ask))


TOOL: Final = shared.Tool(
    title="Convert",
    purpose="One quantity as all the others that stand for the same thing.",
    form=form,
    answer=answer,
)
