"""Jointed runs and mated pairs among parts, against every way to joint them and to fill sticks.

`enumerated` is written from the words of the file format, in fractions; it is the outside source.
"""

from __future__ import annotations

import random

import pytest

from cutopt.cutlist import Day
from tests.solve.lumber.exact import enumerated, longest_of, ways_of
from tests.solve.lumber.making import day, offer, part, rules, solved
from tests.solve.lumber.test_sticks_random import never_wrong


def random_run_day(
    rng: random.Random, two: bool = False, tight: bool = False, same: bool = False
) -> Day:
    """A day whose runs can be made in few enough ways to try them all."""
    while True:
        made = _any_run_day(rng, two, tight, same)
        ways = ways_of(made, longest_of(made))
        if ways is None or len(ways) <= 80:
            return made


def _any_run_day(rng: random.Random, two: bool, tight: bool, same: bool) -> Day:
    """One run, one run twice, or a mated pair, beside up to four parts."""
    sizes = rng.sample((16, 20, 24, 28, 32), 2)
    limit = rng.choice((2, 3, 5)) if tight else None
    offers = [
        offer(2, sizes[0], str(sizes[0] / 8 + rng.choice((0, 0.5))), limit=limit),
        offer(3, sizes[1], str(sizes[1] / 8 + rng.choice((0, 0.5))), rng.choice((0, 1)), limit),
    ]
    if rng.random() < 0.3:
        offers.append(offer(4, rng.randint(8, 15), "0.75", 1, 0))
    alt: tuple[str, ...] = ()
    if two:
        alt = ("2x4-1",)
        offers.append(offer(5, rng.choice((18, 24, 30)), "2.5", material="2x4-1"))
    step = rng.choice((5, 6, 8))
    first = rng.choice((0, step, 3, 7, 15))
    length = rng.randint(16, 40)
    kind = rng.choice(("one", "twice", "pair", "uneven"))
    clear = rng.choice((2, 4, 6))
    joints = (first, step, clear) if kind in ("pair", "uneven") else (first, step)
    tie = "TIE" if kind in ("pair", "uneven") else None
    qty = 2 if kind in ("twice", "uneven") else 1
    parts = [part("TOP", length, qty, joints=joints, mate=tie, alt=alt)]
    if tie:
        other = length if rng.random() < 0.5 else rng.randint(16, 36)
        back = "TOP" if rng.random() < 0.6 else None
        at = joints if back else joints[:2]
        parts.append(part("TIE", other, 1, joints=at, mate=back))
    parts += [
        part(f"P{k}", rng.randint(4, 14), rng.randint(1, 2), alt=alt[: rng.randint(0, 1)])
        for k in range(rng.randint(0, 2))
    ]
    if two:
        parts.append(part("Q", rng.randint(4, 14), 1, material="2x4-1"))

    price = rng.choice(("0", "0.25", "1"))

    def shop():  # type: ignore[no-untyped-def]
        return rules(
            kerf=rng.choice((0, 0, 1)),
            trim=rng.choice((0, 0, 1)),
            keep=rng.choice((4, 6)),
            value=rng.choice(("0", "0.5")),
            joint_price=price if same else rng.choice(("0", "0.25", "1")),
            least=rng.choice((0, 4, 6)),
        )

    return day(offers, parts, shop(), {"2x4-1": shop()} if two else None)


@pytest.mark.parametrize("chunk", range(4))
def test_runs_and_pairs_against_every_way(chunk: int) -> None:
    rng = random.Random(5000 + chunk)
    met = 0
    for _ in range(20):
        made = random_run_day(rng)
        least = enumerated(made)
        planned = solved(made)
        never_wrong(planned, least)
        met += least is None or planned.objective == least
    assert met == 20


@pytest.mark.parametrize("chunk", range(2))
def test_runs_over_two_materials(chunk: int) -> None:
    """Kerfs, trims and shortest pieces of two materials differ."""
    rng = random.Random(6000 + chunk)
    met = 0
    for _ in range(20):
        made = random_run_day(rng, two=True, same=True)
        least = enumerated(made)
        planned = solved(made)
        never_wrong(planned, least)
        met += least is None or planned.objective == least
    assert met == 20


def test_joint_prices_that_differ_between_materials_are_chosen_with_the_joints() -> None:
    """The price of the material that the piece comes from is charged, as the checker counts it."""
    rng = random.Random(6500)
    met = 0
    for _ in range(30):
        made = random_run_day(rng, two=True)
        least = enumerated(made)
        planned = solved(made)
        never_wrong(planned, least)
        met += least is None or planned.objective == least
    assert met == 30


def test_runs_under_limits() -> None:
    rng = random.Random(7000)
    short = 0
    for _ in range(20):
        made = random_run_day(rng, tight=True)
        least = enumerated(made)
        planned = solved(made)
        never_wrong(planned, least)
        short += least is None
    assert short >= 1
