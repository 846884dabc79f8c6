"""Which boards a ceiling field may take, and how narrow its last row may be ripped."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from cutopt.cutlist import Part, Rule
from cutopt.materials import Edges, Kind, Offer, Per, Rules, SheetRules
from cutopt.plan import Group
from cutopt.records import Place
from cutopt.solve.ceiling.fields import boards_of, fields_of

NAME = "GYP"


def _group(run: int, least: int, *widths: int) -> Group:
    place = Place("cuts/ceilings.csv", 2)
    field = Part(place, "S1", "Ceiling", "C", NAME, 100, run, 1, rule=Rule.FULL_SPAN)
    offers = tuple(
        Offer(n + 2, NAME, Kind.SHEET, None, 120, w, Decimal(w), Per.EACH)
        for n, w in enumerate(widths)
    )
    rules = Rules(sheets=SheetRules(kerf=0, least_rip=least))
    return Group((NAME,), Kind.SHEET, (field,), offers, rules)


def test_rows_take_boards_with_both_factory_edges_alone() -> None:
    group = _group(96, 0, 48, 54)
    offers = (replace(group.offers[0], edges=Edges.ONE), group.offers[1])
    assert list(boards_of(replace(group, offers=offers), NAME)) == [54]


def test_a_last_row_is_not_ripped_below_the_narrowest_safe_rip() -> None:
    # 100 of run: 48 + 48 + a rip of 4, 48 + 54 less 2 (a rip of 52), 54 + a rip of 46.
    group = _group(100, 6, 48, 54)
    (field,), left_out = fields_of(group, group.parts)
    assert not left_out
    assert [m.rows for m in field.mixes] == [((48, 1), (54, 1)), ((54, 2),)]
    whole = _group(96, 60, 48)
    assert len(fields_of(whole, whole.parts)[0]) == 1


def test_a_field_whose_every_last_row_is_too_narrow_is_named() -> None:
    group = _group(100, 6, 48)
    fields, ((material, out),) = fields_of(group, group.parts)
    assert not fields
    assert material == NAME
    assert "least_rip" in out.reason
    assert "scored and snapped" in out.reason
