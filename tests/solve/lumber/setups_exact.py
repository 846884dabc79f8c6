"""The fewest set-ups of small days, by trying everything; shares nothing with the solver."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from itertools import product

from cutopt.cutlist import Day

__all__ = ["fewest_setups"]


def fewest_setups(day: Day, limit: Fraction | None) -> int:
    """The fewest (stock length, lengths cut) with which one material without limits can be cut.

    `limit` is the most that the plan may cost, less drop credit; None for no matter what.
    """
    rules = day.rules.lumber
    need: dict[int, int] = {}
    for p in day.parts:
        need[p.length] = need.get(p.length, 0) + p.qty
    lengths = sorted(need, reverse=True)
    found: dict[tuple[int, tuple[int, ...]], Fraction] = {}
    for o in day.offers:
        assert o.limit is None
        usable = o.length - rules.head_trim
        for cut in product(*(range(need[n] + 1) for n in lengths)):
            used = sum(q * (n + rules.kerf) for q, n in zip(cut, lengths, strict=True))
            if not any(cut) or used > usable + rules.kerf:
                continue
            if rules.max_parts and sum(cut) > rules.max_parts:
                continue
            drop = usable - used
            cost = Fraction(o.price)
            if drop > 0 and drop >= rules.keep_drop:
                cost -= Fraction(rules.drop_value) * cost * drop / o.length
            key = (o.length, cut)
            found[key] = min(cost, found.get(key, cost))
    patterns = [(cut, cost) for (_, cut), cost in sorted(found.items())]

    @cache
    def fronts(at: int, left: tuple[int, ...]) -> tuple[tuple[int, Fraction], ...]:
        """(set-ups, cost), none beaten, with the patterns from `at` on."""
        if not any(left):
            return ((0, Fraction(0)),)
        if at == len(patterns):
            return ()
        cut, cost = patterns[at]
        options = list(fronts(at + 1, left))
        most = min(n // q for n, q in zip(left, cut, strict=True) if q)
        for n in range(1, most + 1):
            rest = tuple(a - n * q for a, q in zip(left, cut, strict=True))
            options += [(s + 1, c + n * cost) for s, c in fronts(at + 1, rest)]
        best: list[tuple[int, Fraction]] = []
        for s, c in sorted(options):
            if not best or c < best[-1][1]:
                best.append((s, c))
        return tuple(best)

    front = fronts(0, tuple(need[n] for n in lengths))
    return min(s for s, c in front if limit is None or c <= limit)
