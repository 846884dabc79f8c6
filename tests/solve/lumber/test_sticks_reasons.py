"""What is dear and what is short, against examples worked by hand and plans solved again."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

import pytest

from cutopt.cutlist import Part
from cutopt.materials import Offer
from cutopt.measure import INCH
from cutopt.plan import Cause, MaterialPlan
from cutopt.solve.demand import Piece, items_of
from cutopt.solve.lumber.model import model_of
from cutopt.solve.lumber.reasons import reasons
from cutopt.solve.lumber.runs import RunPricer
from cutopt.solve.lumber.search import Search
from cutopt.solve.outcome import material_plans
from cutopt.solve.runs import Pricer
from cutopt.solve.search import Watch, no_report
from tests.solve.lumber.groups import day_of, group_of, offer, part, rules, run, solved


def planned(parts: list[Part], offers: list[Offer], **more: object) -> MaterialPlan:
    day = day_of(parts, offers, rules(**more))  # type: ignore[arg-type]
    (plan,) = material_plans(group_of(day), solved(day))
    return plan


def test_a_length_that_takes_a_stick_each() -> None:
    # By hand: a 144 in stick at $14.40 holds one part of 100 in, and the 44 in beside it go for
    # nothing. One part fewer saves its whole stick; its wood alone is 100 / 144 of it.
    studs = part(100 * INCH, 10, mark="STUD")
    sticks = offer(144 * INCH, "14.40")
    plan = planned([studs, part(44 * INCH, 5, mark="BLOCK")], [sticks])
    (dear,) = plan.shortages
    assert (dear.cause, dear.length, dear.pieces, dear.marks) == (
        Cause.PART,
        100 * INCH,
        10,
        ("STUD",),
    )
    assert float(dear.worth) == pytest.approx(14.40, abs=1e-9)
    assert dear.plain == 10
    fewer = planned([replace(studs, qty=9), part(44 * INCH, 5, mark="BLOCK")], [sticks])
    assert float(dear.worth) == pytest.approx(float(plan.cost - fewer.cost), abs=1e-9)


def test_a_limit_that_binds() -> None:
    # By hand: three 48 in parts from a 144 in stick at $14.40 are $4.80 each, two from a 96 in
    # stick at $6 are $3: such a stick saves $3.60. Three more of them save three times that.
    parts = [part(48 * INCH, 18)]
    had = [planned(parts, [offer(144 * INCH, "14.40"), _few(n)]) for n in (3, 6)]
    (short,) = [s for s in had[0].shortages if s.cause is Cause.LIMIT]
    assert (short.length, short.pieces, short.rows) == (96 * INCH, 3, (3,))
    assert float(short.worth) == pytest.approx(3.60, abs=1e-9)
    assert had[0].objective - had[1].objective == Fraction(1080, 100)


def _few(n: int) -> Offer:
    return offer(96 * INCH, "6", limit=n)


def test_nothing_is_said_where_all_divides_well() -> None:
    assert planned([part(48 * INCH, 18)], [offer(144 * INCH, "14.40")]).shortages == ()


def test_a_run_with_its_joints() -> None:
    # By hand: 240 in of two pieces of 120 in, each a whole stick of 120 in at $12, and a joint at
    # $0.50: $24.50 for what would be $24 of wood.
    plan = planned([run(240 * INCH, 120 * INCH, 240 * INCH, mark="PL")], [offer(120 * INCH, "12")])
    (dear,) = plan.shortages
    assert (dear.cause, dear.length, dear.pieces, dear.marks) == (Cause.RUN, 240 * INCH, 1, ("PL",))
    assert float(dear.worth) == pytest.approx(24.50, abs=1e-9)
    assert dear.plain == 24


@pytest.mark.parametrize("seed", range(12))
def test_what_is_said_adds_up_to_the_bound_and_holds_for_one_fewer_or_more(seed: int) -> None:
    rng = random.Random(seed)
    lengths = rng.sample(range(14, 110), 5)
    parts = [part(n * INCH, rng.randint(1, 9), mark=f"M{n}") for n in lengths]
    offers = [
        offer(144 * INCH, "14.40"),
        offer(192 * INCH, "18.10"),
        offer(120 * INCH, "9", limit=rng.randint(1, 3)),
    ]
    group = group_of(day_of(parts, offers, rules(kerf=INCH // 8)))
    items = items_of(Piece(p, p.length, None, p.qty, p.materials) for p in group.parts)
    model = model_of(group, items)
    runs = RunPricer(group, Pricer(()), model)
    search = Search(group, model, runs, Watch(60), 1, no_report)
    search.run()
    found = [s for _, s in reasons(group, model, runs, search.worths, items)]
    proved = search.worths.bound
    owed = sum(s.worth * s.pieces * (-1 if s.limits else 1) for s in found)
    assert owed == proved
    # The worths stay possible when one piece is left out or one stick is added: they prove what
    # such a plan costs at least.
    for dear in found:
        if dear.limits:
            more = replace(offers[2], limit=(offers[2].limit or 0) + 1)
            again = planned(parts, [*offers[:2], more], kerf=INCH // 8)
        else:
            counts = [(p, p.qty - (p.length == dear.length)) for p in parts]
            fewer = [replace(p, qty=n) for p, n in counts if n]
            again = planned(fewer, offers, kerf=INCH // 8)
        assert again.objective >= proved - dear.worth
