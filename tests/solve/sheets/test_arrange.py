"""Which drops a sheet leaves: worked by hand, then against every way to cut a tiny sheet."""

from __future__ import annotations

import random

from cutopt.plan.guillotine import Axis, Rect, guillotine
from cutopt.solve.sheets.arrange import Arranged, Table, arranged
from cutopt.solve.sheets.pattern import Strip
from tests.solve.sheets.all_trees import most_kept

BOTH = (Axis.RIP, Axis.CROSS)


def _table(
    sizes: list[tuple[int, int]],
    *,
    stages: int = 3,
    axes: tuple[Axis, ...] = BOTH,
    keep: tuple[int, int] = (24, 24),
    kerf: int = 0,
    size: tuple[int, int] = (96, 48),
    turn: bool = False,
) -> Table:
    return Table(tuple(sizes), (turn,) * len(sizes), *size, kerf, stages, axes, keep)


def _cut(found: Arranged, table: Table) -> tuple[Rect, ...]:
    """The drops, once the layout is cut by its rule."""
    cutting = guillotine(
        [rect for _, _, rect in found.placed],
        table.length,
        table.width,
        table.kerf,
        found.axis,
        table.stages,
        found.kept,
    )
    assert cutting is not None
    assert set(found.kept) <= set(cutting.drops)
    return cutting.drops


def _kept(drops: tuple[Rect, ...], table: Table) -> list[tuple[int, int]]:
    keep = table.keep
    return [(d.length, d.width) for d in drops if d.length >= keep[0] and d.width >= keep[1]]


def _row(*kinds: int) -> Strip:
    return tuple(((k, False),) for k in kinds)


def test_strips_at_the_ends_of_four_rows_come_off_as_one_piece() -> None:
    # Four rows of 60 x 12: behind each 36 x 12, too narrow to keep; all at once 36 x 48.
    table = _table([(60, 12)])
    found = arranged(Axis.RIP, [_row(0)] * 4, table, thorough=False)
    assert _kept(_cut(found, table), table) == [(36, 48)]


def test_rips_first_keep_one_piece_behind_rows_of_one_part() -> None:
    # By rips first alone: the rows of 60 lie in one strip, the row of 96 beside them.
    table = _table([(96, 8), (60, 20)], axes=(Axis.RIP,))
    found = arranged(Axis.RIP, [_row(0), _row(1), _row(1)], table, thorough=False)
    assert _kept(_cut(found, table), table) == [(36, 40)]
    # In two stages there is no cut left for that.
    two = _table([(96, 8), (60, 20)], axes=(Axis.RIP,), stages=2)
    found = arranged(Axis.RIP, [_row(0), _row(1), _row(1)], two, thorough=False)
    assert _kept(_cut(found, two), two) == []


def test_a_strip_takes_what_is_left_across_where_that_is_too_narrow() -> None:
    # One row of 30 x 40: 8 are left across. The piece behind the row is as wide as the sheet.
    table = _table([(30, 40)], axes=(Axis.RIP,), stages=2)
    found = arranged(Axis.RIP, [_row(0)], table, thorough=False)
    assert _kept(_cut(found, table), table) == [(66, 48)]


def test_a_full_length_remainder_is_kept_before_two_smaller_ones() -> None:
    # Cut first across, 46 x 48 and 50 x 28 come off: 3608. First along: 96 x 28 and 46 x 20 is
    # 2688, the short one too narrow.
    table = _table([(50, 20)])
    found = arranged(Axis.RIP, [_row(0)], table, thorough=False)
    assert sorted(_kept(_cut(found, table), table)) == [(46, 48), (50, 28)]
    # Where 30 is the least width, the piece along the sheet would be waste.
    wide = _table([(50, 20)], keep=(24, 30))
    found = arranged(Axis.RIP, [_row(0)], wide, thorough=False)
    assert _kept(_cut(found, wide), wide) == [(46, 48)]


def test_of_equal_areas_the_fewest_pieces() -> None:
    # Rips first leave 96 x 24 and 48 x 24, crosscuts 48 x 48 and 48 x 24: the same area in two
    # pieces each; the larger largest is 96 x 24 = 48 x 48, so the pattern's own tree stays.
    table = _table([(48, 24)])
    for axis in BOTH:
        found = arranged(axis, [_row(0)], table, thorough=True)
        assert found.axis is axis
        assert len(_kept(_cut(found, table), table)) == 2


def test_parts_are_shelved_anew_where_that_leaves_more() -> None:
    # Found as two rows of one part each behind which little can be kept: in one row they leave
    # the whole of the sheet beside it.
    table = _table([(40, 20), (40, 19)], stages=2, axes=(Axis.RIP,))
    spread = [_row(0), _row(1)]
    stays = arranged(Axis.RIP, spread, table, thorough=False)
    assert _kept(_cut(stays, table), table) == [(56, 29)]
    anew = arranged(Axis.RIP, spread, table, thorough=True)
    assert _kept(_cut(anew, table), table) == [(96, 28)]


def test_never_more_than_every_way_to_cut_a_tiny_sheet_and_seldom_less() -> None:
    rng = random.Random(8)
    best = cases = 0
    for _ in range(150):
        length, width = rng.choice([(12, 8), (10, 10)])
        kerf, stages = rng.choice([0, 1]), rng.choice([2, 3])
        axes = rng.choice([(Axis.RIP,), (Axis.CROSS,), BOTH])
        keep = (rng.randint(2, 5), rng.randint(2, 5))
        sizes = [(rng.randint(2, 7), rng.randint(2, 5)) for _ in range(3)]
        table = _table(sizes, stages=stages, axes=axes, keep=keep, kerf=kerf, size=(length, width))
        across, row, strips = 0, 0, []
        for kind in rng.sample(range(3), rng.randint(1, 3)):
            # One part to a strip, in the axis that the rule allows.
            row = sizes[kind][1] if axes[0] is Axis.RIP else sizes[kind][0]
            if across + row <= (width if axes[0] is Axis.RIP else length):
                strips.append(_row(kind))
                across += row + kerf
        found = arranged(axes[0], strips, table, thorough=True)
        kept = sum(a * b for a, b in _kept(_cut(found, table), table))
        parts = [(*sizes[strip[0][0][0]], False) for strip in strips]
        most = most_kept(parts, length, width, kerf, axes, stages, keep)
        assert kept <= most
        cases += 1
        best += kept == most
    assert best >= 0.85 * cases
