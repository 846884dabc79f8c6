"""Bounds, greedy orders and the decision by themselves, against other formulations."""

from __future__ import annotations

from itertools import combinations

from cutopt.saw.stacks import peak_of
from cutopt.saw.stacks.bits import bits_of, members
from cutopt.saw.stacks.bounds import clique_of, contraction_bound
from cutopt.saw.stacks.graph import graph_of, parts_of, products_in, read_needs, within
from cutopt.saw.stacks.greedy import fewest_new
from cutopt.saw.stacks.meter import Meter
from cutopt.saw.stacks.search import decide
from tests.saw.stacks.reference import by_pathwidth, made, open_at_most


def degeneracy(near: tuple[int, ...], carts: set[int]) -> int:
    """The most that the least degree of any set of carts can be, one by one from the definition."""
    best = 0
    for size in range(1, len(carts) + 1):
        for some in combinations(sorted(carts), size):
            bits = bits_of(some)
            best = max(best, min((near[c] & bits).bit_count() - 1 for c in some))
    return best


def test_bounds_lie_around_the_fewest() -> None:
    for seed in range(40):
        needs = made(seed, 8, 6 + seed % 12, 2 + seed % 3)
        near = graph_of(read_needs(needs))
        carts = bits_of(c for c, n in enumerate(near) if n)
        fewest = by_pathwidth(needs)
        clique = clique_of(near, carts)
        assert all(near[a] >> b & 1 for a in members(clique) for b in members(clique))
        bound = contraction_bound(near, carts)
        assert max(clique.bit_count(), degeneracy(near, set(members(carts))) + 1, bound) <= fewest
        assert bound >= degeneracy(near, set(members(carts))) + 1
        upper, closing = fewest_new(near, carts)
        assert upper >= fewest
        assert sorted(closing) == list(members(carts))
        assert open_at_most(needs, products_in(read_needs(needs), closing)) <= upper


def test_the_decision_for_every_limit() -> None:
    for seed in range(40):
        needs = made(seed, 9, 6 + seed % 12, 2 + seed % 3)
        read = read_needs(needs)
        near = graph_of(read)
        carts = bits_of(c for c, n in enumerate(near) if n)
        fewest = by_pathwidth(needs)
        for most in range(10):
            answer = decide(near, carts, most, Meter(10_000))
            assert answer.holds == (most >= fewest), (needs, most)
            if answer.holds:
                assert sorted(answer.closing) == list(members(carts))
                assert open_at_most(needs, products_in(read, answer.closing)) <= most


def test_the_decision_on_sparse_graphs() -> None:
    for seed in range(150):
        needs = made(seed, 9 + seed % 2, 9 + seed % 11, 2 + seed % 2, 2)
        near = graph_of(read_needs(needs))
        carts = bits_of(c for c, n in enumerate(near) if n)
        fewest = by_pathwidth(needs)
        assert decide(near, carts, fewest, Meter(10_000)).holds, needs
        assert decide(near, carts, fewest - 1, Meter(10_000)).holds is False, needs


def test_some_carts_alone() -> None:
    needs = made(3, 9, 12, 3)
    read = read_needs(needs)
    near = graph_of(read)
    kept = 0b101101101
    assert within(near, kept)[: len(near)] == tuple(
        n if kept >> c & 1 else 0 for c, n in enumerate(graph_of(p & kept for p in read))
    )


def test_parts_hold_together_and_share_nothing() -> None:
    near = graph_of([0b11, 0b110, 0b1001000, 0b100000])
    assert parts_of(near) == [0b111, 0b1001000, 0b100000]


def test_the_peak_of_an_order_is_counted_from_the_definition() -> None:
    for seed in range(20):
        needs = made(seed, 7, 9, 3)
        order = made(seed, 9, 1, 1)[0] + ()
        whole = [*order, *(p for p in range(9) if p not in order)]
        assert peak_of(read_needs(needs), whole) == open_at_most(needs, whole)


def test_a_part_of_a_meter_counts_for_the_whole() -> None:
    meter = Meter(10)
    part = meter.part(4)
    assert part.spend(3)
    assert not part.spend(1)
    meter.join(part)
    assert meter.left == 6
    assert meter.part(100).most == 6
    asked = Meter(10**6, lambda: True)
    assert not asked.spend(1_000)
    assert asked.left == 0
