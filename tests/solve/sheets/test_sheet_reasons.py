"""What is dear and what is short among sheets, against examples worked by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest

from cutopt.materials import LumberRules, Rules, SheetRules
from cutopt.plan import Cause, Group, Shortage
from cutopt.solve.search import Watch
from cutopt.solve.sheets import solve_sheets
from tests.solve.sheets.shop import make, run


def said(group: Group) -> list[Shortage]:
    return [s for _, s in solve_sheets(group, Watch(60), 1).shortages]


def test_a_part_that_takes_a_sheet_each() -> None:
    # By hand: 60 x 48 on sheets of 96 x 48 at $16 leaves 36 x 48 that nothing is cut from.
    (dear,) = said(make([(60, 48, 7, False)], [(96, 48, 16, None)]))
    assert (dear.cause, dear.length, dear.width, dear.pieces) == (Cause.PART, 60, 48, 7)
    assert float(dear.worth) == pytest.approx(16, abs=1e-6)
    assert dear.plain == 10
    assert dear.marks == ("P0",)


def test_a_limit_that_binds() -> None:
    # By hand: one part from a 60 x 48 sheet at $11 instead of $16; two such sheets, seven parts.
    found = said(make([(60, 48, 7, False)], [(96, 48, 16, None), (60, 48, 11, 2)]))
    (short,) = [s for s in found if s.cause is Cause.LIMIT]
    assert (short.length, short.width, short.pieces, short.rows) == (60, 48, 2, (3,))
    assert float(short.worth) == pytest.approx(5, abs=1e-6)


def test_a_run_with_its_joints() -> None:
    # By hand: 192 x 16 in two pieces of 96 x 16, six from a sheet of 96 x 96 at $18: $6 for the
    # run's wood, and $0.50 for its joint. Three runs fill a sheet.
    group = make([], [(96, 96, 18, None)])
    group = Group(
        group.materials,
        group.kind,
        (run("RG", 192, 16, 96, 96, qty=3),),
        group.offers,
        Rules(sheets=SheetRules(kerf=0), lumber=LumberRules(joint_min_piece=0)),
    )
    (dear,) = said(group)
    assert (dear.cause, dear.length, dear.width, dear.pieces) == (Cause.RUN, 192, 16, 3)
    assert float(dear.worth) == pytest.approx(6.5, abs=1e-6)
    assert dear.plain == Fraction(6)
