"""Definitions and statements of Python as those of JavaScript."""

from __future__ import annotations

import ast
from collections.abc import Iterator, Sequence

from profiler.web.carry.expressions import Expressions
from profiler.web.carry.names import Scope
from profiler.web.carry.sources import PACKAGE, Symbol, inner_imports


class Statements(Expressions):
    """Writes the definitions of one module."""

    def definition(self, node: ast.stmt) -> str:
        """Return a definition at the top of the module."""
        match node:
            case ast.FunctionDef():
                own = self.writer.name(Symbol(self.module, node.name))
                if any("cache" in ast.unparse(each) for each in node.decorator_list):
                    return f"const {own}=$.cache({self.function(node)});"
                star = "*" if _gives_one_by_one(node) else ""
                return f"function{star} {own}{self.function(node, bare=True)}"
            case ast.ClassDef():
                return self.record(node)
            case ast.AnnAssign(target=ast.Name(id=name), value=ast.expr() as value):
                own = self.writer.name(Symbol(self.module, name))
                return f"const {own}={self.expr(value)};"
            case ast.Assign(targets=[ast.Name(id=name)], value=value):
                own = self.writer.name(Symbol(self.module, name))
                return f"const {own}={self.expr(value)};"
            case ast.Assign(targets=[ast.Tuple(elts=elts)], value=value):
                names = [ast.unparse(each) for each in elts]
                own = ", ".join(self.writer.name(Symbol(self.module, each)) for each in names)
                return f"const [{own}]={self.expr(value)};"
        raise self.unknown(node)

    def record(self, node: ast.ClassDef) -> str:
        """Return a dataclass or an error as a class, an enumeration of texts as its values."""
        own = self.writer.name(Symbol(self.module, node.name))
        if any(ast.unparse(base) == "StrEnum" for base in node.bases):
            values = [
                f"{self.writer.property(ast.unparse(each.targets[0]))}:{self.expr(each.value)}"
                for each in node.body
                if isinstance(each, ast.Assign)
            ]
            return f"const {own}={{{','.join(values)}}};"
        base = self.expr(node.bases[0]) if node.bases else "$.Record"
        parts, defaults = [], []
        for each in node.body:
            if isinstance(each, ast.AnnAssign) and isinstance(each.target, ast.Name):
                value = each.value
                if isinstance(value, ast.Call) and ast.unparse(value.func) == "field":
                    given = {k.arg: k.value for k in value.keywords}
                    factory = given.get("default_factory")
                    value = ast.Call(factory, [], []) if factory else given.get("default")
                if value is not None:
                    name = self.writer.property(each.target.id)
                    defaults.append(f"{name}:{self.expr(value)}")
            elif isinstance(each, ast.FunctionDef):
                parts.append(self.method(each))
        if defaults:
            parts.insert(0, f"static d(){{return{{...super.d(),{','.join(defaults)}}}}}")
        return f"class {own} extends {base}{{{''.join(parts)}}}"

    def method(self, node: ast.FunctionDef) -> str:
        """Return a method or a property."""
        first, *rest = node.args.args
        args = ast.arguments(**{**vars(node.args), "args": rest})
        plain = ast.FunctionDef(**{**vars(node), "args": args, "decorator_list": []})
        kind = "get " if any(ast.unparse(d) == "property" for d in node.decorator_list) else ""
        name = "constructor" if node.name == "__init__" else self.writer.property(node.name)
        return f"{kind}{name}{self.function(plain, bare=True, this=first.arg)}"

    # --- statements ----------------------------------------------------------------------

    def block(self, body: Sequence[ast.stmt]) -> list[str]:
        """Return the statements of a block."""
        return [line for node in body for line in self.statement(node)]

    def statement(self, node: ast.stmt) -> list[str]:
        """Return one statement."""
        match node:
            case ast.Expr(value=ast.Constant()) | ast.Pass() | ast.Import() | ast.ImportFrom():
                return []
            case ast.Expr(
                value=ast.Call(func=ast.Attribute(value=ast.Call(func=ast.Name("super"))))
            ):
                return ["super();"]
            case ast.Expr(value=ast.Yield(value=ast.expr() as value)):
                return [f"yield {self.expr(value)};"]
            case ast.Expr(value=ast.YieldFrom(value=value)):
                return [f"yield* $.iter({self.expr(value)});"]
            case ast.Expr(value=value):
                return [f"{self.expr(value)};"]
            case ast.Return(value=value):
                return [f"return {'null' if value is None else self.expr(value)};"]
            case ast.Assign(targets=[target], value=value):
                return [f"{self.store(target, self.expr(value))};"]
            case ast.AnnAssign(target=target, value=value):
                return [] if value is None else [f"{self.store(target, self.expr(value))};"]
            case ast.AugAssign(target=target, op=op, value=value):
                made = self.binary(target, op, value)
                return [f"{self.store(target, made)};"]
            case ast.If(test=test, body=body, orelse=orelse):
                lines = [f"if ({self.test(test)}){{", *self.block(body), "}"]
                return [*lines, "else{", *self.block(orelse), "}"] if orelse else lines
            case ast.For(target=target, iter=several, body=body, orelse=[]):
                head = f"for({self.pattern(target)} of $.iter({self.expr(several)})){{"
                return [head, *self.block(body), "}"]
            case ast.While(test=test, body=body, orelse=[]):
                return [f"while ({self.test(test)}){{", *self.block(body), "}"]
            case ast.Break():
                return ["break;"]
            case ast.Continue():
                return ["continue;"]
            case ast.Raise(exc=ast.expr() as exc):
                return [f"throw {self.expr(exc)};"]
            case ast.Raise():
                return ["throw $fault;"]
            case ast.Try(body=body, handlers=[handler], orelse=orelse, finalbody=[]):
                return self.tried(body, handler, orelse)
            case ast.With(items=[ast.withitem(context_expr=ast.Call() as call)], body=body):
                return self.about(call, body)
            case ast.FunctionDef():
                return [f"{self.local(node.name)}={self.function(node)};"]
        raise self.unknown(node)

    def tried(
        self, body: list[ast.stmt], handler: ast.ExceptHandler, orelse: list[ast.stmt]
    ) -> list[str]:
        """Return try with one except; its else joins the body, for it raises nothing caught."""
        if handler.type is None:
            raise self.unknown(handler)
        caught = [f"{self.local(handler.name)}=$fault;"] if handler.name else []
        return [
            "try{",
            *self.block([*body, *orelse]),
            "}catch($fault){",
            f"if (!$.isinstance($fault, {self.expr(handler.type)})) throw $fault;",
            *caught,
            *self.block(handler.body),
            "}",
        ]

    def about(self, call: ast.Call, body: list[ast.stmt]) -> list[str]:
        """Return `with about(field)`, the one context manager that is known."""
        if not (isinstance(call.func, ast.Name) and call.func.id == "about"):
            raise self.unknown(call)
        error = self.writer.name(Symbol(f"{PACKAGE}.errors", "GreytareError"))
        name = f"$fault.field=$fault.field || {self.expr(call.args[0])};"
        return [
            "try{",
            *self.block(body),
            "}catch($fault){",
            f"if ($fault instanceof {error}) {name}",
            "throw $fault;",
            "}",
        ]

    def function(
        self, node: ast.FunctionDef | ast.Lambda, *, bare: bool = False, this: str = ""
    ) -> str:
        """Return a function: with its keyword-only arguments in line; bare: after its name."""
        args = node.args
        body = node.body if isinstance(node, ast.FunctionDef) else []
        params = [*args.args, *args.kwonlyargs]
        named = {each.arg for each in params} | ({args.vararg.arg} if args.vararg else set())
        local = set(_assigned(body)) - named if body else set()
        inside = Scope(frozenset(named | local), self.scope, dict(inner_imports(body)), this)
        values = [None] * (len(args.args) - len(args.defaults)) + list(args.defaults)
        outer, shown = self.scope, []
        self.scope = inside
        for each, value in zip(params, [*values, *args.kw_defaults], strict=True):
            default = "" if value is None else f"={self.expr(value)}"
            shown.append(f"{self.local(each.arg)}{default}")
        if args.vararg:
            shown.append(f"...{self.local(args.vararg.arg)}")
        if args.kwarg:
            raise self.unknown(node)
        head = f"({','.join(shown)})"
        if isinstance(node, ast.Lambda):
            text = f"{head}=>{self.expr(node.body)}"
        else:
            lines = [f"let {','.join(sorted(map(self.local, local)))};"] if local else []
            lines += self.block(body)
            if not bare and isinstance(node, ast.FunctionDef) and _gives_one_by_one(node):
                raise self.unknown(node)
            arrow = "" if bare else " =>"
            text = f"{head}{arrow}{{{''.join(lines)}}}"
        self.scope = outer
        return text


def _gives_one_by_one(node: ast.FunctionDef) -> bool:
    return any(isinstance(each, ast.Yield | ast.YieldFrom) for each in ast.walk(node))


def _assigned(body: Sequence[ast.stmt]) -> Iterator[str]:
    """Names that a function's own statements give a value."""
    waiting: list[ast.AST] = list(body)
    while waiting:
        node = waiting.pop()
        if isinstance(node, ast.FunctionDef):
            yield node.name
            continue
        if isinstance(node, ast.ExceptHandler) and node.name:
            yield node.name
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            yield node.id
        if isinstance(node, ast.Lambda | ast.AnnAssign) and isinstance(node, ast.Lambda):
            continue
        inner = list(ast.iter_child_nodes(node))
        if isinstance(node, ast.comprehension):
            inner = [each for each in inner if each is not node.target]
        waiting += inner
