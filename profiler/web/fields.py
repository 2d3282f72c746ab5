"""Fields of a form, with the texts that came in for them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import parse_qsl, urlencode

from fastapi import Request
from starlette.datastructures import QueryParams

from profiler.errors import ExposureError, GreytareError

if TYPE_CHECKING:
    from profiler.show.inputs import Input

Params = QueryParams
_LONGEST: Final = 300


@dataclass(frozen=True, kw_only=True)
class Field:
    """One labelled input. choices: value with words, for a list; big: what the answer hangs on.

    reload: the page depends on it; more: shown on demand; pairs: name and reading in rows, each
    of them a `pair`.
    suggestions: offered while typing.
    """

    name: str
    label: str
    hint: str = ""
    value: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    big: bool = False
    reload: bool = False
    more: bool = False
    numeric: bool = False
    pairs: tuple[tuple[str, str], ...] = ()
    pair: str = "spot"
    suggestions: tuple[str, ...] = ()


def query(**values: str) -> str:
    """Return values as the query of an address."""
    return urlencode(values)


def text(params: Params, name: str) -> str:
    """Return the trimmed text of a field, empty where it has none."""
    found = params.get(name, "").strip()
    if len(found) > _LONGEST:
        raise ExposureError("the text is too long", "", "Shorten it", name)
    return found


def optional(params: Params, name: str) -> str | None:
    """Return the text of a field, None where it has none."""
    return text(params, name) or None


def several(params: Params, name: str) -> list[str]:
    """Return the parts of a field that are separated by semicolons."""
    return [part.strip() for part in text(params, name).split(";") if part.strip()]


def number(
    params: Params, name: str, *, low: float, high: float, whole: bool = False, unit: str = ""
) -> float | None:
    """Return the number in a field, None where it is empty; ExposureError where it isn't one."""
    typed = text(params, name)
    if not typed:
        return None
    bare = typed.removesuffix("%").strip().replace(",", ".")
    try:
        value = float(bare)
    except ValueError:
        value = float("nan")
    if not low <= value <= high or (whole and value != int(value)):
        kind = "a whole number" if whole else "a number"
        raise ExposureError(
            f"‘{typed}’ isn't {kind} that fits",
            "",
            f"Write {kind} from {low:g} to {high:g}{f' {unit}' if unit else ''}",
            name,
        )
    return value


def whole(params: Params, name: str, default: int, *, low: int, high: int) -> int:
    """Return the whole number in a field, or the default where it is empty."""
    value = number(params, name, low=low, high=high, whole=True)
    return default if value is None else int(value)


def whole_numbers(params: Params, name: str, *, low: int, high: int) -> tuple[int, ...]:
    """Return the whole numbers in a field, separated by blanks or commas."""
    found = []
    for part in text(params, name).replace(",", " ").replace(";", " ").split():
        single = QueryParams({name: part})
        value = number(single, name, low=low, high=high, whole=True)
        if value is not None:
            found.append(int(value))
    return tuple(found)


def one_of(params: Params, name: str, known: Sequence[str], default: str) -> str:
    """Return the choice in a field, or the default where it is empty."""
    chosen = text(params, name) or default
    if chosen not in known:
        raise ExposureError("this isn't one of the choices", "", "Choose from the list", name)
    return chosen


def input_field(given: Input) -> Field:
    """Return the field, shown on demand, for an input that several questions have."""
    choices = (*given.unasked, *given.choices)
    return Field(
        name=given.name,
        label=given.label,
        hint=given.hint,
        value=choices[0][0] if choices else "",
        choices=choices,
        numeric=given.limits is not None,
        more=True,
    )


def typed(inputs: Iterable[Input], params: Params) -> dict[str, Any]:
    """Return what was typed into such fields, by the names that a question has for them."""
    return {given.key: _typed(given, params) for given in inputs}


def _typed(given: Input, params: Params) -> Any:
    if given.choices:
        known = [value for value, _ in (*given.unasked, *given.choices)]
        chosen = one_of(params, given.name, known, known[0])
        return float(chosen) if given.number else chosen
    if given.limits is not None:
        low, high = given.limits
        return number(params, given.name, low=low, high=high)
    return several(params, given.name) if given.several else optional(params, given.name)


def plain(values: Iterable[str], first: str | None = None) -> tuple[tuple[str, str], ...]:
    """Return choices whose words are their values, after an empty one if words for it are given."""
    chosen = tuple((value, value) for value in values)
    return chosen if first is None else (("", first), *chosen)


def filled(fields: Iterable[Field], params: Mapping[str, str]) -> list[Field]:
    """Return the fields with what came in for them."""
    return [replace(each, value=params.get(each.name, each.value)[:_LONGEST]) for each in fields]


def keeping(field: Field) -> Field:
    """Return a list with the value that came in for it, which needn't be one of the choices."""
    known = {value for value, _ in field.choices}
    if not field.choices or not field.value or field.value in known:
        return field
    return replace(field, choices=(*field.choices, (field.value, field.value)))


def complete(form: Iterable[Field], params: Params) -> Params:
    """Return what came in, with the defaults of the fields that didn't."""
    defaults = [(each.name, each.value) for each in form if each.name not in params]
    return QueryParams([*params.multi_items(), *defaults])


_LONGEST_FORM = 100_000


async def form_of(request: Request) -> dict[str, str]:
    """Return name -> text of a posted form; of a name that comes twice the last counts."""
    body = await request.body()
    if len(body) > _LONGEST_FORM:
        raise GreytareError("the form is too long", "form", "Load the page again")
    try:
        pairs = parse_qsl(body.decode("utf-8"), keep_blank_values=True)
    except UnicodeDecodeError as error:
        raise GreytareError("the form isn't text", "form", "Load the page again") from error
    return dict(pairs)
