"""What the model answers is asked of it: no second copy of its rules stands elsewhere in the program."""

from __future__ import annotations

import ast
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path

import pytest

import picklist
from picklist.model.uses import Act

ROOT = Path(picklist.__file__).parent
ACTS = {act.value for act in (Act.OUT_OF_ROOM, Act.INTO_DECONTAMINATION)}
COMPREHENSIONS = (ast.ListComp, ast.SetComp, ast.GeneratorExp)
KINDS = (ast.Tuple, ast.List, ast.Set, *COMPREHENSIONS, ast.BoolOp, ast.Constant, ast.Compare)


def attributes(node: ast.AST) -> set[str]:
    """The last names of what a tuple, list or set literal holds, as PLANNED of CaseStatus.PLANNED."""
    found = set()
    for part in node.elts if isinstance(node, ast.Tuple | ast.List | ast.Set) else ():
        value = part.value if isinstance(part, ast.Starred) else part
        if isinstance(value, ast.Attribute):
            found.add(value.attr)
    return found


def says_live(node: ast.AST) -> bool:
    return attributes(node) >= {"PLANNED", "RUNNING"}


def says_one_side(node: ast.AST) -> bool:
    return attributes(node) >= {"LEFT", "RIGHT"}


def joins_the_goods(node: ast.AST) -> bool:
    return attributes(node) >= {"sundries", "peel_packs", "people"}


def joins_the_cases_of_a_conflict(node: ast.AST) -> bool:
    return attributes(node) >= {"waiter", "givers"} and isinstance(node, ast.Set)


def flattens_a_plan(node: ast.AST) -> bool:
    """``for cluster in plan.clusters for one in cluster.conflicts``, where the cluster itself is not asked for."""
    if not isinstance(node, COMPREHENSIONS) or len(node.generators) != 2:
        return False
    outer, inner = node.generators
    over = isinstance(inner.iter, ast.Attribute) and inner.iter.attr == "conflicts"
    plan = isinstance(outer.iter, ast.Attribute) and outer.iter.attr == "clusters"
    named = ast.unparse(outer.target)
    asked = any(isinstance(part, ast.Name) and part.id == named for part in ast.walk(node.elt))
    return over and plan and not asked and "plan" in ast.unparse(outer.iter)


def says_short(node: ast.AST) -> bool:
    if not isinstance(node, ast.BoolOp):
        return False
    return {part.attr for part in node.values if isinstance(part, ast.Attribute)} >= {"short_open", "short_hold"}


def names_an_act(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and node.value in ACTS


def reads_latex_in_a_word(node: ast.AST) -> bool:
    return (
        isinstance(node, ast.Compare)
        and isinstance(node.ops[0], ast.In)
        and isinstance(node.left, ast.Constant | ast.Name)
        and ast.unparse(node.left).strip("'\"").casefold() == "latex"
    )


def finds_a_cart(node: ast.AST) -> bool:
    """``next(cart for cart in plan.carts if cart.case.number == case)``, as a list or set as well."""
    if not isinstance(node, COMPREHENSIONS):
        return False
    asked = [ast.unparse(one) for part in node.generators for one in part.ifs if isinstance(one, ast.Compare)]
    return any(".carts" in ast.unparse(part.iter) for part in node.generators) and any(
        ".case.number ==" in one for one in asked
    )


def orders_by_decision(node: ast.AST) -> bool:
    """A key that puts conflicts without a moment to decide last."""
    return isinstance(node, ast.Tuple) and any(
        isinstance(part, ast.Compare) and ast.unparse(part).endswith("decide_by is None") for part in node.elts
    )


RULES: dict[str, Callable[[ast.AST], bool]] = {
    "case.is_live": says_live,
    "ONE_SIDE or SIDED": says_one_side,
    "cart.goods or cart.loose_goods": joins_the_goods,
    "conflict.cases": joins_the_cases_of_a_conflict,
    "plan.conflicts": flattens_a_plan,
    "line.is_short": says_short,
    "plan.cart": finds_a_cart,
    "conflict.urgency": orders_by_decision,
    "Act": names_an_act,
    "speaks_of_latex or case.latex_alert": reads_latex_in_a_word,
}


@cache
def nodes(path: Path) -> tuple[ast.AST, ...]:
    """What a module holds of the kinds that a rule could stand in, read once for all rules."""
    found = ast.walk(ast.parse(path.read_text(encoding="utf-8")))
    return tuple(node for node in found if isinstance(node, KINDS))


def places(rule: Callable[[ast.AST], bool], folder: Path) -> Iterator[str]:
    for path in sorted(folder.rglob("*.py")):
        for node in nodes(path):
            if rule(node):
                yield f"{path.relative_to(ROOT)}:{getattr(node, 'lineno', '?')}"


def test_a_rule_of_the_trade_stands_in_the_model_alone() -> None:
    """All rules in one test, since most of its time goes into reading the modules."""
    elsewhere = {
        f"ask the model: {answer}": [place for place in places(rule, ROOT) if not place.startswith("model")]
        for answer, rule in RULES.items()
    }
    assert not {ask: found for ask, found in elsewhere.items() if found}


COPIES = {
    "case.is_live": "case.status in (CaseStatus.PLANNED, CaseStatus.RUNNING)",
    "ONE_SIDE or SIDED": "side in {Side.LEFT, Side.RIGHT, Side.BOTH}",
    "cart.goods or cart.loose_goods": "(*cart.packs, *cart.sundries, *cart.peel_packs, *cart.people)",
    "conflict.cases": "{conflict.waiter, *conflict.givers}",
    "plan.conflicts": "[one for cluster in plan.clusters for one in cluster.conflicts]",
    "line.is_short": "line.short_open or line.short_hold",
    "plan.cart": "next(c for c in plan.carts if c.case.number == case)",
    "conflict.urgency": "sorted(conflicts, key=lambda one: (one.decide_by is None, one.decide_by or now, one.id))",
    "Act": "deadline.act == 'out of the room'",
    "speaks_of_latex or case.latex_alert": "'latex' in alert",
}


@pytest.mark.parametrize("answer", RULES)
def test_a_copy_of_a_rule_would_be_found(answer: str) -> None:
    assert any(RULES[answer](node) for node in ast.walk(ast.parse(COPIES[answer])) if isinstance(node, KINDS))
