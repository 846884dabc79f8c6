"""Edge-to-edge cuts and what they leave: worked by hand, then against random layouts."""

import random

import pytest

from cutopt.materials import FirstCut
from cutopt.plan.guillotine import Axis, Cutting, Rect, first_axes, guillotine


def _area(rects: tuple[Rect, ...] | list[Rect]) -> int:
    return sum(r.length * r.width for r in rects)


def _kerf_area(cutting: Cutting) -> int:
    along = {Axis.RIP: lambda r: r.length, Axis.CROSS: lambda r: r.width}
    return sum(c.kerf * along[c.axis](c.region) for c in cutting.cuts)


def test_one_part_in_the_corner_is_ripped_then_crosscut() -> None:
    cutting = guillotine([Rect(0, 0, 40, 20)], 96, 48, 1, Axis.RIP, 2)
    assert cutting is not None
    assert [(c.axis, c.at, c.kerf, c.stage) for c in cutting.cuts] == [
        (Axis.RIP, 20, 1, 1),
        (Axis.CROSS, 40, 1, 2),
    ]
    assert cutting.drops == (Rect(0, 21, 96, 27), Rect(41, 0, 55, 20))


def test_crosscut_first_leaves_the_other_drops() -> None:
    cutting = guillotine([Rect(0, 0, 40, 20)], 96, 48, 1, Axis.CROSS, 2)
    assert cutting is not None
    assert cutting.drops == (Rect(41, 0, 55, 48), Rect(0, 21, 40, 27))


def test_a_whole_sheet_needs_no_cut() -> None:
    assert guillotine([Rect(0, 0, 96, 48)], 96, 48, 1, Axis.RIP, 2) == Cutting((), ())


def test_an_empty_sheet_is_one_drop() -> None:
    assert guillotine([], 96, 48, 1, Axis.RIP, 2) == Cutting((), (Rect(0, 0, 96, 48),))


def test_the_last_cut_takes_only_what_is_left() -> None:
    # Kerf traps of the trade: two 24s and a kerf of 2 from 49 leave nothing behind the second.
    cutting = guillotine([Rect(0, 0, 10, 23), Rect(0, 25, 10, 23)], 10, 49, 2, Axis.RIP, 2)
    assert cutting is not None
    assert [(c.at, c.kerf) for c in cutting.cuts] == [(23, 2), (48, 1)]
    assert cutting.drops == ()


def test_parts_closer_than_a_kerf_cannot_be_cut() -> None:
    parts = [Rect(0, 0, 10, 23), Rect(0, 24, 10, 23)]
    assert guillotine(parts, 10, 49, 2, Axis.RIP, 3) is None
    assert guillotine(parts, 10, 49, 1, Axis.RIP, 3) is not None


def test_trimming_is_free_once_and_only_for_a_single_part() -> None:
    # A strip of 20 holds a part 20 wide and one 15 wide: the second is trimmed after stage 2.
    strip = [Rect(0, 0, 30, 20), Rect(30, 0, 30, 15)]
    cutting = guillotine(strip, 96, 48, 0, Axis.RIP, 2)
    assert cutting is not None
    assert [(c.axis, c.at, c.stage, c.trim) for c in cutting.cuts][-1] == (Axis.RIP, 15, 3, True)
    assert cutting.stages == 2
    # Two parts stacked in the strip need the third stage.
    stacked = [Rect(0, 0, 30, 20), Rect(30, 0, 30, 15), Rect(30, 15, 30, 5)]
    assert guillotine(stacked, 96, 48, 0, Axis.RIP, 2) is None
    assert guillotine(stacked, 96, 48, 0, Axis.RIP, 3) is not None
    # A third stage with its own trimming: the stacked part is shorter than its stack.
    shorter = [Rect(0, 0, 30, 20), Rect(30, 0, 30, 15), Rect(30, 15, 25, 5)]
    assert guillotine(shorter, 96, 48, 0, Axis.RIP, 2) is None
    assert guillotine(shorter, 96, 48, 0, Axis.RIP, 3) is not None
    # A pair side by side within the stack would be a fourth stage.
    pair = [Rect(0, 0, 30, 20), *[Rect(30, 0, 30, 15), Rect(30, 15, 12, 5), Rect(42, 15, 12, 5)]]
    assert guillotine(pair, 96, 48, 0, Axis.RIP, 3) is None
    assert guillotine(pair, 96, 48, 0, Axis.RIP, 4) is not None


def test_a_pinwheel_cannot_be_cut_at_all() -> None:
    # The textbook case of a layout that no edge-to-edge cut opens.
    wheel = [Rect(0, 0, 2, 1), Rect(2, 0, 1, 2), Rect(1, 2, 2, 1), Rect(0, 1, 1, 2)]
    for first in Axis:
        assert guillotine(wheel, 3, 3, 0, first, 9) is None


def test_overlaps_and_parts_outside_are_refused() -> None:
    assert guillotine([Rect(0, 0, 10, 10), Rect(5, 5, 10, 10)], 96, 48, 0, Axis.RIP, 3) is None
    assert guillotine([Rect(90, 0, 10, 10)], 96, 48, 0, Axis.RIP, 3) is None
    assert guillotine([Rect(-1, 0, 10, 10)], 96, 48, 0, Axis.RIP, 3) is None
    assert guillotine([Rect(0, 0, 10, 10), Rect(0, 0, 10, 10)], 96, 48, 0, Axis.RIP, 3) is None


def test_first_axes() -> None:
    assert first_axes(FirstCut.RIP) == (Axis.RIP,)
    assert first_axes(FirstCut.CROSS) == (Axis.CROSS,)
    assert first_axes(FirstCut.EITHER) == (Axis.RIP, Axis.CROSS)


def _random_cutting(
    rng: random.Random, region: Rect, kerf: int, axis: Axis, left: int
) -> list[Rect]:
    """Parts that lie in a region by construction within `left` stages."""
    if left == 0 or rng.random() < 0.15:
        return [region]
    parts: list[Rect] = []
    start, size = (region.y, region.width) if axis is Axis.RIP else (region.x, region.length)
    at = start
    while at < start + size:
        extent = min(rng.randint(3, 20), start + size - at)
        piece = (
            Rect(region.x, at, region.length, extent)
            if axis is Axis.RIP
            else Rect(at, region.y, extent, region.width)
        )
        if rng.random() < 0.8:
            parts += _random_cutting(rng, piece, kerf, axis.other, left - 1)
        at += extent + kerf + rng.choice([0, 0, 1, 4])
    return parts


@pytest.mark.parametrize("seed", range(8))
def test_what_was_made_by_cuts_can_be_cut_and_the_areas_add_up(seed: int) -> None:
    rng = random.Random(seed)
    for _ in range(40):
        kerf = rng.choice([0, 1, 2])
        first = rng.choice(list(Axis))
        stages = rng.choice([1, 2, 3])
        length, width = rng.randint(20, 70), rng.randint(20, 50)
        parts = _random_cutting(rng, Rect(0, 0, length, width), kerf, first, stages)
        cutting = guillotine(parts, length, width, kerf, first, stages)
        assert cutting is not None
        assert _area(parts) + _area(cutting.drops) + _kerf_area(cutting) == length * width
        assert all(d.length > 0 and d.width > 0 for d in cutting.drops)
        assert all(1 <= c.stage <= stages + 1 for c in cutting.cuts)
