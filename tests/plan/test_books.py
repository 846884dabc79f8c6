"""Books of sheets and stacks of sticks in a plan: told as the rules lay them, checked."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cutopt.materials import Rules
from cutopt.plan.check import check_plan
from tests.plan.hand_made import Document, day, document


def _stacked(stack: int) -> tuple[object, Document]:
    """The hand-made day with sheets cut so many at once, and its plan that says so.

    Of OSB two layouts of one sheet each share no pattern; each set-up takes a book.
    """
    first = day()
    rules: Rules = replace(first.rules, sheets=replace(first.rules.sheets, stack=stack))
    plan = document()
    for material in plan["materials"]:
        if material["material"] == "OSB":
            patterns: dict[str, int] = {}
            for layout in material["layouts"]:
                patterns[layout["pattern"]] = patterns.get(layout["pattern"], 0) + layout["count"]
            material["stack"] = stack
            material["books"] = sum(-(-n // stack) for n in patterns.values())
    return replace(first, rules=rules), plan


def test_a_plan_in_books_checks() -> None:
    shop, plan = _stacked(3)
    assert check_plan([shop], plan) == []  # type: ignore[list-item]


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("stack", 2, "stack is 2, the rules say 3"),
        ("books", 9, "books is 9, its patterns take"),
        ("books", None, "books"),
    ],
)
def test_wrong_books_are_found(key: str, value: object, words: str) -> None:
    shop, plan = _stacked(3)
    for material in plan["materials"]:
        if material["material"] == "OSB":
            material[key] = value
            if value is None:
                del material[key]
    assert any(words in fault for fault in check_plan([shop], plan))  # type: ignore[list-item]


def test_books_without_a_stack_are_found() -> None:
    plan = document()
    plan["materials"][0]["books"] = 3
    assert any("books is 3" in fault for fault in check_plan([day()], plan))
