"""Expressions of Python as expressions of JavaScript."""

from __future__ import annotations

import ast
import json
from abc import abstractmethod
from collections.abc import Callable, Sequence
from typing import Final

from profiler.web.carry.calls import Calls
from profiler.web.carry.names import Scope

_SAFE: Final = frozenset(("isinstance", "any", "all", "bool", "startswith", "endswith", "isclose"))
"""Calls that give true or false in both languages."""
_ARITHMETIC: Final = {ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/", ast.Pow: "**"}
_CALLED: Final = {
    ast.Add: "add",
    ast.Sub: "sub",
    ast.Mult: "mul",
    ast.Mod: "mod",
    ast.FloorDiv: "floordiv",
    ast.BitOr: "either",
    ast.BitAnd: "both",
}
_SIGNS: Final = {ast.USub: "-", ast.UAdd: "+", ast.Invert: "~"}
_ORDER: Final = {ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">="}


class Expressions(Calls):
    """Writes the expressions of one module."""

    @abstractmethod
    def function(
        self, node: ast.FunctionDef | ast.Lambda, *, bare: bool = False, this: str = ""
    ) -> str:
        """Return a function."""

    def test(self, node: ast.expr) -> str:
        """Return an expression as JavaScript may test it."""
        match node:
            case ast.BoolOp(op=op, values=values):
                word = "&&" if isinstance(op, ast.And) else "||"
                return f"({word.join(self.test(each) for each in values)})"
            case ast.UnaryOp(op=ast.Not(), operand=operand):
                return f"!{self.test(operand)}"
        return self.expr(node) if _is_test(node) else f"$.truth({self.expr(node)})"

    def expr(self, node: ast.expr) -> str:
        """Return one expression."""
        match node:
            case ast.Constant(value=None):
                return "null"
            case ast.Constant(value=bool() | int() | float() | str() as value):
                return json.dumps(value)
            case ast.Name(id=name):
                return self.load(name)
            case ast.Attribute():
                return self.attribute(node)
            case ast.Tuple(elts=elts) | ast.List(elts=elts):
                return f"[{','.join(self.several(elts))}]"
            case ast.Set(elts=elts):
                return f"$.set([{','.join(self.several(elts))}])"
            case ast.Dict(keys=keys, values=values):
                pairs = [
                    f"...$.items({self.expr(v)})"
                    if k is None
                    else f"[{self.expr(k)},{self.expr(v)}]"
                    for k, v in zip(keys, values, strict=True)
                ]
                return f"$.dict([{','.join(pairs)}])"
            case ast.JoinedStr(values=values):
                return self.text(values)
            case ast.BinOp(left=left, op=op, right=right):
                return self.binary(left, op, right)
            case ast.UnaryOp(op=ast.Not()):
                return self.test(node)
            case ast.UnaryOp(op=op, operand=operand):
                return f"({_SIGNS[type(op)]}{self.expr(operand)})"
            case ast.BoolOp(op=op, values=[first, *rest]):
                if _is_test(node):
                    return self.test(node)
                word = "and" if isinstance(op, ast.And) else "or"
                made = self.expr(rest[-1])
                for each in [first, *rest[:-1]][::-1]:
                    made = f"$.{word}({self.expr(each)},()=>{made})"
                return made
            case ast.Compare():
                return self.compare(node)
            case ast.IfExp(test=test, body=body, orelse=orelse):
                return f"({self.test(test)}?{self.expr(body)}:{self.expr(orelse)})"
            case ast.Call():
                return self.call(node)
            case ast.Subscript(value=owner, slice=ast.Slice(lower=low, upper=high, step=step)):
                ends = ", ".join("null" if e is None else self.expr(e) for e in (low, high, step))
                return f"$.slice({self.expr(owner)},{ends})"
            case ast.Subscript(value=owner, slice=key):
                return f"$.at({self.expr(owner)},{self.expr(key)})"
            case ast.Lambda():
                return f"({self.function(node)})"
            case ast.NamedExpr(target=target, value=value):
                return f"({self.store(target, self.expr(value))})"
            case (
                ast.ListComp(elt=elt, generators=loops)
                | ast.GeneratorExp(elt=elt, generators=loops)
            ):
                return self.comprehension(loops, lambda: self.expr(elt))
            case ast.SetComp(elt=elt, generators=loops):
                return f"$.set({self.comprehension(loops, lambda: self.expr(elt))})"
            case ast.DictComp(key=key, value=value, generators=loops):
                made = self.comprehension(loops, lambda: f"[{self.expr(key)},{self.expr(value)}]")
                return f"$.dict({made})"
        raise self.unknown(node)

    def several(self, elts: Sequence[ast.expr]) -> list[str]:
        """Return expressions of a list, spread where they are starred."""
        return [
            f"...$.iter({self.expr(each.value)})"
            if isinstance(each, ast.Starred)
            else self.expr(each)
            for each in elts
        ]

    def comprehension(self, loops: list[ast.comprehension], element: Callable[[], str]) -> str:
        """Return a comprehension as maps over lists, one inside the other."""
        loop, *rest = loops
        several = self.expr(loop.iter)
        names = [n.id for n in ast.walk(loop.target) if isinstance(n, ast.Name)]
        outer = self.scope
        self.scope = Scope(frozenset(names), outer)
        each = self.pattern(loop.target)
        tests = "&&".join(self.test(test) for test in loop.ifs)
        made = self.comprehension(rest, element) if rest else element()
        self.scope = outer
        if tests:
            made = f"{tests}?{made if rest else f'[{made}]'}:[]"
        way = "flatMap" if rest or tests else "map"
        return f"$.iter({several}).{way}(({each})=>{made})"

    def text(self, values: Sequence[ast.expr]) -> str:
        """Return an f-string as a template."""
        parts = []
        for value in values:
            match value:
                case ast.Constant(value=str() as plain):
                    shown = json.dumps(plain)[1:-1].replace('\\"', '"')
                    parts.append(shown.replace("`", "\\`").replace("${", "\\${"))
                case ast.FormattedValue(value=inner, conversion=conversion, format_spec=spec):
                    shown = self.expr(inner)
                    if conversion == ord("r"):
                        shown = f"$.repr({shown})"
                    elif isinstance(spec, ast.JoinedStr):
                        shown = f"$.format({shown}, {self.text(spec.values)})"
                    else:
                        shown = f"$.str({shown})"
                    parts.append(f"${{{shown}}}")
        return f"`{''.join(parts)}`"

    def binary(self, left: ast.expr, op: ast.operator, right: ast.expr) -> str:
        """Return an operation; on plain numbers JavaScript's own."""
        one, other = self.expr(left), self.expr(right)
        sure = _is_number(left) or _is_number(right)
        if isinstance(op, ast.Mult):  # a whole number may meet a fraction or a list
            sure = any("." in each for each in (one, other) if _is_number_text(each))
        sign = _ARITHMETIC.get(type(op))
        if sign and (sure or isinstance(op, ast.Div | ast.Pow)):
            return f"({one}{sign}{other})"
        if type(op) not in _CALLED:
            raise self.unknown(left)
        return f"$.{_CALLED[type(op)]}({one},{other})"

    def compare(self, node: ast.Compare) -> str:
        """Return comparisons, a chain of them joined."""
        terms = [node.left, *node.comparators]
        parts = []
        for left, op, right in zip(terms, node.ops, terms[1:], strict=False):
            one, other = self.expr(left), self.expr(right)
            none = isinstance(right, ast.Constant) and right.value is None
            match op:
                case ast.Is():
                    parts.append(f"{one}==null" if none else f"{one}==={other}")
                case ast.IsNot():
                    parts.append(f"{one}!=null" if none else f"{one}!=={other}")
                case ast.Eq():
                    parts.append(f"$.eq({one},{other})")
                case ast.NotEq():
                    parts.append(f"!$.eq({one},{other})")
                case ast.In():
                    parts.append(f"$.holds({other},{one})")
                case ast.NotIn():
                    parts.append(f"!$.holds({other},{one})")
                case _:
                    sign = _ORDER[type(op)]
                    plain = _is_number(left) or _is_number(right)
                    shown = f"{one}{sign}{other}"
                    parts.append(shown if plain else f'$.order({one},"{sign}",{other})')
        return f"({'&&'.join(parts)})"

    def store(self, target: ast.expr, value: str) -> str:
        """Return an assignment."""
        match target:
            case ast.Name(id=name):
                return f"{self.local(name)}={value}"
            case ast.Attribute(value=owner, attr=attr):
                return f"{self.expr(owner)}.{self.writer.property(attr)}={value}"
            case ast.Subscript(value=owner, slice=key):
                return f"$.put({self.expr(owner)},{self.expr(key)},{value})"
            case ast.Tuple(elts=elts):
                return f"[{','.join(self.pattern(each) for each in elts)}]=$.iter({value})"
        raise self.unknown(target)

    def pattern(self, target: ast.expr) -> str:
        """Return a target inside a tuple of targets."""
        match target:
            case ast.Name(id=name):
                return self.local(name)
            case ast.Attribute():
                return self.expr(target)
            case ast.Starred(value=ast.Name(id=name)):
                return f"...{self.local(name)}"
            case ast.Tuple(elts=elts):
                return f"[{','.join(self.pattern(each) for each in elts)}]"
        raise self.unknown(target)


def _is_number(node: ast.expr) -> bool:
    if isinstance(node, ast.UnaryOp):
        return _is_number(node.operand)
    return isinstance(node, ast.Constant) and type(node.value) in (int, float)


def _is_number_text(text: str) -> bool:
    return text.replace(".", "", 1).isdigit()


def _is_test(node: ast.expr) -> bool:
    """Whether an expression is true or false in both languages alike."""
    match node:
        case ast.Compare() | ast.Constant(value=bool()) | ast.UnaryOp(op=ast.Not()):
            return True
        case ast.BoolOp(values=values):
            return all(_is_test(each) for each in values)
        case ast.Call(func=ast.Name(id=name)) | ast.Call(func=ast.Attribute(attr=name)):
            return name in _SAFE
    return False
