"""Least costs found without the solver, two ways that share nothing with it or each other.

`assigned` puts pieces into single sticks, a plain model for scipy's general-purpose integer solver.
`enumerated` tries every filling of every stick in whole numbers and fractions alone, and every way
to joint the runs.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import combinations, pairwise, product

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_matrix

from cutopt.cutlist import Day, Part, Rule

#: (length, materials, whether a joint lies at its start).
Kind = tuple[int, tuple[str, ...], bool]
#: Pieces by kind, the longest first.
Way = tuple[tuple[Kind, int], ...]
#: (material, length, price, usable, what of it parts may use, how many can be had).
Stick = tuple[str, int, Fraction, int, int, int | None]


def _sticks(day: Day) -> list[Stick]:
    """Every row of the stock."""
    found = []
    for o in day.offers:
        had = None if o.limit is None else o.on_hand + o.limit
        trim = day.rules.for_lumber(o.material).head_trim
        usable, reach = o.length - trim, o.counts_as - trim
        found.append((o.material, o.length, Fraction(o.price), usable, reach, had))
    return found


def assigned(day: Day) -> Fraction | None:
    """The least cost of ordinary parts; None where they can't all be cut.

    A stick is a set of variables of its own: how many of each part it holds, whether it is used,
    whether its drop is kept and how long that is. The optimum is costed again in fractions.
    """
    parts = [p for p in day.parts if p.qty]
    total = sum(p.qty for p in parts)
    cost: list[float] = []
    upper: list[float] = []
    whole: list[int] = []
    rows: list[tuple[dict[int, float], float, float]] = []
    need: list[dict[int, float]] = [{} for _ in parts]
    bins: list[tuple[int, dict[int, int]]] = []

    def variable(price: float, most: float, integer: bool) -> int:
        cost.append(price)
        upper.append(most)
        whole.append(int(integer))
        return len(cost) - 1

    sticks = _sticks(day)
    for s, (material, length, price, usable, reach, had) in enumerate(sticks):
        rules = day.rules.for_lumber(material)
        inside = [i for i, p in enumerate(parts) if material in (p.material, *p.alt)]
        unit = length  # lengths as shares of the stick keep the numbers near one
        last = -1
        for _ in range(
            min(total, sum(parts[i].qty for i in inside), 10**9 if had is None else had)
        ):
            used = variable(float(price), 1, True)
            holds = {i: variable(0, parts[i].qty, True) for i in inside}
            fill = {x: (parts[i].length + rules.kerf) / unit for i, x in holds.items()}
            rows.append(({**fill, used: -(reach + rules.kerf) / unit}, -np.inf, 0))
            if rules.least_left:
                # Filled to the end, or at least that much left: one or the other.
                flush = variable(0, 1, True)
                most = (usable - rules.least_left) / unit
                more = (rules.kerf + rules.least_left) / unit
                rows.append(({**fill, used: -most, flush: -more}, -np.inf, 0))
                rows.append(({**fill, flush: -usable / unit}, 0, np.inf))
                rows.append(({flush: 1, used: -1}, -np.inf, 0))
            if rules.max_parts:
                rows.append(
                    ({**dict.fromkeys(holds.values(), 1.0), used: -rules.max_parts}, -np.inf, 0)
                )
            share = Fraction(rules.drop_value)
            kept = variable(0, 1, True)
            drop = variable(-float(share * price), usable / unit, False)
            if share:
                rows.append(({kept: 1, used: -1}, -np.inf, 0))
                rows.append(({drop: 1, kept: -usable / unit}, -np.inf, 0))
                rows.append(({drop: -1, kept: rules.keep_drop / unit}, -np.inf, 0))
                k = rules.kerf / unit
                rows.append(({**fill, drop: 1, used: -usable / unit, kept: k}, -np.inf, k))
            else:
                rows.append(({kept: 1, drop: 1}, 0, 0))
            for i, x in holds.items():
                need[i][x] = 1
            if last >= 0:
                rows.append(({last: -1, used: 1}, -np.inf, 0))
            last = used
            bins.append((s, holds))
    for i, row in enumerate(need):
        if not row:
            return None
        rows.append((row, parts[i].qty, parts[i].qty))
    at = [(r, c, v) for r, (row, _, _) in enumerate(rows) for c, v in row.items()]
    matrix = coo_matrix(
        ([v for *_, v in at], ([r for r, *_ in at], [c for _, c, _ in at])),
        shape=(len(rows), len(cost)),
    )
    answer = milp(
        np.array(cost),
        integrality=np.array(whole),
        bounds=Bounds(0, np.array(upper)),
        constraints=LinearConstraint(
            matrix.tocsc(), np.array([lo for _, lo, _ in rows]), np.array([hi for *_, hi in rows])
        ),
        options={"mip_rel_gap": 0.0, "time_limit": 60.0},
    )
    if answer.status == 2:
        return None
    if answer.status != 0:
        raise RuntimeError(f"the general-purpose solver ended with {answer.message}")
    value = np.round(answer.x).astype(int)
    exact = Fraction(0)
    for s, holds in bins:
        material, length, price, usable, reach, _ = sticks[s]
        rules = day.rules.for_lumber(material)
        taken = sum(int(value[x]) * (parts[i].length + rules.kerf) for i, x in holds.items())
        if taken:
            assert taken <= reach + rules.kerf
            assert _may_leave(usable - taken, rules.least_left)
            exact += stick_cost(price, length, usable - taken, rules.keep_drop, rules.drop_value)
        # An empty stick whose drop is worth all it cost is no part of a plan.
    return exact


def _may_leave(drop: int, least: int) -> bool:
    """Whether the saw may be left with this: nothing, or enough to hold."""
    return drop <= 0 or drop >= least


def stick_cost(price: Fraction, length: int, drop: int, keep: int, share: object) -> Fraction:
    """A stick less what its drop is worth."""
    if drop > 0 and drop >= keep:
        return price - Fraction(str(share)) * price * Fraction(drop, length)
    return price


def enumerated(day: Day) -> Fraction | None:
    """The least cost of parts and jointed runs by trying everything; None where there is no way."""
    sticks = _sticks(day)
    longest = longest_of(day)
    ways = ways_of(day, longest)
    if ways is None:
        return None
    least = _Least(day, sticks)
    found = [c for w in sorted(ways) if (c := least(w)) is not None]
    return min(found, default=None)


def longest_of(day: Day) -> dict[str, int]:
    """The longest piece that a stick of each material gives."""
    found: dict[str, int] = {}
    for material, _, _, _, reach, had in _sticks(day):
        if had != 0:
            found[material] = max(found.get(material, 0), reach)
    return found


def ways_of(day: Day, longest: dict[str, int]) -> set[Way] | None:
    """Every different set of pieces that makes the day; None where a run can't be made."""
    fixed: dict[Kind, int] = {}
    for p in day.parts:
        if p.rule is Rule.PART and p.qty:
            kind = (p.length, tuple(sorted({p.material, *p.alt})), False)
            fixed[kind] = fixed.get(kind, 0) + p.qty
    ways: set[Way] = {tuple(sorted(fixed.items(), reverse=True))}
    for copy in _copies(day, longest):
        if not copy:
            return None
        ways = {_added(way, pieces) for way in ways for pieces in copy}
    return ways


def _added(way: Way, pieces: Way) -> Way:
    now = dict(way)
    for kind, n in pieces:
        now[kind] = now.get(kind, 0) + n
    return tuple(sorted(now.items(), reverse=True))


def _copies(day: Day, longest: dict[str, int]) -> Iterator[set[Way]]:
    """For every copy of every run (mates together) the sets of pieces it can be made of."""
    for here, clear in together(day):
        sets = set()
        for joints in product(*(list(joints_of(q, day, longest)) for q in here)):
            if any(
                abs(a - b) < gap
                for (i, j), gap in clear.items()
                for a in joints[i]
                for b in joints[j]
            ):
                continue
            pieces: dict[Kind, int] = {}
            for q, at in zip(here, joints, strict=True):
                ends = (0, *at, q.length)
                for a, b in pairwise(ends):
                    kind = (b - a, _codes(q, b - a, len(at), day), a > 0)
                    pieces[kind] = pieces.get(kind, 0) + 1
            sets.add(tuple(sorted(pieces.items())))
        yield sets


def together(day: Day) -> Iterator[tuple[list[Part], dict[tuple[int, int], int]]]:
    """Copies of runs that hang together by mates, with the clearance between any two of them."""
    runs = [p for p in day.parts if p.rule is Rule.JOINTED]
    for copy in range(max((p.qty for p in runs), default=0)):
        left = [p for p in runs if copy < p.qty]
        while left:
            here = [left.pop(0)]
            for q in here:
                here += (near := [p for p in left if _gap(p, q)])
                left = [p for p in left if p not in near]
            pairs = combinations(range(len(here)), 2)
            yield here, {(i, j): gap for i, j in pairs if (gap := _gap(here[i], here[j]))}


def _gap(p: Part, q: Part) -> int:
    """The clearance that two runs must keep: it is enough that one names the other."""
    if p.section != q.section:
        return 0
    assert p.joints is not None
    assert q.joints is not None
    named = [r.joints.clear for r, s in ((p, q), (q, p)) if r.joints and r.joints.mate == s.mark]
    return max(named, default=0)


def joints_of(p: Part, day: Day, longest: dict[str, int]) -> Iterator[tuple[int, ...]]:
    """Every set of joints that a run alone allows."""
    assert p.joints is not None
    codes = (p.material, *p.alt)
    most = max(longest.get(m, 0) for m in codes)
    places = [x for x in range(p.joints.first, p.length, max(p.joints.step, 1)) if 0 < x < p.length]
    for n in range(len(places) + 1):
        for at in combinations(places, n):
            ends = (0, *at, p.length)
            sizes = [b - a for a, b in pairwise(ends)]
            if max(sizes) <= most and all(_codes(p, size, n, day) for size in sizes):
                yield at


def _codes(p: Part, size: int, joints: int, day: Day) -> tuple[str, ...]:
    """The materials whose shortest piece this is not below; a run of one piece may be shorter."""
    return tuple(
        sorted(
            m
            for m in {p.material, *p.alt}
            if not joints or size >= day.rules.for_lumber(m).joint_min_piece
        )
    )


class _Least:
    """Sticks filled one after the other, each with the first kind left and anything beside."""

    def __init__(self, day: Day, sticks: list[Stick]) -> None:
        self._day, self._sticks = day, sticks
        self._memo: dict[tuple[Way, tuple[int | None, ...]], Fraction | None] = {}

    def __call__(self, way: Way) -> Fraction | None:
        return self._rest(way, tuple(had for *_, had in self._sticks))

    def _rest(self, left: Way, had: tuple[int | None, ...]) -> Fraction | None:
        if not left:
            return Fraction(0)
        if (left, had) in self._memo:
            return self._memo[left, had]
        best: Fraction | None = None
        for s, (material, length, price, usable, reach, _) in enumerate(self._sticks):
            stock = had[s]
            if stock == 0 or material not in left[0][0][1]:
                continue
            rules = self._day.rules.for_lumber(material)
            now = had if stock is None else (*had[:s], stock - 1, *had[s + 1 :])
            for cuts in _fills(left, material, reach + rules.kerf, rules.kerf, rules.max_parts):
                fill = sum(q * (k[0] + rules.kerf) for q, (k, _) in zip(cuts, left, strict=True))
                joints = sum(q for q, (k, _) in zip(cuts, left, strict=True) if k[2])
                drop = usable - fill
                if not _may_leave(drop, rules.least_left):
                    continue
                cost = stick_cost(price, length, drop, rules.keep_drop, rules.drop_value)
                cost += joints * Fraction(rules.joint_price)
                if best is not None and cost >= best:
                    continue
                after = tuple((k, n - q) for q, (k, n) in zip(cuts, left, strict=True) if n > q)
                more = self._rest(after, now)
                if more is not None and (best is None or cost + more < best):
                    best = cost + more
        self._memo[left, had] = best
        return best


def _fills(left: Way, material: str, room: int, kerf: int, most: int) -> Iterator[tuple[int, ...]]:
    """Every filling of a stick with at least one of the first kind."""

    def more(i: int, room: int, parts: int) -> Iterator[tuple[int, ...]]:
        if i == len(left):
            yield ()
            return
        kind, n = left[i]
        fits = min(n, room // (kind[0] + kerf), parts) if material in kind[1] else 0
        for q in range(fits, 0 if i == 0 else -1, -1):
            for rest in more(i + 1, room - q * (kind[0] + kerf), parts - q):
                yield (q, *rest)

    return more(0, room, most or sum(n for _, n in left))
