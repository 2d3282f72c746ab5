"""What every page of a fleet asks first: which profiles, which tolerances, which quantity."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from typing import Final, TypeVar

from profiler.fleet.columns import Rows
from profiler.fleet.compare import body_names
from profiler.fleet.correlation import METERED, Correlation
from profiler.fleet.rows import Row
from profiler.fleet.rules import describe
from profiler.fleet.tolerances import Tolerances, read_tolerances
from profiler.show.fleet.words import QUANTITY_NAMES, Cases
from profiler.web import fields, folders
from profiler.web.fields import Field, Params, query
from profiler.web.fleet.profile_index import ProfileIndex, Profiles
from profiler.web.session import Session

T = TypeVar("T")
SHARED: Final = ("folder", "tolerances", "quantity", "common")
"""Fields that go along from page to page."""
TYPING_S: Final = 3.0
"""While somebody types, the folder is looked at no more often than this."""
AGE_S: Final = 1.0
"""How old the list of files that hold tolerances may be."""
NO_VERDICTS: Final = "none"
_OTHERS: Final = ("asset.toml", "meter.toml")


@dataclass(frozen=True, kw_only=True)
class Query:
    """The profiles of a folder, with what to judge them by. today: the day of the verdicts."""

    index: ProfileIndex
    profiles: Profiles
    tolerances: Tolerances | None
    tolerances_path: str
    quantity: str
    sharing: Correlation
    today: date
    params: Params

    @property
    def rows(self) -> Rows:
        """All results, in table order."""
        return self.profiles.rows

    def once(self, key: Hashable, work: Callable[[], T]) -> T:
        """Return what `work` gives for this quantity, these tolerances, this day; kept for later.

        key: what else it depends on.
        """
        common = (self.quantity, self.sharing.repeatability, self.today, repr(self.tolerances))
        return self.index.once(self.profiles, (key, common), work)

    def address(self, tool: str, **values: str) -> str:
        """Return the address of a page of the fleet, shared fields going along."""
        kept = {name: self.params[name] for name in SHARED if self.params.get(name)}
        return f"/fleet/{tool}?{query(**(kept | values))}"

    def body_address(self, row: Row) -> str:
        """Return the address of the page of one body."""
        return self.address("body", body=self._names()[row.body])

    def names(self) -> tuple[str, ...]:
        """Return a name for each body, sorted."""
        return tuple(sorted(self._names().values()))

    def _names(self) -> dict[tuple[str, str, str], str]:
        return self.index.once(self.profiles, "names", lambda: body_names(self.rows))

    def cases(self) -> Cases:
        """Return how the cases of this fleet are named."""
        return self.index.once(self.profiles, "cases", lambda: Cases(self.rows))

    def rule_words(self) -> str:
        """Return the decision rule and the file it stands in; empty without tolerances."""
        if self.tolerances is None:
            return ""
        return f"{describe(self.tolerances.rule)}. Tolerances: {self.tolerances_path}."

    def here(self, tool: str, **values: str) -> str:
        """Return the address of this page with other values."""
        return f"/fleet/{tool}?{query(**(dict(self.params) | values))}"


def ask(session: Session, params: Params, patience_s: float = 0.0) -> Query:
    """Return what is asked of which fleet; GreytareError names the field that is wrong.

    patience_s: how old, in seconds, the look at the folder may be.
    """
    path = chosen_tolerances(session, params)
    index = session.profile_index(fields.text(params, "folder"))
    common = fields.number(params, "common", low=0.0, high=1.0)
    return Query(
        index=index,
        profiles=index.look(patience_s),
        tolerances=read_tolerances(folders.inside(session.start, path)) if path else None,
        tolerances_path=path,
        quantity=fields.one_of(params, "quantity", METERED, METERED[0]),
        sharing=Correlation() if common is None else Correlation(repeatability=common),
        today=datetime.now(UTC).date(),
        params=params,
    )


def ask_plainly(session: Session, params: Params) -> Query:
    """Return the fleet with nothing else that may be wrong, for a form that still shows it all."""
    folder = fields.text(params, "folder")
    asked = ask(session, Params({"folder": folder, "tolerances": NO_VERDICTS}), TYPING_S)
    return replace(asked, params=params)


def folder_field(session: Session, params: Params) -> Field:
    """Return the list of the start folder and the outputs of batches in it."""
    runs = [run for run in folders.find_runs(session.start) if run]
    chosen = params.get("folder", "")
    everything = f"all below {session.start.name or session.start}"
    return Field(
        name="folder",
        label="Profiles",
        value=chosen,
        choices=(("", everything), *((run, run) for run in runs)),
        reload=True,
        more=True,
    )


def tolerances_field(session: Session, params: Params) -> Field:
    """Return the list of the files below the start folder that hold tolerances."""
    found = find_tolerances(session)
    return Field(
        name="tolerances",
        label="Tolerances",
        value=chosen_tolerances(session, params) or NO_VERDICTS,
        choices=(*((path, path) for path in found), (NO_VERDICTS, "no verdicts")),
        reload=True,
        more=True,
    )


def chosen_tolerances(session: Session, params: Params) -> str:
    """Return the file of tolerances that is asked for, else the newest; empty for none."""
    path = fields.text(params, "tolerances")
    if path == NO_VERDICTS:
        return ""
    return path or next(iter(find_tolerances(session)), "")


def find_tolerances(session: Session) -> list[str]:
    """Return the files below the start folder that hold tolerances, newest first."""

    def work() -> list[str]:
        return [
            path
            for path in folders.find_tables(session.start, "tolerances?")
            if path.rpartition("/")[2] not in _OTHERS
        ]

    return session.lately("tolerances", AGE_S, work)


def quantity_field() -> Field:
    """Return the list of quantities."""
    return Field(
        name="quantity",
        label="Quantity",
        choices=tuple((name, QUANTITY_NAMES[name]) for name in METERED),
    )


def common_field() -> Field:
    """Return the field for how much of a meter's repeatability its readings share."""
    return Field(
        name="common",
        label="Common part of the meter's repeatability",
        hint="0 to 1, 0.5 unless you know better",
        numeric=True,
        more=True,
    )
