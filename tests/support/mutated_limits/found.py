"""
Which numbers of the core are limits: found in the syntax tree, wherever one stands and whatever it is called.

A limit is
- a number, or each number of a tuple or table of at most `MOST_IN_A_TABLE`, that a module names in capitals;
- the default of a field of a class (limits, uncertainties and times of an edition are such), or of a parameter;
- what a call gives to such a field by its name: the shipped editions differ by that;
- a literal that a comparison compares with.
No limits are longer tables (corners of texture triangles, schedules), coefficients in formulas, 0 and 1 of a comparison
or a parameter, a field that is 0 (nothing, until an edition says otherwise), factors of units, differences below 1e-6
that stand for equal, and what `NO_LIMITS` names with the reason.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

MOST_IN_A_TABLE = 8
EQUAL_WITHIN = 1e-6
UNITS = {0, 1, 2, 0.5, 10, 60, 100, 1000, 3600}
"""Factors within a comparison that turn units, halve or double."""
NO_LIMITS = {
    "SEED": "any number serves",
    "KEPT_BLOCKS": "memory against time, the same figures",
    "BLOCK_DRAWS": "memory against time, the same figures",
    "NEARLY_NONE": "which of two ways is faster, the same figures",
    "STEPS": "iterations; the figures stand still before the last",
}
"""Name -> why another value of it would be no fault."""
CAPITALS = re.compile(r"_?[A-Z][A-Z0-9_]*")


@dataclass(frozen=True)
class Limit:
    """One number in one module."""

    path: Path
    name: str
    """Such as BELIEVABLE_S[0], QualityLimits.rise_warn_sd, _names: 100 in edition.draws < 100."""
    value: float
    at: tuple[int, int, int, int]
    """First line, first byte, last line, byte after the last; lines from 1, as the syntax tree has them."""
    known_as: str
    """Name by which functions read it; '' for a literal, which only its own function reads."""
    function: str
    """Qualified name of the function that holds it; '' for none."""
    pair: tuple[float, float] | None = None
    """The two ends, where it is one of a rising pair."""

    @property
    def line(self) -> int:
        return self.at[0]

    def moved(self) -> tuple[float, float]:
        """
        What it is mutated to, downwards and upwards.

        Two thirds and three halves of itself, but a count up to 10 moves by 1, what lies between 1 and 1.5 is a factor
        and moves in what it has beyond 1, and the end of a pair never moves by more than a quarter of the span.
        """
        value = self.value
        if isinstance(value, int):
            return (value - 1, value + 1) if abs(value) <= 10 else (round(value / 1.5), round(value * 1.5))
        if 1.0 < value < 1.5 and self.pair is None:
            return 1.0 + (value - 1.0) / 1.5, 1.0 + (value - 1.0) * 1.5
        low, high = sorted((value / 1.5, value * 1.5))
        if self.pair is not None:
            most = (self.pair[1] - self.pair[0]) / 4.0
            low, high = (low, high) if value else (-most, most)
            low, high = max(low, value - most), min(high, value + most)
        return round(low, 12), round(high, 12)

    def mutated(self, source: bytes, value: float) -> bytes:
        """The module's source with this number in its place."""
        lines = source.splitlines(keepends=True)
        first, start, last, end = self.at
        before, after = lines[first - 1][:start], lines[last - 1][end:]
        return b"".join([*lines[: first - 1], before + repr(value).encode() + after, *lines[last:]])


def number(node: ast.AST) -> float | None:
    """What a node of numbers only comes to, such as 30 * 86_400.0; None for anything else."""
    if isinstance(node, ast.Constant):
        return node.value if type(node.value) in (int, float) else None
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        inner = number(node.operand)
        return None if inner is None else -inner
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Mult | ast.Div):
        left, right = number(node.left), number(node.right)
        if left is not None and right is not None:
            return left * right if isinstance(node.op, ast.Mult) else left / right
    return None


def _numbers(node: ast.expr, suffix: str = "") -> Iterator[tuple[str, ast.expr, tuple[float, float] | None]]:
    """Each number of a value, with its place in it and the pair it belongs to."""
    if number(node) is not None:
        yield suffix, node, None
    elif isinstance(node, ast.Tuple):
        ends = [number(each) for each in node.elts]
        low, high = ends if len(ends) == 2 else (None, None)
        pair = (low, high) if low is not None and high is not None and low < high else None
        for k, each in enumerate(node.elts):
            for name, found, of in _numbers(each, f"{suffix}[{k}]"):
                yield name, found, of or pair
    elif isinstance(node, ast.Dict):
        for key, each in zip(node.keys, node.values, strict=True):
            yield from _numbers(each, f"{suffix}[{ast.unparse(key) if key else ''}]")
    elif isinstance(node, ast.Call) and ast.unparse(node.func) in ("field", "MappingProxyType"):
        for each in (*node.args, *(k.value for k in node.keywords if k.arg == "default")):
            yield from _numbers(each, suffix)
    elif isinstance(node, ast.Call):
        # A value made from numbers, such as Possible(5.0, 200.0, "g").
        yield from _numbers(ast.Tuple([each for each in node.args if number(each) is not None]), suffix)


class _Finder(ast.NodeVisitor):
    """Walks one module."""

    def __init__(self, path: Path, fields: set[str]) -> None:
        self.path, self.fields = path, fields
        self.scopes: list[ast.ClassDef | ast.FunctionDef] = []
        self.found: list[Limit] = []

    def _keep(self, name: str, value: ast.expr, known_as: str, never: tuple[float, ...] = ()) -> None:
        numbers = list(_numbers(value))
        if len(numbers) > MOST_IN_A_TABLE or name in NO_LIMITS:
            return
        for place, node, pair in numbers:
            one = number(node)
            assert one is not None
            assert node.end_lineno is not None
            assert node.end_col_offset is not None
            if pair is None and (one in never or 0.0 < abs(one) <= EQUAL_WITHIN):
                continue
            at = (node.lineno, node.col_offset, node.end_lineno, node.end_col_offset)
            self.found.append(
                Limit(self.path, name + place, one, at, known_as, function_of(self.scopes), pair)
            )

    def _named(self, name: str) -> str:
        return ".".join([*(scope.name for scope in self.scopes), name])

    def _assigned(self, target: ast.expr, value: ast.expr | None) -> None:
        if value is None or not isinstance(target, ast.Name):
            return
        if self.scopes and isinstance(self.scopes[-1], ast.ClassDef):
            self._keep(self._named(target.id), value, target.id, never=(0,))
        elif not self.scopes and CAPITALS.fullmatch(target.id):
            self._keep(target.id, value, target.id)

    def visit_Assign(self, node: ast.Assign) -> None:
        self._assigned(node.targets[0], node.value)
        self.generic_visit(node)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        self._assigned(node.target, node.value)
        self.generic_visit(node)

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        self.scopes.append(node)
        self.generic_visit(node)
        self.scopes.pop()

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        self.scopes.append(node)
        spelled = [*node.args.posonlyargs, *node.args.args]
        given = [
            *zip(spelled[len(spelled) - len(node.args.defaults) :], node.args.defaults, strict=True),
            *zip(node.args.kwonlyargs, node.args.kw_defaults, strict=True),
        ]
        for argument, default in given:
            if default is not None:
                self._keep(self._named(argument.arg), default, "", never=(0, 1))
        self.generic_visit(node)
        self.scopes.pop()

    def visit_Call(self, node: ast.Call) -> None:
        for keyword in node.keywords:
            if keyword.arg in self.fields and not isinstance(keyword.value, ast.Tuple):
                self._keep(self._named(f"{keyword.arg}="), keyword.value, keyword.arg, never=(0,))
        self.generic_visit(node)

    def visit_Compare(self, node: ast.Compare) -> None:
        for operand in (node.left, *node.comparators):
            for factor in _factors(operand, whole=True):
                self._keep(
                    f"{self._named('')[:-1]}: {ast.unparse(factor)} in {ast.unparse(node)}", factor, ""
                )
        self.generic_visit(node)


def _factors(node: ast.expr, *, whole: bool) -> Iterator[ast.expr]:
    """The literals of one side of a comparison, the numbers of units left out."""
    value = number(node)
    if value is not None:
        if value not in ((0, 1) if whole else UNITS):
            yield node
    elif isinstance(node, ast.BinOp):
        yield from _factors(node.left, whole=False)
        yield from _factors(node.right, whole=False)
    elif isinstance(node, ast.Call) and ast.unparse(node.func) in ("min", "max"):
        for each in node.args:
            yield from _factors(each, whole=True)


def function_of(scopes: list[ast.ClassDef | ast.FunctionDef]) -> str:
    """The outermost function of these scopes, with the class it is in; '' outside of functions."""
    names: list[str] = []
    for scope in scopes:
        names.append(scope.name)
        if isinstance(scope, ast.FunctionDef):
            return ".".join(names)
    return ""


def limits_of(package: Path) -> list[Limit]:
    """Every limit of a package, in order of files and lines."""
    trees = {path: ast.parse(path.read_bytes()) for path in sorted(package.rglob("*.py"))}
    fields = {
        each.target.id
        for tree in trees.values()
        for node in ast.walk(tree)
        if isinstance(node, ast.ClassDef)
        for each in node.body
        if isinstance(each, ast.AnnAssign) and isinstance(each.target, ast.Name)
    }
    found: list[Limit] = []
    for path, tree in trees.items():
        finder = _Finder(path, fields)
        finder.visit(tree)
        found += sorted(finder.found, key=lambda limit: limit.at)
    return found
