"""The changes that are tried: cosmic-ray's own operators, and some that this code needs."""

from collections.abc import Iterator
from typing import Any

import parso
from cosmic_ray.ast import ast_nodes
from cosmic_ray.operators.boolean_replacer import AddNot
from cosmic_ray.operators.operator import Example, Operator
from cosmic_ray.operators.provider import OperatorProvider

_ARITHMETIC = ("Add_Sub", "Sub_Add", "Mul_Div", "Div_Mul", "FloorDiv_Div", "Pow_Mul")
_SETS = ("BitOr_BitAnd", "BitAnd_BitOr")
_RELATIONS = ("Eq", "NotEq", "Lt", "LtE", "Gt", "GtE")

_CORE = (
    *(f"ReplaceBinaryOperator_{change}" for change in (*_ARITHMETIC, *_SETS)),
    *(f"ReplaceComparisonOperator_{a}_{b}" for a in _RELATIONS for b in _RELATIONS if a != b),
    "ReplaceComparisonOperator_Is_IsNot",
    "ReplaceComparisonOperator_IsNot_Is",
    "ReplaceUnaryOperator_Delete_USub",
    "ReplaceUnaryOperator_Delete_Not",
    "ReplaceTrueWithFalse",
    "ReplaceFalseWithTrue",
    "ReplaceAndWithOr",
    "ReplaceOrWithAnd",
    "ReplaceBreakWithContinue",
    "ReplaceContinueWithBreak",
    "NumberReplacer",
    "ZeroIterationForLoop",
)
"""Left out: other arithmetic (a fraction has no `<<`: its `TypeError` would be an easy kill), `is`
for `==` (the same for the words that are compared here), taking off decorators, and the replacer of
exceptions, which fails on a dotted name."""


class OtherSide(Operator):
    """The least for the most, rounded down for rounded up, all for any."""

    _OTHER = ("min", "max"), ("ceil", "floor"), ("any", "all"), ("ROUND_CEILING", "ROUND_FLOOR")
    _SWAP = {a: b for pair in _OTHER for a, b in (pair, pair[::-1])}  # noqa: RUF012

    def mutation_positions(self, node: Any) -> Iterator[Any]:
        if node.type == "name" and node.value in self._SWAP and node.parent.type != "import_from":
            yield node.start_pos, node.end_pos

    def mutate(self, node: Any, index: int) -> Any:
        node.value = _WHERE_FROM.get(self._SWAP[node.value], self._SWAP[node.value])
        return node

    @classmethod
    def examples(cls) -> tuple[Example, ...]:
        return (Example("min(a, b)", "max(a, b)"),)


_WHERE_FROM = {
    name: f'__import__("{module}").{name}'
    for module, name in (("math", "ceil"), ("math", "floor"), ("decimal", "ROUND_FLOOR"))
}
"""A mutant may use what its file does not import."""


class LeaveOut(Operator):
    """A statement that does something, left out. Where a name is first given its value that would
    be no more than a name without value, so those are left alone."""

    def mutation_positions(self, node: Any) -> Iterator[Any]:
        if node.parent is not None and node.parent.type == "simple_stmt" and _does(node):
            yield node.start_pos, node.end_pos

    def mutate(self, node: Any, index: int) -> Any:
        return parso.parse(node.get_first_leaf().prefix + "pass")

    @classmethod
    def examples(cls) -> tuple[Example, ...]:
        return (Example("x.y = 1", "pass"),)


def _does(node: Any) -> bool:
    if node.type == "atom_expr":
        return True  # a call
    if node.type != "expr_stmt":
        return False
    function = parso.tree.search_ancestor(node, "funcdef")
    target = node.children[0]
    if function is None or function.name.value == "__init__":
        return False
    if target.type != "name":
        return target.type == "atom_expr"
    begin = function.children[2].start_pos
    return any(
        begin <= leaf.start_pos < target.start_pos and leaf.value == target.value
        for leaf in ast_nodes(function)
        if leaf.type == "name"
    )


class Not(AddNot):
    """The opposite of a condition; of a comparison the relations are tried already."""

    def mutation_positions(self, node: Any) -> Iterator[Any]:
        for begin, end in super().mutation_positions(node):
            condition = node.children[2 if node.type == "test" else 1]
            if condition.type not in ("comparison", "not_test"):
                yield begin, end


class OtherFigure(Operator):
    """The last digit of an exact figure, `Decimal("0.41")`, one higher."""

    def mutation_positions(self, node: Any) -> Iterator[Any]:
        if node.type == "string" and _is_figure(node):
            yield node.start_pos, node.end_pos

    def mutate(self, node: Any, index: int) -> Any:
        last = node.value[-2]
        node.value = f'{node.value[:-2]}{(int(last) + 1) % 10}"'
        return node

    @classmethod
    def examples(cls) -> tuple[Example, ...]:
        return (Example('Decimal("0.41")', 'Decimal("0.42")'),)


def _is_figure(node: Any) -> bool:
    called = node.parent.get_previous_sibling() if node.parent.type == "trailer" else None
    return called is not None and called.get_code().strip() in ("Decimal", "Fraction")


def orders_words(operator: Any, node: Any) -> bool:
    """Whether it asks for the order of words that are only the same or not."""
    relation = type(operator).__name__.rpartition("_")[2]
    return (
        relation in ("Lt", "LtE", "Gt", "GtE")
        and node.type == "comparison"
        and any(child.type == "string" for child in node.children)
    )


def operators() -> list[Any]:
    """One of each."""
    core = OperatorProvider()
    return [*(core[name]() for name in _CORE), OtherSide(), LeaveOut(), Not(), OtherFigure()]
