"""Every mutant of a source file, named by the line that it changes."""

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from difflib import SequenceMatcher
from pathlib import Path
from typing import Any

from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import mutate_code
from operators import operators, orders_words


@dataclass(frozen=True, order=True)
class Name:
    """A mutant in words that last when lines move: where it is, the line, what it becomes."""

    file: str
    where: str
    line: str
    mutant: str


@dataclass(frozen=True)
class Mutant:
    name: Name
    at: int
    source: str


def mutants(file: str, root: Path) -> list[Mutant]:
    """All mutants of a file, in the order of its lines, none twice."""
    source = (root / file).read_text(encoding="utf-8")
    places = _places(source)
    found: dict[str, Mutant] = {}
    for operator, nth in _changes(source):
        changed = mutate_code(source, operator, nth)
        if _is_new(source, changed) and changed not in found:
            at, line, mutant = _difference(source, changed)
            found[changed] = Mutant(Name(file, places.get(at, ""), line, mutant), at, changed)
    return sorted(found.values(), key=lambda m: (m.at, m.name))


def _changes(source: str) -> Iterator[tuple[Any, int]]:
    """An operator and which of its changes, left out those of types and decorators."""
    for operator in operators():
        nth = 0
        for node in ast_nodes(get_ast(source)):
            for _ in operator.mutation_positions(node):
                if not _is_type(node) and not orders_words(operator, node):
                    yield operator, nth
                nth += 1


def _is_type(node: Any) -> bool:
    """Whether it is part of a type, of a decorator or a class's options, or of what is asserted for
    the type checker."""
    while (parent := node.parent) is not None:
        match parent.type:
            case "decorator" | "assert_stmt" | "parameters":  # the bare * of a signature
                return True
            case "classdef" if node is not parent.children[-1]:
                return True
            case "annassign" if node is parent.children[1]:
                return True
            case "tfpdef" if node is parent.children[2]:
                return True
            case "funcdef" if node is parent.annotation:
                return True
        node = parent
    return False


def _is_new(source: str, changed: str) -> bool:
    """Whether it is another program, and one at all."""
    try:
        return ast.dump(ast.parse(changed)) != ast.dump(ast.parse(source))
    except SyntaxError:
        return False


def _difference(source: str, changed: str) -> tuple[int, str, str]:
    old, new = source.splitlines(), changed.splitlines()
    blocks = [b for b in SequenceMatcher(None, old, new, False).get_opcodes() if b[0] != "equal"]
    begin, end = blocks[0][1], blocks[-1][2]
    more = len(new) - len(old)
    return begin + 1, _words(old[begin:end]), _words(new[blocks[0][3] : end + more])


def _words(lines: list[str]) -> str:
    return " ".join(" ".join(lines).split())


def _places(source: str) -> dict[int, str]:
    """Line number -> the function or class that it is in."""
    places: dict[int, str] = {}

    def enter(node: ast.AST, path: str) -> None:
        for child in ast.iter_child_nodes(node):
            inner = path
            if isinstance(child, ast.FunctionDef | ast.ClassDef):
                inner = f"{path}.{child.name}" if path else child.name
                lines = range(child.lineno, (child.end_lineno or child.lineno) + 1)
                places.update(dict.fromkeys(lines, inner))
            enter(child, inner)

    enter(ast.parse(source), "")
    return places
