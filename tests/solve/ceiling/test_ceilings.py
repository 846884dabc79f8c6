"""Ceilings against a general-purpose model written another way, and attempts to split a row.

The model (`scipy.optimize.milp`, HiGHS inside) knows no mixes of widths: per field and board size
it counts boards, whose widths together must reach the run.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from cutopt.cutlist import Part, Rule
from cutopt.materials import CeilingRules, Kind, Offer, Per, Rules, SheetRules
from cutopt.plan import Group
from cutopt.records import Place
from cutopt.solve.demand import Item
from cutopt.solve.outcome import Outcome
from cutopt.solve.search import Watch
from cutopt.solve.sheets import solve_sheets
from tests.solve.sheets.shop import check, cost_of

NAME = "GYP-CLG-1/2"


def _field(n: int, span: int, run: int, qty: int, name: str = NAME) -> Part:
    return Part(
        Place("cuts/ceilings.csv", n + 2),
        f"S{n}",
        "Ceiling",
        "CEILING",
        name,
        span,
        run,
        qty,
        rule=Rule.FULL_SPAN,
    )


def _board(
    row: int, length: int, width: int, price: int, on_hand: int = 0, limit: int | None = None
) -> Offer:
    return Offer(
        row, NAME, Kind.SHEET, None, length, width, Decimal(price), Per.EACH, on_hand, limit
    )


def _group(parts: Sequence[Part], offers: Sequence[Offer], lengths: int, **more: object) -> Group:
    sheets = SheetRules(kerf=0, keep_drop=(24, 24), **more)  # type: ignore[arg-type]
    rules = Rules(sheets=sheets, ceiling=CeilingRules(lengths))
    return Group((NAME,), Kind.SHEET, tuple(parts), tuple(offers), rules)


def _least(parts: Sequence[Part], offers: Sequence[Offer], lengths: int) -> float | None:
    """The least cost by another model: boards per field and offer, bought boards, lengths."""
    sizes = sorted({o.length for o in offers})
    fields = [(p.length, p.width or 0) for p in parts for _ in range(p.qty)]
    pairs = [(f, o) for f in range(len(fields)) for o in range(len(offers))]
    at = {pair: i for i, pair in enumerate(pairs)}
    n, m = len(pairs), len(offers)
    total = n + m + len(sizes)
    cost = np.zeros(total)
    upper = np.full(total, 500.0)
    for (f, o), i in at.items():
        cost[i] = float(offers[o].cost)
        if offers[o].length < fields[f][0]:
            upper[i] = 0
    upper[n + m :] = 1
    rows: list[np.ndarray] = []
    low: list[float] = []
    for f, (_, run) in enumerate(fields):
        row = np.zeros(total)
        for o, offer in enumerate(offers):
            row[at[f, o]] = offer.width or 0
        rows.append(row)
        low.append(run)
    for o, offer in enumerate(offers):
        if offer.limit is not None:
            upper[n + o] = offer.limit
        row = np.zeros(total)
        row[n + o] = 1
        for f in range(len(fields)):
            row[at[f, o]] = -1
        rows.append(row)
        low.append(-offer.on_hand)
        if lengths:
            row = np.zeros(total)
            row[n + o] = -1
            row[n + m + sizes.index(offer.length)] = 500
            rows.append(row)
            low.append(0)
    if lengths:
        row = np.zeros(total)
        row[n + m :] = -1
        rows.append(row)
        low.append(-lengths)
    result = milp(
        cost,
        constraints=LinearConstraint(np.array(rows), np.array(low), np.inf),
        integrality=np.ones(total),
        bounds=Bounds(np.zeros(total), upper),
        options={"mip_rel_gap": 0.0},
    )
    return float(result.fun) if result.success else None


def _full_span(item: Item) -> bool:
    return any(p.part.rule is Rule.FULL_SPAN for p in item.pieces)


def _rows_are_whole(group: Group, outcome: Outcome) -> None:
    """Every full-span piece is one board over the whole span, and every field is covered."""
    laid: dict[tuple[str, int], list[tuple[int, int]]] = {}
    widths = {o.width for o in group.offers}
    for use in outcome.uses:
        spans = {n for n, i in enumerate(outcome.items) if _full_span(i)}
        assert sum(spot.item in spans for spot in use.spots) <= 1
        for spot in use.spots:
            item = outcome.items[spot.item]
            for piece in item.pieces:
                if piece.part.rule is Rule.FULL_SPAN:
                    assert (spot.x, spot.y, spot.turned) == (0, 0, False)
                    assert item.length == piece.length == piece.part.length
                    assert use.offer.length >= piece.part.length
                    assert piece.run is None
    for item in outcome.items:
        for piece in item.pieces:
            if piece.part.rule is Rule.FULL_SPAN:
                assert not item.turn
                key = (piece.part.section, piece.part.length)
                laid.setdefault(key, []).append((piece.width or 0, piece.qty))
    for part in group.parts:
        out = sum(u.qty for _, u in outcome.unplanned if u.section == part.section)
        rows = laid.get((part.section, part.length), [])
        if part.rule is Rule.FULL_SPAN:
            assert sum(w * n for w, n in rows) == (part.qty - out) * (part.width or 0)
            assert sum(n for w, n in rows if w not in widths) <= part.qty - out


@pytest.mark.parametrize("seed", range(40))
def test_least_cost_equals_a_general_model(seed: int) -> None:
    rng = random.Random(seed)
    widths = rng.choice([(48,), (48, 54), (48, 54)])
    sizes = sorted(rng.sample(range(96, 200, 6), rng.randint(2, 5)))
    offers = []
    for length in sizes:
        for width in widths:
            if rng.random() < 0.15 and length != sizes[-1]:
                continue
            price = length * width // 40 + rng.randint(0, 25)
            on_hand = rng.choice([0, 0, 3, 10])
            limit = rng.choice([None, None, None, 6]) if length != sizes[-1] else None
            offers.append(_board(len(offers) + 2, length, width, price, on_hand, limit))
    parts = [
        _field(n, rng.randint(70, sizes[-1]), rng.randint(40, 500), rng.choice([1, 1, 2, 3]))
        for n in range(rng.randint(1, 6))
    ]
    lengths = rng.choice([0, 1, 2, 3])
    group = _group(parts, offers, lengths)
    outcome = solve_sheets(group, Watch(20), 1)
    check(group, outcome)
    _rows_are_whole(group, outcome)
    least = _least(parts, offers, lengths)
    assert least is not None
    assert not outcome.unplanned
    assert float(outcome.bound) <= least + 1e-6
    assert float(cost_of(group, outcome)) == pytest.approx(least, abs=1e-6)
    assert outcome.bound == cost_of(group, outcome)
    bought = {
        use.offer.length
        for use in outcome.uses
        if sum(u.count for u in outcome.uses if u.offer == use.offer) > use.offer.on_hand
    }
    assert not lengths or len(bought) <= lengths


def test_a_field_of_exact_rows_is_not_ripped() -> None:
    outcome = solve_sheets(
        _group([_field(0, 144, 96, 1)], [_board(2, 144, 48, 20)], 0), Watch(9), 1
    )
    assert [(i.length, i.width, i.demand) for i in outcome.items] == [(144, 48, 2)]
    assert all(not use.drops for use in outcome.uses)


def test_the_last_row_is_ripped_and_over_length_is_a_drop() -> None:
    outcome = solve_sheets(
        _group([_field(0, 140, 100, 1)], [_board(2, 144, 48, 20)], 0), Watch(9), 1
    )
    assert sorted((i.width, i.demand) for i in outcome.items) == [(4, 1), (48, 2)]
    assert all(use.drops for use in outcome.uses)


def test_a_span_that_no_board_covers_is_named_and_never_pieced() -> None:
    parts = [_field(0, 200, 300, 2), _field(1, 150, 300, 1)]
    group = _group(parts, [_board(2, 144, 48, 20), _board(3, 192, 48, 31)], 3)
    outcome = solve_sheets(group, Watch(9), 1)
    _rows_are_whole(group, outcome)
    ((material, out),) = outcome.unplanned
    assert (material, out.section, out.mark, out.qty, out.length) == (NAME, "S0", "CEILING", 2, 200)
    for word in ("S0", "span", "longest board", "would do"):
        assert word in out.reason


@pytest.mark.parametrize("lengths", [0, 1])
def test_boards_are_chosen_even_where_no_time_is_left(lengths: int) -> None:
    parts = [_field(n, 120 + 7 * n, 200 + 10 * n, 1 + n % 2) for n in range(6)]
    boards = [_board(n + 2, 130 + 15 * n, 48 + 6 * (n % 2), 20 + n) for n in range(4)]
    group = _group(parts, boards, lengths)
    outcome = solve_sheets(group, Watch(0), 1)
    _rows_are_whole(group, outcome)
    assert not outcome.unplanned


def test_a_turned_board_never_covers_a_span() -> None:
    # 54 in across a board is wide enough for the span only if the board were turned: it is not.
    parts = [_field(0, 50, 40, 1)]
    outcome = solve_sheets(_group(parts, [_board(2, 48, 54, 20)], 0), Watch(9), 1)
    assert len(outcome.unplanned) == 1
    assert not outcome.uses


@pytest.mark.parametrize("seed", range(25))
def test_no_path_splits_a_row_whatever_the_stock_lacks(seed: int) -> None:
    """Limits, short boards, few lengths, other parts beside: rows stay whole or are left out."""
    rng = random.Random(1000 + seed)
    offers = [
        _board(
            n + 2,
            rng.randint(60, 200),
            rng.choice([48, 54]),
            rng.randint(10, 60),
            rng.choice([0, 0, 2, 5]),
            rng.choice([0, 2, 8, None]),
        )
        for n in range(rng.randint(1, 5))
    ]
    parts = [
        _field(n, rng.randint(40, 220), rng.randint(30, 400), rng.randint(1, 3))
        for n in range(rng.randint(1, 5))
    ]
    if rng.random() < 0.6:
        parts += [
            Part(
                Place("cuts/board.csv", n + 2),
                f"B{n}",
                "Board",
                f"B{n}",
                NAME,
                rng.randint(10, 180),
                rng.randint(5, 54),
                rng.randint(1, 4),
                turn=rng.random() < 0.5,
            )
            for n in range(rng.randint(1, 4))
        ]
    lengths = rng.choice([0, 1, 2])
    group = _group(parts, offers, lengths, stages=rng.choice([2, 3]))
    outcome = solve_sheets(group, Watch(20), 1)
    check(group, outcome)
    _rows_are_whole(group, outcome)
    asked = sum(p.qty for p in parts)
    left_out = sum(u.qty for _, u in outcome.unplanned)
    assert left_out <= asked
    counted: dict[int, int] = {}
    for use in outcome.uses:
        counted[use.offer.row] = counted.get(use.offer.row, 0) + use.count
    bought = {o.length for o in offers if counted.get(o.row, 0) > o.on_hand}
    assert not lengths or len(bought) <= lengths


def test_limits_that_are_too_low_are_named_and_the_rest_is_planned() -> None:
    parts = [_field(0, 140, 480, 1), _field(1, 140, 96, 1)]
    group = _group(parts, [_board(2, 144, 48, 20, 2, 3)], 0)
    outcome = solve_sheets(group, Watch(9), 1)
    _rows_are_whole(group, outcome)
    ((_, out),) = outcome.unplanned
    assert out.section == "S0"
    assert "row 2" in out.reason
    assert cost_of(group, outcome) == outcome.bound == Fraction(40)


def test_the_same_seed_gives_the_same_plan() -> None:
    parts = [_field(n, 100 + 7 * n, 200 + 31 * n, 2) for n in range(5)]
    offers = [_board(n + 2, 96 + 24 * n, w, 20 + 5 * n + w) for n in range(4) for w in (48, 54)]
    offers = [Offer(**{**_fields(o), "row": n + 2}) for n, o in enumerate(offers)]
    group = _group(parts, offers, 2)
    first, second = (solve_sheets(group, Watch(9), 3) for _ in range(2))
    assert (first.items, first.uses, first.bound) == (second.items, second.uses, second.bound)


def _fields(offer: Offer) -> dict[str, object]:
    return {name: getattr(offer, name) for name in offer.__dataclass_fields__}


def test_three_hundred_sections_of_both_widths_are_proved_at_once() -> None:
    rng = random.Random(7)
    parts = [
        _field(n, rng.choice([568, 594, 632, 656, 688, 714, 736, 752]) + rng.randint(-9, 5), run, 1)
        for n, run in enumerate(rng.randint(12, 60) * 48 for _ in range(300))
    ]
    offers = [
        _board(0, 4 * feet, 4 * width, feet * width)
        for feet in range(132, 228, 12)
        for width in (48, 54)
    ]
    offers = [Offer(**{**_fields(o), "row": n + 2}) for n, o in enumerate(offers)]
    outcome = solve_sheets(_group(parts, offers, 4), Watch(30), 1)
    assert not outcome.unplanned
    assert len({use.offer.length for use in outcome.uses}) <= 4
    assert sum((u.offer.cost * u.count for u in outcome.uses), Fraction(0)) == outcome.bound
