"""Random small days against exact models that share nothing with the solver.

The outside source is scipy's general-purpose integer solver on a plain assignment model; where
runs are jointed, and for a second opinion, everything is enumerated in fractions.
"""

from __future__ import annotations

import random
from fractions import Fraction

import pytest

from cutopt.cutlist import Day
from tests.solve.lumber.exact import assigned, enumerated
from tests.solve.lumber.making import CELL, Planned, day, offer, part, rules, solved

LENGTHS = (24, 36, 40, 48, 60, 72, 96)
PRICES = ("2", "2.5", "3", "3.75", "4", "5", "6", "7")


def random_rules(rng: random.Random):  # type: ignore[no-untyped-def]
    return rules(
        kerf=rng.choice((0, 0, 1, 2, 3)),
        trim=rng.choice((0, 0, 0, 1, 4)),
        keep=rng.choice((0, 6, 12, 20)),
        value=rng.choice(("0", "0", "0.5", "0.5", "1")),
        most=rng.choice((0, 0, 0, 2, 3)),
        joint_price=rng.choice(("0", "0.25", "1")),
        least=rng.choice((0, 0, 4, 8)),
    )


def random_offers(rng: random.Random, material: str, row: int, loose: bool):  # type: ignore[no-untyped-def]
    """Two or three lengths to buy and perhaps drops; the longest without limit where `loose`."""
    sizes = sorted(rng.sample(LENGTHS[1:], rng.randint(1, 3)))
    made = []
    for size in sizes:
        limit = rng.choice((None, None, 1, 2, 3))
        if loose and size == sizes[-1]:
            limit = None
        on_hand = rng.choice((0, 0, 0, 1, 2))
        made.append(offer(row + len(made), size, rng.choice(PRICES), on_hand, limit, material))
    for _ in range(rng.choice((0, 0, 1, 2))):
        size = rng.randint(12, 40)
        # Some plants book a drop at nothing.
        price = rng.choice(("0", *[str(size / 16)] * 3))
        made.append(offer(row + len(made), size, price, rng.randint(1, 2), 0, material))
    return made


def random_parts(rng: random.Random, most: int, longest: int, **more: object):  # type: ignore[no-untyped-def]
    made = []
    left = rng.randint(2, most)
    sizes = rng.sample(range(5, longest + 1), 5)
    while left > 0:
        qty = rng.randint(1, min(3, left))
        size = rng.choice(sizes)
        made.append(part(f"P{len(made)}", size, qty, **more))  # type: ignore[arg-type]
        left -= qty
    return made


def random_day(rng: random.Random, loose: bool = True, most: int = 9) -> Day:
    """Up to `most` pieces; in a third of the cases of two materials that may stand in."""
    two = rng.random() < 0.35
    offers = random_offers(rng, "2x4", 2, loose)
    if not two:
        return day(offers, random_parts(rng, most, offers_longest(offers)), random_rules(rng))
    others = random_offers(rng, "2x4-1", 2 + len(offers), loose)
    longest = min(offers_longest(offers), offers_longest(others))
    parts = random_parts(rng, 4, longest, alt=("2x4-1",))
    parts += random_parts(rng, 3, longest, section="B")
    if rng.random() < 0.5:
        parts += random_parts(rng, 2, longest, section="C", material="2x4-1")
    of = {"2x4-1": random_rules(rng)}
    return day([*offers, *others], parts, random_rules(rng), of)


def offers_longest(offers) -> int:  # type: ignore[no-untyped-def]
    # Head trim is at most four cells.
    return max(o.length for o in offers if o.available != 0) // CELL - 4


def never_wrong(planned: Planned, least: Fraction | None) -> None:
    """A plan against the least cost: never below, met where it says so, bound never above."""
    if least is None:
        assert planned.left_out
        return
    assert not planned.left_out, planned.reasons
    assert planned.bound <= least <= planned.objective
    if planned.optimal:
        assert planned.objective == least


@pytest.mark.parametrize("chunk", range(8))
def test_no_cost_below_and_no_bound_above_a_general_purpose_model(chunk: int) -> None:
    rng = random.Random(1000 + chunk)
    met = 0
    for _ in range(20):
        made = random_day(rng, most=7)
        planned = solved(made)
        least = assigned(made)
        never_wrong(planned, least)
        met += planned.objective == least
    # Where the least cost is missed, it is missed with an honest bound; that is to be rare.
    assert met >= 19


@pytest.mark.parametrize("chunk", range(8))
def test_no_cost_below_and_no_bound_above_what_is_enumerated(chunk: int) -> None:
    """With limits everywhere in half of these days: many of them can't be cut whole."""
    rng = random.Random(2000 + chunk)
    met = 0
    for k in range(30):
        made = random_day(rng, loose=k % 2 == 0, most=10)
        planned = solved(made)
        least = enumerated(made)
        never_wrong(planned, least)
        met += least is None or planned.objective == least
    assert met >= 29


def test_the_two_exact_models_agree() -> None:
    rng = random.Random(4000)
    short = 0
    for _ in range(30):
        made = random_day(rng, loose=False, most=6)
        least = enumerated(made)
        assert least == assigned(made)
        short += least is None
    assert short >= 3
