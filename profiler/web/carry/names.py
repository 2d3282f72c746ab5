"""What a name inside a function stands for: a local one, ours, Python's own."""

from __future__ import annotations

import ast
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from profiler.web.carry.sources import Outside, Symbol, Target, module_of, resolved

if TYPE_CHECKING:
    from profiler.web.carry.javascript import Writer

_NAMES: Final = (
    "KeyError TypeError ValueError abs all any bool dict divmod enumerate filter float "
    "format frozenset int isinstance iter len list map max min next range repr "
    "reversed round set sorted str sum tuple type vars zip "
)
_BUILTINS: Final = frozenset(_NAMES.split())


@dataclass
class Scope:
    """Names that a function knows by itself."""

    names: frozenset[str]
    above: Scope | None = None
    imports: dict[str, Target] = field(default_factory=dict)
    this: str = ""

    def holds(self, name: str) -> bool:
        """Return whether a name is a local one."""
        return name in self.names or (self.above is not None and self.above.holds(name))

    def target(self, name: str) -> Target | None:
        """Return what an import inside a function made of a name."""
        return self.imports.get(name) or (self.above.target(name) if self.above else None)

    def is_this(self, name: str) -> bool:
        """Return whether a name is the object that a method belongs to."""
        return name == self.this or (self.above is not None and self.above.is_this(name))


class Names:
    """Resolves the names of one module."""

    def __init__(self, writer: Writer, module: str) -> None:
        self.writer, self.module = writer, module
        self.scope = Scope(frozenset())

    def local(self, name: str) -> str:
        """Return the JavaScript name of a local one."""
        return self.writer.shorts.setdefault(name, short_name(len(self.writer.shorts)))

    def load(self, name: str) -> str:
        """Return what a name stands for."""
        if self.scope.is_this(name):
            return "this"
        if self.scope.holds(name):
            return self.local(name)
        found = self.target(name)
        if isinstance(found, Symbol):
            return self.writer.name(found)
        if isinstance(found, Outside):
            return f"$.{found.name}"
        if name == "Exception":
            return "Error"
        if name in _BUILTINS:
            return f"$.{name}"
        raise ValueError(f"{self.module}: {name} isn't known")

    def target(self, name: str) -> Target | str | None:
        """Return the definition that a name which isn't local stands for."""
        if self.scope.holds(name):
            return None
        module = module_of(self.module)
        if name in module.definitions:
            return Symbol(self.module, name)
        found = self.scope.target(name) or module.imports.get(name)
        return resolved(found) if isinstance(found, Symbol) else found

    def owner(self, node: ast.expr) -> Target | str | None:
        """Return what a dotted name stands for, None where it belongs to a value."""
        if isinstance(node, ast.Name):
            return self.target(node.id)
        if isinstance(node, ast.Attribute):
            above = self.owner(node.value)
            if isinstance(above, str):
                return resolved(Symbol(above, node.attr))
            if isinstance(above, Outside):
                return Outside(f"{above.name}.{node.attr}")
        return None

    def unknown(self, node: ast.AST) -> ValueError:
        """Return the refusal of what can't be written."""
        line = getattr(node, "lineno", "?")
        return ValueError(f"{self.module}, line {line}: {type(node).__name__} can't be written")


def short_name(number: int) -> str:
    """Return a short name that isn't a word of JavaScript's: a, b, ... z, a0, b0 ...

    >>> short_name(0), short_name(27)
    ('a', 'b0')
    """
    count, letter = divmod(number, 26)
    return f"{chr(97 + letter)}{count - 1 if count else ''}"
