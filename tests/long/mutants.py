"""Small faults put into a module on purpose, one at a time: what the tests ought to notice.

A mutant is one edit of the syntax tree: another arithmetic or comparison operator, a constant 1 % off (an integer one
more, 0 to 1), a condition turned round, a sign lost, the first two arguments of a call exchanged, the two sides of a
choice exchanged, nothing returned. Texts, annotations, text inside f-strings and the guard `strict` of `zip` are left
alone.
"""

from __future__ import annotations

import ast
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}
COMPARISONS: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
}
EITHER_WAY = ("max", "min", "maximum", "minimum", "isclose", "array_equal", "dot", "logaddexp", "hypot")
"""Functions whose first two arguments may be exchanged."""
ANNOTATIONS = ("annotation", "returns", "type_comment", "decorator_list")
"""Fields of the syntax tree whose contents calculate nothing."""


@dataclass(frozen=True)
class Mutant:
    """One edit of one module: the how-manieth node of the tree, and what stands there before and after."""

    path: str
    node: int
    line: int
    function: str
    before: str
    after: str
    nth: int
    text: str = ""
    """The whole function as it stands."""

    @property
    def key(self) -> str:
        """The mutant in words that outlive a shift of lines."""
        return f"{self.path}::{self.function} [{self.nth}] {self.before} -> {self.after}"


def mutants_of(path: Path, root: Path) -> list[Mutant]:
    """Every mutant of a module, in the order of its syntax tree."""
    source = path.read_text(encoding="utf-8")
    places = dict(_calculating(ast.parse(source)))
    whole = {node.name: ast.unparse(node) for node in ast.walk(ast.parse(source)) if isinstance(node, ast.FunctionDef)}
    name, found, seen = path.relative_to(root).as_posix(), [], Counter[tuple[str, str, str]]()
    for index, node in enumerate(ast.walk(ast.parse(source))):
        if index not in places:
            continue
        before = ast.unparse(node)
        if not edit(node):
            continue
        asked = (places[index], _short(before), _short(ast.unparse(node)))
        seen[asked] += 1
        text = whole.get(places[index], "")
        found.append(Mutant(name, index, node.lineno, *asked, seen[asked], text))  # type: ignore[attr-defined]
    return found


def mutated(source: str, mutant: Mutant) -> ast.Module:
    """The module with the one edit made."""
    tree = ast.parse(source)
    for index, node in enumerate(ast.walk(tree)):
        if index == mutant.node:
            assert edit(node)
            break
    return ast.fix_missing_locations(tree)


def edit(node: ast.AST) -> bool:
    """Change the node in place; False where nothing at it is to be changed."""
    match node:
        case ast.BinOp() | ast.AugAssign() if type(node.op) in ARITHMETIC:
            node.op = ARITHMETIC[type(node.op)]()
        case ast.Compare():
            node.ops[0] = COMPARISONS[type(node.ops[0])]()
        case ast.BoolOp():
            node.op = ast.And() if isinstance(node.op, ast.Or) else ast.Or()
        case ast.UnaryOp(op=ast.USub()):
            node.op = ast.UAdd()
        case ast.UnaryOp(op=ast.Not()) | ast.UnaryOp(op=ast.Invert()):
            node.operand = ast.UnaryOp(node.op, node.operand)
        case ast.Constant(value=bool()):
            node.value = not node.value
        case ast.Constant(value=int()):
            node.value += 1
        case ast.Constant(value=float()):
            node.value = node.value * 1.01 if node.value else 1.0
        case ast.Call() if len(node.args) > 1 and _exchangeable(node):
            node.args[:2] = node.args[1::-1]
        case ast.IfExp():
            node.body, node.orelse = node.orelse, node.body
        case ast.If() | ast.While() if not isinstance(node.test, (ast.Compare, ast.BoolOp)):
            node.test = ast.UnaryOp(ast.Not(), node.test)
        case ast.Return() if node.value is not None and not isinstance(node.value, ast.Constant):
            node.value = ast.Constant(None)
        case _:
            return False
    return True


def _exchangeable(call: ast.Call) -> bool:
    """Whether the first two arguments of a call stand for different things."""
    name = ast.unparse(call.func).split(".")[-1]
    first, second = call.args[:2]
    starred = any(isinstance(one, ast.Starred) for one in (first, second))
    return name not in EITHER_WAY and not starred and ast.dump(first) != ast.dump(second)


def _calculating(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """Numbers of the nodes that calculate, in the order of `ast.walk`, each with its function."""
    numbers = {id(node): index for index, node in enumerate(ast.walk(tree))}
    waiting: list[tuple[ast.AST, str]] = [(tree, "module")]
    while waiting:
        node, function = waiting.pop()
        if isinstance(node, ast.JoinedStr | ast.Raise | ast.Import | ast.ImportFrom) or _guards(node):
            continue
        if isinstance(node, ast.FunctionDef):
            function = node.name
        yield numbers[id(node)], function
        for field, value in ast.iter_fields(node):
            if field not in ANNOTATIONS:
                below = value if isinstance(value, list) else [value]
                waiting.extend((one, function) for one in below if isinstance(one, ast.AST))


def _guards(node: ast.AST) -> bool:
    """Whether a node only guards against lists of unequal length: `strict` of `zip`."""
    return isinstance(node, ast.keyword) and node.arg == "strict"


def _short(text: str) -> str:
    """The first line of a text, not too long."""
    return text.splitlines()[0][:100]
