"""JSON read into dataclasses by msgspec, refusing whatever they don't declare."""

from __future__ import annotations

import dataclasses
import re
import types
from collections.abc import Mapping
from typing import (
    Annotated,
    Any,
    Final,
    Generic,
    Literal,
    TypeVar,
    Union,
    get_args,
    get_origin,
    get_type_hints,
)

import msgspec

T = TypeVar("T")
_MOST: Final = 2**53
"""The largest whole number that every reader of JSON holds exactly."""
_AT: Final = re.compile(r"^(?P<what>.*?)(?: - at `(?P<path>.*)`)?$", re.DOTALL)
_FIELD: Final = re.compile(r"^Object (contains unknown|missing required) field `(.*)`$")
_KINDS: Final = {
    "`float`": "a number",
    "`int`": "a whole number",
    "`str`": "text",
    "`bool`": "true or false",
    "`array`": "a list",
    "`object`": "an object",
    "`null`": "null",
    " | ": " or ",
}


class FieldError(ValueError):
    """A field isn't what its record declares; path: where it stands, as in a.b[0].c."""

    def __init__(self, path: str, what: str) -> None:
        super().__init__(path, what)
        self.path, self.what = path, what


class StrictReader(Generic[T]):
    """Reads JSON into one kind of dataclass, records inside of it included.

    msgspec refuses text for numbers and fractions for counts by itself, but fields that it doesn't
    know only for its own records. So each dataclass gets such a record made of its fields; what
    that took is turned into the dataclass, which then checks itself.
    """

    def __init__(self, kind: type[T]) -> None:
        self._kind = kind
        self._decoder = msgspec.json.Decoder(_strict(kind, {}))

    def read(self, text: bytes | str) -> T:
        """Return the record in a JSON text; FieldError, ValueError or RecursionError if none."""
        try:
            made: T = msgspec.convert(self._decoder.decode(text), self._kind, from_attributes=True)
        except msgspec.ValidationError as error:
            raise self._worded(str(error), text) from error
        except msgspec.DecodeError as error:  # a ValueError of its own only in later versions
            raise ValueError(str(error)) from error
        return made

    def schema(self) -> dict[str, Any]:
        """Return the JSON Schema of what is read."""
        found = msgspec.json.schema(self._decoder.type)
        top = found["$defs"].pop(self._kind.__name__)
        return top | found if found.pop("$ref") else found

    def _worded(self, message: str, text: bytes | str) -> FieldError:
        found = _AT.match(message)
        what, path = (message, "") if found is None else (found["what"], found["path"] or "")
        if "[...]" in path:
            path = self._with_keys(path, text)
        path = path.removeprefix("$").lstrip(".")
        field = _FIELD.match(what)
        if field is not None:
            state = "isn't known" if field[1].startswith("contains") else "is missing"
            return FieldError(f"{path}.{field[2]}".lstrip("."), f"the field {state}")
        for name, words in _KINDS.items():
            what = what.replace(name, words)
        return FieldError(path, what[:1].lower() + what[1:])

    def _with_keys(self, path: str, text: bytes | str) -> str:
        """The path with the keys that msgspec leaves open: a value that stays wrong alone is it."""
        data = msgspec.json.decode(text)
        before, *rest = path.split("[...]")
        for after in rest:
            held = at(data, before)
            whole = dict(held)
            for key, value in whole.items():
                held.clear()
                held[key] = value
                try:
                    self._decoder.decode(msgspec.json.encode(data))
                except msgspec.ValidationError:
                    before = f"{before}.{key}{after}"
                    break
        return before


def at(data: Any, path: str) -> Any:
    """Return what stands at a path such as results[0].iso in decoded JSON; None for nothing.

    >>> at({"results": [{"iso": 400}]}, "results[0].iso")
    400
    """
    for key, index in re.findall(r"([^.\[\]$]+)|\[(\d+)\]", path):
        try:
            data = data[key or int(index)]
        except (KeyError, IndexError, TypeError):
            return None
    return data


def _strict(kind: Any, made: dict[Any, Any]) -> Any:
    """The type with a strict record for each dataclass in it; made: dataclass -> its record."""
    if dataclasses.is_dataclass(kind):
        if kind not in made:
            hints = get_type_hints(kind)
            fields = [_field(each, _strict(hints[each.name], made)) for each in _fields(kind)]
            made[kind] = msgspec.defstruct(
                str(kind.__name__),  # type: ignore[union-attr]
                fields,
                kw_only=True,
                forbid_unknown_fields=True,
                namespace={"__doc__": kind.__doc__},
            )
        return made[kind]
    origin, arguments = get_origin(kind), get_args(kind)
    if origin is tuple:
        inner = tuple(each if each is ... else _strict(each, made) for each in arguments)
        return types.GenericAlias(tuple, inner)
    if origin is Mapping:
        key, value = arguments
        return types.GenericAlias(dict, (key, _strict(value, made)))
    if origin in (Union, types.UnionType):
        return Union[tuple(_strict(each, made) for each in arguments)]  # noqa: UP007
    if kind is int:
        return Annotated[int, msgspec.Meta(ge=-_MOST, le=_MOST)]
    return kind


def _fields(kind: Any) -> tuple[dataclasses.Field[Any], ...]:
    return dataclasses.fields(kind)


def _field(declared: dataclasses.Field[Any], kind: Any) -> tuple[Any, ...]:
    if get_origin(kind) is Literal:  # which format and version it is, a file has to say itself
        return declared.name, kind
    if declared.default is not dataclasses.MISSING:
        return declared.name, kind, declared.default
    if declared.default_factory is not dataclasses.MISSING:
        return declared.name, kind, msgspec.field(default_factory=declared.default_factory)
    return declared.name, kind
