"""The rows of a fleet held column by column, so that a hundred thousand are worked on at once."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final, Self, TypeVar, overload

from profiler.fleet.rows import COLUMNS, IDENTITY, KINDS, Row, known_as

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

T = TypeVar("T")
TEXTS: Final = tuple(name for name, kind in KINDS.items() if kind == "str")
CASE: Final = ("lens_model", "mode", "light", "iso")
"""Columns that have to be alike for two results to be comparable."""
SEPARATOR: Final = "\0"
"""Stands between make, model and serial of a body that is one text."""
METER: Final = ("meter_make", "meter_model", "meter_serial")


@dataclass(frozen=True, kw_only=True)
class Text:
    """A column of text: each row's place in the list of its different values."""

    codes: NDArray[np.integer[Any]]
    values: tuple[str, ...]

    def take(self, places: Any) -> Text:
        """Return the column of some rows; values that none of them has may stay."""
        return Text(codes=self.codes[places], values=self.values)

    @cached_property
    def array(self) -> NDArray[np.object_]:
        """The texts themselves, shared between rows."""
        import numpy as np

        values = np.empty(len(self.values), dtype=object)
        values[:] = self.values
        return values[self.codes] if len(self.values) else np.empty(0, dtype=object)

    @cached_property
    def ranks(self) -> NDArray[np.int64]:
        """Each row's place in the order of the texts."""
        import numpy as np

        order = sorted(range(len(self.values)), key=self.values.__getitem__)
        places = np.empty(len(order), dtype=np.int64)
        places[order] = np.arange(len(order))
        return places[self.codes] if len(order) else np.empty(0, dtype=np.int64)

    @cached_property
    def used(self) -> frozenset[str]:
        """The texts that at least one row holds."""
        import numpy as np

        return frozenset(self.values[code] for code in np.unique(self.codes).tolist())

    def are(self, *texts: str) -> NDArray[np.bool_]:
        """Return whether each row holds one of the texts."""
        import numpy as np

        wanted = [code for code, value in enumerate(self.values) if value in texts]
        return np.isin(self.codes, wanted)


@dataclass(frozen=True, kw_only=True)
class Values:
    """A quantity of many rows, as arrays in EV (see Value); value is NaN where not measured."""

    value: NDArray[np.float64]
    u: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    dof: NDArray[np.float64]
    lower_bound: NDArray[np.bool_]

    def take(self, places: Any) -> Values:
        """Return those of some rows."""
        return Values(**{name: array[places] for name, array in vars(self).items()})

    @property
    def expanded(self) -> NDArray[np.float64]:
        """U: half of the 95 % interval, in EV."""
        return 0.5 * (self.high - self.low)

    @property
    def usable(self) -> NDArray[np.bool_]:
        """Whether each was measured, as more than a lower bound."""
        import numpy as np

        return np.isfinite(self.value) & ~self.lower_bound


class Made(Sequence[T]):
    """Records held as columns; one is made when it is asked for."""

    @abstractmethod
    def take(self, places: Any) -> Self:
        """Return the records at some places, or where a mask is true."""

    @overload
    def __getitem__(self, index: int) -> T: ...
    @overload
    def __getitem__(self, index: slice) -> Self: ...
    def __getitem__(self, index: int | slice) -> T | Self:
        if isinstance(index, slice):
            return self.take(index)
        if not -len(self) <= index < len(self):
            raise IndexError(index)
        return next(iter(self.take([index])))


class Rows(Made[Row]):
    """Rows of the table, one array a column; a Row is made when one is asked for."""

    def __init__(self, columns: Mapping[str, Text | NDArray[Any]]) -> None:
        self._columns = dict(columns)
        self._count = len(self.text("series").codes)

    @classmethod
    def of(cls, rows: Sequence[Row]) -> Rows:
        """Return the rows as columns."""
        if isinstance(rows, Rows):
            return rows
        return cls({name: column(name, [getattr(row, name) for row in rows]) for name in COLUMNS})

    @classmethod
    def joined(cls, parts: Sequence[Rows]) -> Rows:
        """Return the rows of all parts, one part after the other."""
        import numpy as np

        if len(parts) == 1:
            return parts[0]
        made: dict[str, Text | NDArray[Any]] = {}
        for name in COLUMNS:
            if name not in TEXTS:
                made[name] = np.concatenate([part.number(name) for part in parts])
                continue
            known: dict[str, int] = {}
            codes = []
            for part in parts:
                text = part.text(name)
                places = [known.setdefault(value, len(known)) for value in text.values]
                codes.append(np.array(places, dtype=np.int32)[text.codes])
            made[name] = Text(codes=np.concatenate(codes), values=tuple(known))
        return cls(made)

    def __len__(self) -> int:
        return self._count

    def __iter__(self) -> Iterator[Row]:
        lists = [self._plain(name) for name in COLUMNS]
        for values in zip(*lists, strict=True):
            yield Row(**dict(zip(COLUMNS, values, strict=True)))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and list(self) == list(other)

    __hash__ = None  # type: ignore[assignment]

    def take(self, places: Any) -> Rows:
        """Return the rows at some places, or where a mask is true."""
        return Rows(
            {
                name: kept.take(places) if isinstance(kept, Text) else kept[places]
                for name, kept in self._columns.items()
            }
        )

    def replaced(self, **columns: Text | NDArray[Any]) -> Rows:
        """Return the rows with other columns in place of some."""
        return Rows(self._columns | columns)

    def text(self, name: str) -> Text:
        """Return a column of text."""
        kept = self._columns[name]
        if not isinstance(kept, Text):
            raise TypeError(f"{name} isn't text")
        return kept

    def number(self, name: str) -> NDArray[Any]:
        """Return a column of numbers; NaN where one isn't known."""
        kept = self._columns[name]
        if isinstance(kept, Text):
            raise TypeError(f"{name} is text")
        return kept

    def values(self, quantity: str) -> Values:
        """Return a quantity of all rows."""
        import numpy as np

        stem = quantity.removesuffix("_ev")
        bound = np.zeros(len(self), dtype=bool)
        if quantity in ("offset_ev", "clip_headroom_ev"):
            bound = self.number("lower_bound")
        elif quantity == "linear_headroom_ev":
            bound = self.number("linear_lower_bound")
        dof = self.number("effective_dof")
        return Values(
            value=self.number(quantity),
            u=self.number(f"{stem}_u_ev"),
            low=self.number(f"{stem}_low_ev"),
            high=self.number(f"{stem}_high_ev"),
            dof=np.where(np.isnan(dof), np.inf, dof),
            lower_bound=bound,
        )

    @cached_property
    def bodies(self) -> Text:
        """Which body each row is of: make, model, serial, its tag or series where it has none."""
        import numpy as np

        serial = self.text("camera_serial")
        named = ~serial.are("")
        tag, series = self.text("asset_tag"), self.text("series")
        known: dict[str, int] = {}
        codes: list[int] = []
        keys = combined(
            [
                self.text("camera_make").codes,
                self.text("camera_model").codes,
                serial.codes,
                np.where(named, 0, 1 + tag.codes),
                np.where(named | ~tag.are(""), 0, 1 + series.codes),
            ]
        )
        _, first, inverse = np.unique(keys, return_index=True, return_inverse=True)
        parts = [
            self.text(name).array[first]
            for name in ("camera_make", "camera_model", "camera_serial", "asset_tag", "series")
        ]
        for make, model, number, owner, shot in zip(*parts, strict=True):
            name = known_as(number, owner, shot)
            codes.append(known.setdefault(SEPARATOR.join((make, model, name)), len(known)))
        return Text(codes=np.array(codes, dtype=np.int32)[inverse], values=tuple(known))

    def key(self, *names: str) -> NDArray[np.int64]:
        """Return a number for each row, the same where all these columns are; `body` is one too."""
        return combined([self._code(name) for name in names])

    def sorted(self) -> Rows:
        """Return the rows in the order of the table: by identity, column by column."""
        import numpy as np

        keys = [
            self.text(name).ranks if name in TEXTS else self.number(name)
            for name in reversed(IDENTITY)
        ]
        order = np.lexsort(keys)
        if bool((order == np.arange(len(self))).all()):
            return self
        return self.take(order)

    def _code(self, name: str) -> NDArray[Any]:
        import numpy as np

        if name == "body":
            return self.bodies.codes
        kept = self._columns[name]
        if isinstance(kept, Text):
            return kept.codes
        return np.unique(kept, return_inverse=True)[1]

    def _plain(self, name: str) -> list[Any]:
        kept = self._columns[name]
        if isinstance(kept, Text):
            return list(kept.array.tolist())
        plain: list[Any] = kept.tolist()
        if KINDS[name] == "float | None":
            return [None if value != value else value for value in plain]
        return plain


def own_doubts(rows: Rows) -> dict[str, NDArray[np.bool_]]:
    """Return name -> which rows have a doubt that the lab's own records cast (Row.own_doubts)."""
    date, due = rows.text("date"), rows.text("meter_due")
    overdue = (due.array != "") & (date.array > due.array)
    return {
        "undated": date.are(""),
        "meter-certificate-expired": overdue.astype(bool),
        "stale": ~rows.text("stale").are(""),
        "duplicate": ~rows.text("duplicate_of").are(""),
    }


def doubt_counts(rows: Rows) -> NDArray[np.int64]:
    """Return how many doubts each row has (see Row.doubts)."""
    import numpy as np

    flags = rows.text("flags")
    counts = [len(list(filter(None, each.split(";")))) for each in flags.values]
    total: NDArray[np.int64] = np.array(counts, dtype=np.int64)[flags.codes]
    for mask in own_doubts(rows).values():
        total = total + mask
    return total


def measured(rows: Rows, quantity: str) -> NDArray[np.bool_]:
    """Return which rows hold a quantity; a lower bound counts."""
    import numpy as np

    held: NDArray[np.bool_] = ~np.isnan(rows.values(quantity).value)
    return held


def body_of(text: str) -> tuple[str, str, str]:
    """Return make, model and serial of one of `Rows.bodies`."""
    make, model, serial = text.split(SEPARATOR)
    return make, model, serial


def column(name: str, values: Sequence[Any]) -> Text | NDArray[Any]:
    """Return one column from its values, None where a number isn't known."""
    import numpy as np

    kind = KINDS[name]
    if kind == "str":
        known: dict[str, int] = {}
        codes = [known.setdefault(value, len(known)) for value in values]
        return Text(codes=np.array(codes, dtype=np.int32), values=tuple(known))
    types = {"int": np.int64, "bool": np.bool_}
    return np.array(values, dtype=types.get(kind, np.float64))


def combined(codes: Sequence[NDArray[Any]]) -> NDArray[np.int64]:
    """Return one number for each row, from 0 on, the same where all of its codes are."""
    import numpy as np

    whole = np.zeros(len(codes[0]), dtype=np.int64)
    for each in codes:
        if len(each):
            whole = whole * (int(each.max()) + 1) + each
            whole = np.unique(whole, return_inverse=True)[1].astype(np.int64)
    return whole
