"""The checker against random plans and random damage: right ones pass, nothing makes it crash.

Its own reading of edge-to-edge cuts, fields and matching is held against brute force, and against
the planner's, which was written apart from it.
"""

from __future__ import annotations

import copy
import itertools
import random
from collections import Counter
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutopt.cutlist import Day
from cutopt.materials import LumberRules, Rules
from cutopt.measure import INCH, decimal_length
from cutopt.plan.check import check_plan
from cutopt.plan.check.asked import assign
from cutopt.plan.check.ceilings import fields_possible
from cutopt.plan.check.seen import Box
from cutopt.plan.check.sheets import cuttable
from cutopt.plan.guillotine import Axis, Rect, guillotine
from tests.plan.hand_made import Document, day, document, material, offer, part, piece, places

EIGHTH = INCH // 8


def inches(counts: int) -> int | Decimal:
    value = decimal_length(counts, "in")
    assert value is not None
    return int(value) if value == int(value) else value


@st.composite
def stick_plans(draw: st.DrawFn) -> tuple[Day, Document]:
    """Sticks of 96 and 120 in, filled from the head with random parts in 1/8 in."""
    kerf = draw(st.sampled_from((0, EIGHTH, EIGHTH * 3)))
    trim = draw(st.sampled_from((0, EIGHTH * 2)))
    keep = draw(st.integers(0, 400)) * EIGHTH
    rules = Rules(lumber=LumberRules(kerf=kerf, head_trim=trim, keep_drop=keep))
    layouts: list[Document] = []
    asked: Counter[tuple[str, int]] = Counter()
    cost = credit = Fraction(0)
    seen: dict[Any, str] = {}
    for i in range(draw(st.integers(1, 5))):
        row, length, price = draw(st.sampled_from(((2, 96, 5), (3, 120, 7))))
        end = length * INCH - trim
        count = draw(st.integers(1, 4))
        at, parts, drops = 0, [], []
        for size in draw(st.lists(st.integers(8, 500), min_size=1, max_size=6)):
            if at + size * EIGHTH > end:
                break
            parts.append(piece(f"S{size % 3}", f"M{size}", inches(size * EIGHTH), inches(at)))
            asked[f"S{size % 3}", size] += count
            at += size * EIGHTH + kerf
        cost += price * count
        if at < end:
            kept = end - at >= keep
            drops = [
                {"x": inches(at), "y": 0, "length": inches(end - at), "width": None, "kept": kept}
            ]
            if kept:
                credit += count * Fraction(price * (end - at), 2 * length * INCH)
        key = (length, tuple((p["x"], p["length"]) for p in parts))
        layouts.append(
            {
                "id": f"L{i}",
                "pattern": seen.setdefault(key, f"P{i}"),
                "count": count,
                "stock": {
                    "row": row,
                    "length": length,
                    "width": None,
                    "source": "buy",
                    "lot": None,
                },
                "parts": parts,
                "drops": drops,
            }
        )
    written = {
        "cost": f"{float(cost):.6f}",
        "credit": f"{round(credit, 6).numerator / round(credit, 6).denominator:.6f}",
        "objective": f"{float(round(cost - credit, 6)):.6f}",
        "bound": f"{float(round(cost - credit, 6)):.6f}",
    }
    plan = material("2x4", "lumber", written, layouts, kerf=inches(kerf))
    plan["head_trim"] = inches(trim)
    was = day()
    made = Day(
        name="random",
        plant=was.plant,
        date=was.date,
        unit="in",
        rules=rules,
        offers=(offer(2, "2x4", "96", None, "5"), offer(3, "2x4", "120", None, "7")),
        parts=tuple(
            part(s, f"M{size}", "2x4", f"{size}/8", None, qty)
            for (s, size), qty in sorted(asked.items())
        ),
    )
    return made, {"format": "cutopt-plan-1", "unit": "in", "materials": [plan]}


@given(stick_plans())
@settings(max_examples=150, deadline=None, derandomize=True)
def test_random_right_stick_plans_check(made: tuple[Day, Document]) -> None:
    assert check_plan([made[0]], made[1]) == []


#: What a person may read and nothing follows from: any other value keeps the plan's meaning.
FREE = {"seconds", "reason", "cutting_rule"}


def at(plan: Any, path: tuple[str | int, ...]) -> Any:
    for key in path:
        plan = plan[key]
    return plan


def damaged(value: Any) -> list[Any]:
    """Other values of the same type."""
    if isinstance(value, bool):
        return [not value]
    if isinstance(value, str):
        return [value + "x", ""]
    if isinstance(value, int | Decimal):
        return [value + 1, value + Decimal("0.25"), -1]
    return [1, "x"]


@pytest.mark.parametrize("path", list(places(document())), ids=str)
def test_every_single_field_means_something(path: tuple[str | int, ...]) -> None:
    """Each value of the hand-made plan is changed; what is not found must keep its meaning."""
    key = path[-1]
    for value in damaged(at(document(), path)):
        plan = document()
        at(plan, path[:-1])[key] = value
        faults = check_plan([day()], plan)
        renamed = key == "id" or (key == "pattern" and alone(plan, at(document(), path)))
        keeps = renamed or (key in FREE and value not in ("", -1))
        assert keeps or faults, f"{path} as {value!r} is not found"
        assert not (renamed and faults), faults


def alone(plan: Document, pattern: str) -> bool:
    """Whether no other layout is left with the pattern."""
    return all(x["pattern"] != pattern for m in plan["materials"] for x in m["layouts"])


JUNK = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.integers(-(10**40), 10**40),
    st.decimals(),
    st.floats(),
    st.text(max_size=5),
    st.lists(st.integers(), max_size=2),
    st.dictionaries(st.text(max_size=3), st.integers(), max_size=2),
)


def every_place(value: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """The path of every value, objects and lists too."""
    found = [path]
    if isinstance(value, dict):
        for key, inner in value.items():
            found += every_place(inner, (*path, key))
    elif isinstance(value, list):
        for i, inner in enumerate(value):
            found += every_place(inner, (*path, i))
    return found


EVERYWHERE = every_place(document())


@given(st.sampled_from(EVERYWHERE), JUNK)
@settings(max_examples=400, deadline=None, derandomize=True)
def test_junk_anywhere_gives_faults_never_a_traceback(
    path: tuple[str | int, ...], junk: Any
) -> None:
    plan: Any = document()
    if path:
        at(plan, path[:-1])[path[-1]] = junk
    else:
        plan = junk
    assert all(isinstance(fault, str) for fault in check_plan([day()], plan))


@given(st.sampled_from(EVERYWHERE), st.randoms(use_true_random=False))
@settings(max_examples=200, deadline=None, derandomize=True)
def test_what_is_taken_out_is_missed(path: tuple[str | int, ...], chance: random.Random) -> None:
    """A value, an object or a list gone: found, but for what the format lets be absent."""
    plan = document()
    if not path:
        return
    holder = at(plan, path[:-1])
    key = path[-1]
    value = copy.deepcopy(holder[key])
    del holder[key]
    absent = {"width", "lot", "run", "run_at", "asked", "joint_with", "qty"}
    optional = key in absent and (value is None or key in ("asked", "joint_with", "qty"))
    emptied = path[-2] == "joint_with" if len(path) > 1 else False
    assert check_plan([day()], plan) or optional or emptied


def random_boxes(chance: random.Random, kerf: int) -> list[Box]:
    """A few boxes on a sheet of 24 x 16, a kerf apart, as a careless nesting would put them."""
    boxes: list[Box] = []
    for _ in range(12):
        along, across = chance.randint(2, 12), chance.randint(2, 9)
        box = Box(chance.randint(0, 24 - along), chance.randint(0, 16 - across), along, across)
        free = all(
            box.x - b.x_end >= kerf
            or b.x - box.x_end >= kerf
            or box.y - b.y_end >= kerf
            or b.y - box.y_end >= kerf
            for b in boxes
        )
        if free:
            boxes.append(box)
    return boxes


def test_the_two_readings_of_edge_to_edge_cuts_agree() -> None:
    chance = random.Random(20260302)
    yes = 0
    for _ in range(3000):
        kerf = chance.choice((0, 1))
        stages = chance.randint(1, 4)
        axis = chance.choice((Axis.RIP, Axis.CROSS))
        boxes = random_boxes(chance, kerf)[: chance.randint(1, 6)]
        rects = [Rect(b.x, b.y, b.along, b.across) for b in boxes]
        planned = guillotine(rects, 24, 16, kerf, axis, stages)
        mine = cuttable(boxes, kerf, axis is Axis.RIP, stages)
        assert mine == (planned is not None), (boxes, kerf, axis, stages)
        yes += mine
    assert 500 < yes < 2500


def brute_fields(whole: list[int], ripped: list[int], fields: list[int]) -> bool:
    """Every way to deal the rows out, one by one."""
    rows = [(w, False) for w in whole] + [(w, True) for w in ripped]
    for owners in itertools.product(range(len(fields)), repeat=len(rows)):
        sums, rips = [0] * len(fields), [0] * len(fields)
        for (width, is_ripped), owner in zip(rows, owners, strict=True):
            sums[owner] += width
            rips[owner] += is_ripped
        if sums == fields and max(rips) <= 1:
            return True
    return False


def test_fields_against_every_way_to_deal_the_rows_out() -> None:
    chance = random.Random(7)
    yes = 0
    for _ in range(400):
        fields, whole, ripped = [], [], []
        for _ in range(chance.randint(1, 3)):
            mine = [chance.choice((4, 5, 9)) for _ in range(chance.randint(0, 2))]
            rip = [chance.randint(1, 3)] if chance.random() < 0.6 or not mine else []
            fields.append(sum(mine) + sum(rip))
            whole += mine
            ripped += rip
        if chance.random() < 0.5:
            fields[0] += 1
            fields[-1] -= 1
        if chance.random() < 0.3 and len(whole) > 1:
            whole[0] -= 1
            whole[1] += 1
        if min(fields) <= 0:
            continue
        right = brute_fields(whole, ripped, fields)
        assert fields_possible(Counter(whole), Counter(ripped), Counter(fields)) == right
        yes += right
    assert 50 < yes < 350


def test_matching_against_every_way_to_match() -> None:
    chance = random.Random(11)
    for _ in range(300):
        supply = [chance.randint(0, 3) for _ in range(chance.randint(1, 3))]
        demand = [chance.randint(0, 3) for _ in range(chance.randint(1, 3))]
        fits = {(i, j): chance.random() < 0.5 for i in range(3) for j in range(3)}
        units = [i for i, n in enumerate(supply) for _ in range(n)]
        best = 0
        for to in itertools.product(range(-1, len(demand)), repeat=len(units)):
            used = Counter(j for j in to if j >= 0)
            good = all(j < 0 or fits[i, j] for i, j in zip(units, to, strict=True))
            if good and all(used[j] <= demand[j] for j in used):
                best = max(best, sum(used.values()))
        left = assign(supply, demand, lambda i, j, f=fits: f[i, j])  # type: ignore[misc]
        assert sum(supply) - sum(left) == best
