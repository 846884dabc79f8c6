"""Damage to a plan, wherever the chance takes it: what the checker must find.

A damage changes the document and says whether it could: some need a drop, or a jointed run.
"""

from __future__ import annotations

import copy
import random
from collections.abc import Callable
from decimal import Decimal

from tests.plan.hand_made import Document

__all__ = ["DAMAGES", "Damage"]

Chance = random.Random
Damage = Callable[[Document, Chance], bool]


def layouts(plan: Document) -> list[Document]:
    return [one for entry in plan["materials"] for one in entry["layouts"]]


def a_layout(plan: Document, chance: Chance) -> Document:
    return chance.choice(layouts(plan))


def a_part(plan: Document, chance: Chance) -> Document:
    return chance.choice(a_layout(plan, chance)["parts"])


def shifted(plan: Document, chance: Chance) -> bool:
    # By more than two kerfs: less can vanish in what a blade leaves at the end.
    a_part(plan, chance)["x"] += chance.choice((1, -1, 7))
    return True


def longer(plan: Document, chance: Chance) -> bool:
    a_part(plan, chance)["length"] += Decimal("0.0625")
    return True


def gone(plan: Document, chance: Chance) -> bool:
    a_layout(plan, chance)["parts"].pop()
    return True


def twice(plan: Document, chance: Chance) -> bool:
    parts = a_layout(plan, chance)["parts"]
    parts.append(copy.deepcopy(parts[0]))
    return True


def once_more(plan: Document, chance: Chance) -> bool:
    a_layout(plan, chance)["count"] += 1
    return True


def renamed(plan: Document, chance: Chance) -> bool:
    a_part(plan, chance)["mark"] += "-X"
    return True


def moved(plan: Document, chance: Chance) -> bool:
    a_part(plan, chance)["section"] = "Somewhere"
    return True


def turned(plan: Document, chance: Chance) -> bool:
    part = a_part(plan, chance)
    part["turned"] = not part["turned"]
    return part["length"] != part["width"]


def other_row(plan: Document, chance: Chance) -> bool:
    stock = a_layout(plan, chance)["stock"]
    stock["row"] += 1
    return True


def wrong_source(plan: Document, chance: Chance) -> bool:
    """Bought stock said to lie in the yard, in a number that no yard holds."""
    one = a_layout(plan, chance)
    one["stock"]["source"] = "on-hand"
    one["count"] += 1_000_000
    return True


def kept_flipped(plan: Document, chance: Chance) -> bool:
    drops = a_layout(plan, chance)["drops"]
    for drop in drops[:1]:
        drop["kept"] = not drop["kept"]
    return bool(drops)


def drop_gone(plan: Document, chance: Chance) -> bool:
    drops = a_layout(plan, chance)["drops"]
    return bool(drops and drops.pop())


def drop_longer(plan: Document, chance: Chance) -> bool:
    drops = a_layout(plan, chance)["drops"]
    for drop in drops[:1]:
        drop["length"] += 1
    return bool(drops)


def pattern_taken(plan: Document, chance: Chance) -> bool:
    one, other = a_layout(plan, chance), a_layout(plan, chance)
    was, one["pattern"] = one["pattern"], other["pattern"]
    return bool(was != other["pattern"])


def layout_gone(plan: Document, chance: Chance) -> bool:
    entry = chance.choice([m for m in plan["materials"] if m["layouts"]])
    entry["layouts"].pop(chance.randrange(len(entry["layouts"])))
    return True


def cost_lower(plan: Document, chance: Chance) -> bool:
    entry = chance.choice(plan["materials"])
    for key in ("cost", "objective"):
        entry[key] -= Decimal("0.01")
    return True


def bound_higher(plan: Document, chance: Chance) -> bool:
    entry = chance.choice(plan["materials"])
    entry["bound"] = entry["objective"] + Decimal("0.000001")
    return True


def run_moved(plan: Document, chance: Chance) -> bool:
    pieces = [p for one in layouts(plan) for p in one["parts"] if p["run"] is not None]
    for piece in pieces and [chance.choice(pieces)]:
        piece["run_at"] += 16
    return bool(pieces)


def run_renamed(plan: Document, chance: Chance) -> bool:
    pieces = [p for one in layouts(plan) for p in one["parts"] if p["run"] is not None]
    for piece in pieces and [chance.choice(pieces)]:
        piece["run"] += "#9"
    return bool(pieces)


DAMAGES: tuple[Damage, ...] = (
    shifted,
    longer,
    gone,
    twice,
    once_more,
    renamed,
    moved,
    turned,
    other_row,
    wrong_source,
    kept_flipped,
    drop_gone,
    drop_longer,
    pattern_taken,
    layout_gone,
    cost_lower,
    bound_higher,
    run_moved,
    run_renamed,
)
