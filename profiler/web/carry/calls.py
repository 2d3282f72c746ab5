"""Calls and attributes: keywords put in line, methods of Python's own types found."""

from __future__ import annotations

import ast
import re
from abc import abstractmethod
from collections.abc import Sequence
from typing import Final

from profiler.web.carry.names import Names
from profiler.web.carry.sources import Outside, Symbol, initial_of, module_of

_NAMES: Final = (
    "append capitalize count end endswith extend find fromkeys fullmatch get "
    "groupdict index insert items join keys ljust lower lstrip maketrans match "
    "partition pop removeprefix removesuffix replace rjust rpartition rstrip search "
    "setdefault sort split rsplit startswith strip sub translate upper values "
)
METHODS: Final = frozenset(_NAMES.split())
"""Methods of Python's own types; no class of this package has one of these names."""

_UNSAID: Final = {"Constant": ("unit", "source"), "Input": ("help", "metavar")}
"""Fields of a class that no answer says."""


class Calls(Names):
    """Writes the calls of one module."""

    @abstractmethod
    def expr(self, node: ast.expr) -> str:
        """Return one expression."""

    @abstractmethod
    def several(self, elts: Sequence[ast.expr]) -> list[str]:
        """Return expressions of a list, spread where they are starred."""

    def attribute(self, node: ast.Attribute) -> str:
        """Return an attribute of a module or of a value."""
        found = self.owner(node)
        if isinstance(found, Symbol):
            return self.writer.name(found)
        if isinstance(found, Outside):
            return f"$.{found.name}"
        value = self.expr(node.value)
        if node.attr in METHODS:
            return f'$.bound({value}, "{node.attr}")'
        return f"{value}.{self.writer.property(node.attr)}"

    def call(self, node: ast.Call) -> str:
        """Return a call, its keywords put in line."""
        found = self.owner(node.func)
        if isinstance(found, Symbol):
            return self.call_ours(found, node)
        args = self.several(node.args)
        if isinstance(found, Outside) and found.name == "replace":
            return f"$.replace({args[0]}, {{{','.join(self.pairs(node.keywords))}}})"
        options = [f"{k.arg}:{self.expr(k.value)}" for k in node.keywords if k.arg]
        if isinstance(found, Outside):
            given = [*args, f"{{{','.join(options)}}}"] if options else args
            return f"$.{found.name}({','.join(given)})"
        if isinstance(node.func, ast.Attribute):
            value, name = self.expr(node.func.value), node.func.attr
            if name not in METHODS:
                method = self.writer.methods.get(name)
                if method is None and (options or _is_pythons(name)):
                    raise self.unknown(node)
                if method is None:  # of an object of Python's own
                    return f"{value}.{name}({','.join(args)})"
                inner = self.in_line(method.args, node, skip=1)
                return f"{value}.{self.writer.property(name)}({','.join(inner)})"
            given = [value, *args, *([f"{{{','.join(options)}}}"] if options else [])]
            return f"$.on.{name}({','.join(given)})"
        if isinstance(node.func, ast.Name) and not self.scope.holds(node.func.id):
            if node.func.id in ("min", "max"):
                return f"$.{node.func.id}([{','.join(args)}], {{{','.join(options)}}})"
            given = [*args, *([f"{{{','.join(options)}}}"] if options else [])]
            new = "new " if node.func.id.endswith("Error") else ""
            return f"{new}{self.load(node.func.id)}({','.join(given)})"
        if options:
            raise self.unknown(node)
        return f"{self.expr(node.func)}({','.join(args)})"

    def call_ours(self, found: Symbol, node: ast.Call) -> str:
        """Return a call of a function or class of this package."""
        own = self.writer.name(found)
        definition = module_of(found.module).definitions[found.name]
        if isinstance(definition, ast.FunctionDef):
            return f"{own}({','.join(self.in_line(definition.args, node))})"
        if not isinstance(definition, ast.ClassDef):
            return f"{own}({','.join(self.several(node.args))})"
        if any("dataclass" in ast.unparse(each) for each in definition.decorator_list):
            left_out = _UNSAID.get(definition.name, ())
            given = [k for k in node.keywords if k.arg not in left_out]
            if node.args:  # in the order of the fields
                names = [n.target for n in definition.body if isinstance(n, ast.AnnAssign)]
                first = zip(map(ast.unparse, names), node.args, strict=False)
                given = [*(ast.keyword(name, value) for name, value in first), *given]
            return f"new {own}({{{','.join(self.pairs(given))}}})"
        start = initial_of(found)
        return f"new {own}({','.join(self.in_line(start.args, node, skip=1))})"

    def pairs(self, keywords: Sequence[ast.keyword]) -> list[str]:
        """Return keywords as the fields of a record."""
        return [
            f"{self.writer.property(k.arg)}:{self.expr(k.value)}"
            if k.arg
            else f"...$.fields({self.expr(k.value)})"
            for k in keywords
        ]

    def in_line(self, args: ast.arguments, node: ast.Call, *, skip: int = 0) -> list[str]:
        """Return the arguments of a call in the order of the parameters."""
        given = self.several(node.args)
        named = {k.arg: self.expr(k.value) for k in node.keywords}
        if None in named:
            raise self.unknown(node)
        first = len(args.args) - skip
        given, several = given[:first], given[first:]  # several stand after all others there
        starred = any(isinstance(each, ast.Starred) for each in node.args[:first])
        params = [each.arg for each in (*args.args[skip:], *args.kwonlyargs)]
        rest = [named.pop(name, "undefined") for name in params[len(given) :]]
        if named or (several and not args.vararg) or (starred and rest):
            raise self.unknown(node)
        while rest and rest[-1] == "undefined" and not several:
            rest.pop()
        return [*given, *rest, *several]


def _is_pythons(name: str) -> bool:
    """Whether a type of Python's own has such a method, which runtime.js then lacks."""
    return any(hasattr(kind, name) for kind in (str, list, tuple, dict, set, re.Pattern, re.Match))
