"""Kept drops as rows of stock.csv: sizes merged, prices by the foot, edges that are left."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest

from cutopt.cutlist import Day, Part
from cutopt.materials import Edge, Edges, Offer, Per, Rules, SheetRules
from cutopt.measure import INCH
from cutopt.plan import (
    Drop,
    Layout,
    MaterialPlan,
    Plan,
    Problem,
    Source,
    Status,
    Stop,
)
from cutopt.records import Place
from cutopt.yields import rack


def _layout(number: int, offer: Offer, drops: Sequence[Drop], count: int = 1) -> Layout:
    return Layout(str(number), f"P{number}", count, offer, Source.BUY, (), tuple(drops))


def _plan(*layouts: Layout) -> Plan:
    first = layouts[0].offer
    nothing = Fraction(0)
    material = MaterialPlan(
        *(first.material, first.kind, 0, 0, layouts, nothing, nothing, 0, nothing, nothing),
        *(Status.OPTIMAL, Stop.PROVED),
    )
    return Plan("in", (material,))


def _problem(rules: SheetRules, *offers: Offer, edge: Edge = Edge.NONE) -> Problem:
    part = Part(Place("a.csv", 2), "A", "J", "M", offers[0].material, 10, 10, 1, edge=edge)
    return Problem((Day("d", "P", date(2026, 3, 2), "in", Rules(sheets=rules), offers, (part,)),))


def _sheet_drop(y: int, width: int) -> Drop:
    return Drop(0, y * INCH, 96 * INCH, width * INCH, True)


def test_equal_drops_are_one_row_whatever_layout_leaves_them(stick) -> None:  # type: ignore[no-untyped-def]
    board = stick(2, 192)
    kept = Drop(0, 0, 30 * INCH, None, True)
    waste = Drop(0, 0, 10 * INCH, None, False)
    lines = rack(
        _problem(SheetRules(), board),
        _plan(_layout(1, board, [kept, waste], 3), _layout(2, board, [kept], 2)),
    )
    assert [(x.length, x.on_hand, x.nominal) for x in lines] == [(30 * INCH, 5, (2, 4))]


def test_another_lot_or_price_is_another_row(stick) -> None:  # type: ignore[no-untyped-def]
    boards = [stick(2, 192, lot="L1"), stick(3, 192, lot="L2"), stick(4, 144, lot="L1")]
    kept = Drop(0, 0, 30 * INCH, None, True)
    layouts = [_layout(n, board, [kept]) for n, board in enumerate(boards)]
    lines = rack(_problem(SheetRules(), *boards), _plan(*layouts))
    assert [(x.lot, x.on_hand, x.price) for x in lines] == [("L1", 2, 600), ("L2", 1, 600)]


def test_a_price_for_each_piece_is_shared_out_by_length_or_area(stick, sheet) -> None:  # type: ignore[no-untyped-def]
    board = stick(2, 192, price=Decimal("9.60"), per=Per.EACH)
    (line,) = rack(
        _problem(SheetRules(), board), _plan(_layout(1, board, [Drop(0, 0, 40 * INCH, None, True)]))
    )
    assert (line.price, line.per) == (Decimal("2.000000"), Per.EACH)
    panel = sheet(2, 96, 48, price=Decimal("12"), per=Per.EACH)
    (line,) = rack(_problem(SheetRules(), panel), _plan(_layout(1, panel, [_sheet_drop(0, 24)])))
    assert line.price == 6


@pytest.mark.parametrize(
    ("has", "asked", "y", "width", "left"),
    [
        (Edges.BOTH, Edge.NONE, 0, 48, Edges.BOTH),
        (Edges.BOTH, Edge.NONE, 0, 24, Edges.ONE),
        (Edges.BOTH, Edge.NONE, 24, 24, Edges.ONE),
        (Edges.BOTH, Edge.NONE, 12, 24, Edges.NONE),
        (Edges.BOTH, Edge.TONGUE, 0, 24, Edges.GROOVE),
        (Edges.BOTH, Edge.TONGUE, 24, 24, Edges.TONGUE),
        (Edges.ONE, Edge.NONE, 0, 48, Edges.ONE),
        (Edges.ONE, Edge.NONE, 0, 24, Edges.ONE),
        (Edges.ONE, Edge.NONE, 24, 24, Edges.NONE),
        (Edges.TONGUE, Edge.NONE, 24, 24, Edges.TONGUE),
        (Edges.TONGUE, Edge.NONE, 0, 24, Edges.NONE),
        (Edges.GROOVE, Edge.NONE, 0, 24, Edges.GROOVE),
        (Edges.NONE, Edge.NONE, 0, 48, Edges.NONE),
    ],
)
def test_a_rip_keeps_the_edge_that_it_lies_flush_with(sheet, has, asked, y, width, left) -> None:  # type: ignore[no-untyped-def]
    panel = sheet(2, 96, 48, edges=has)
    plan = _plan(_layout(1, panel, [_sheet_drop(y, width)]))
    (line,) = rack(_problem(SheetRules(), panel, edge=asked), plan)
    assert line.edges is left


def test_edge_trim_takes_the_factory_edges_off(sheet) -> None:  # type: ignore[no-untyped-def]
    panel = sheet(2, 96, 48)
    plan = _plan(_layout(1, panel, [_sheet_drop(0, 24)]))
    (line,) = rack(_problem(SheetRules(edge_trim=INCH // 4), panel), plan)
    assert line.edges is Edges.NONE
