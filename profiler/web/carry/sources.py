"""The definitions of this package's modules, and what a name in one of them stands for."""

from __future__ import annotations

import ast
import importlib.util
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

PACKAGE: Final = "profiler"


@dataclass(frozen=True)
class Symbol:
    """A name at the top of a module."""

    module: str
    name: str


@dataclass(frozen=True)
class Outside:
    """A name of Python's own library, such as math or math.log2."""

    name: str


Target = Symbol | Outside


@dataclass(frozen=True)
class Module:
    """A module's definitions by name, and what its imports stand for."""

    name: str
    definitions: dict[str, ast.stmt]
    imports: dict[str, Target]


@cache
def module_of(name: str) -> Module:
    spec = importlib.util.find_spec(name)
    if spec is None or spec.origin is None:
        raise ValueError(f"{name} has no source")
    tree = ast.parse(Path(spec.origin).read_text(encoding="utf-8"))
    definitions: dict[str, ast.stmt] = {}
    for node in tree.body:
        match node:
            case ast.FunctionDef(name=defined) | ast.ClassDef(name=defined):
                definitions[defined] = node
            case ast.AnnAssign(target=ast.Name(id=defined), value=ast.expr()):
                definitions[defined] = node
            case ast.Assign(targets=[ast.Name(id=defined)]):
                definitions[defined] = node
            case ast.Assign(targets=[ast.Tuple(elts=names)]):
                definitions.update({n.id: node for n in names if isinstance(n, ast.Name)})
    return Module(name, definitions, dict(imports_in(tree.body)))


def imports_in(body: Iterable[ast.stmt]) -> Iterator[tuple[str, Target]]:
    """What imports at this depth make known."""
    for node in body:
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield alias.asname or alias.name, Outside(alias.name)
        elif isinstance(node, ast.ImportFrom) and node.module:
            ours = node.module.split(".")[0] == PACKAGE
            for alias in node.names:
                known: Target = Symbol(node.module, alias.name) if ours else Outside(alias.name)
                yield alias.asname or alias.name, known
        elif isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
            yield from imports_in(node.body)


def resolved(symbol: Symbol) -> Target | str:
    """Where a name is defined; the name of a module where it is one."""
    if importlib.util.find_spec(symbol.module) is None:
        raise ValueError(f"there is no module {symbol.module}")
    module = module_of(symbol.module)
    if symbol.name in module.definitions:
        return symbol
    found = module.imports.get(symbol.name)
    if isinstance(found, Symbol):
        return resolved(found)
    if found is not None:
        return found
    return f"{symbol.module}.{symbol.name}"


def inner_imports(body: Sequence[ast.stmt]) -> Iterator[tuple[str, Target]]:
    for node in body:
        for each in ast.walk(node):
            if isinstance(each, ast.Import | ast.ImportFrom):
                yield from imports_in([each])


def methods_of(module: str) -> Iterator[ast.FunctionDef]:
    """The methods of the classes in a module and in those that it imports from."""
    names = {each.module for each in module_of(module).imports.values() if isinstance(each, Symbol)}
    for name in (module, *sorted(names)):
        for node in module_of(name).definitions.values():
            if isinstance(node, ast.ClassDef):
                yield from (each for each in node.body if isinstance(each, ast.FunctionDef))


def initial_of(symbol: Symbol) -> ast.FunctionDef:
    """The `__init__` of a class, or of the one that it extends."""
    node = module_of(symbol.module).definitions[symbol.name]
    if not isinstance(node, ast.ClassDef):
        raise ValueError(f"{symbol.name} is no class")
    for each in node.body:
        if isinstance(each, ast.FunctionDef) and each.name == "__init__":
            return each
    for base in node.bases:
        if isinstance(base, ast.Name):
            return initial_of(Symbol(symbol.module, base.id))
    raise ValueError(f"{symbol.module}.{symbol.name} has no __init__")
