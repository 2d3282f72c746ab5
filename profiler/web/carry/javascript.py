"""Writes functions of this package as JavaScript, so that a page without Python runs the same code.

Reached from the names asked for: only what they use is written, in one flat list under short names
(those of fields too, unless they are to be kept),
and what isn't understood is refused with its place. `runtime.js` holds what Python's own types do.
"""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from profiler.web.carry.calls import METHODS
from profiler.web.carry.names import short_name
from profiler.web.carry.sources import Symbol, methods_of, module_of
from profiler.web.carry.statements import Statements


@dataclass(frozen=True, kw_only=True)
class Script:
    """JavaScript that returns what was asked for, by name; fields: short names of the others."""

    text: str
    fields: dict[str, str]
    kept: frozenset[str]

    def field(self, name: str) -> str:
        """Return the name of a field in the script."""
        return self.fields.get(name, name)

    def reads(self, name: str) -> bool:
        """Return whether the script knows a field of that name."""
        return name in self.fields or name in self.kept


class Writer:
    """Writes what is reached from some names, each once, after what it needs."""

    def __init__(self, kept: Iterable[str], without: Iterable[Symbol] = ()) -> None:
        self.written: list[str] = []
        self.methods: dict[str, ast.FunctionDef] = {}
        self.shorts: dict[str, str] = {}
        self.fields: dict[str, str] = {}
        self._kept = METHODS | frozenset(kept)
        self._names: dict[Symbol, str] = dict.fromkeys(without, "$.absent")

    def name(self, symbol: Symbol) -> str:
        """Return the JavaScript name of a definition, written first where it wasn't yet."""
        if symbol not in self._names:
            self.methods |= {each.name: each for each in methods_of(symbol.module)}
            node = module_of(symbol.module).definitions[symbol.name]
            names = [symbol.name]
            if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Tuple):
                names = [n.id for n in node.targets[0].elts if isinstance(n, ast.Name)]
            for each in names:
                self._names[Symbol(symbol.module, each)] = f"${short_name(len(self._names))}"
            self.written.append(Statements(self, symbol.module).definition(node))
        return self._names[symbol]

    def property(self, name: str) -> str:
        """Return the JavaScript name of a field or method."""
        if name in self._kept or name.startswith("__"):
            return name
        return self.fields.setdefault(name, f"_{short_name(len(self.fields))}")


def written(
    entries: Sequence[Symbol], kept: Iterable[str] = (), without: Iterable[Symbol] = ()
) -> Script:
    """Return JavaScript that gives the names asked for; ValueError for what it can't say.

    kept: fields that others read or make, whose names stay. without: functions that nothing calls
    there.
    """
    kept = frozenset(kept)
    writer = Writer(kept, without)
    shown = [f"{entry.name}: {writer.name(entry)}" for entry in entries]
    body = "\n".join(writer.written)
    # a short name for each of the runtime's, the most used first
    used = Counter(re.findall(r"(?<![\w$])\$\.(\w+)", body))
    short = {name: f"{short_name(i).upper()}_" for i, (name, _) in enumerate(used.most_common())}
    body = re.sub(r"(?<![\w$])\$\.(\w+)", lambda found: short[found[1]], body)
    first = ",".join(f"{name}:{given}" for name, given in short.items())
    return Script(
        text=f"const {{{first}}}=$;\n{body}\nreturn {{{','.join(shown)}}};",
        fields=writer.fields,
        kept=frozenset(kept),
    )
