"""Small groups of sheet materials, what must hold of any outcome, and an exact search by hand.

The search shares nothing with the solver: it asks of every subset of the pieces whether a sheet
can hold it by the cutting rule, straight from the words of the rule, and adds up sheets over all
ways to part the pieces. It is slow and only for a handful of pieces.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from functools import cache

from cutopt.cutlist import Joints, Part, Rule
from cutopt.materials import FirstCut, Kind, Offer, Per, Rules, SheetRules
from cutopt.plan import Group
from cutopt.plan.guillotine import Axis, Rect, first_axes, guillotine
from cutopt.records import Place
from cutopt.solve.outcome import Outcome

Size = tuple[int, int]
#: length, width, qty, turn
Asked = tuple[int, int, int, bool]
#: length, width, price, available
Had = tuple[int, int, int, int | None]


def make(
    parts: Sequence[Asked],
    sheets: Sequence[Had],
    rules: SheetRules | None = None,
    material: str = "OSB-7/16",
) -> Group:
    """A group of one material."""
    offers = tuple(
        Offer(n + 2, material, Kind.SHEET, None, a, b, Decimal(price), Per.EACH, 0, available)
        for n, (a, b, price, available) in enumerate(sheets)
    )
    asked = tuple(
        Part(Place("cuts/walls.csv", n + 2), "S1", "Wall", f"P{n}", material, a, b, qty, turn=turn)
        for n, (a, b, qty, turn) in enumerate(parts)
    )
    rules = rules or SheetRules(kerf=0)
    return Group((material,), Kind.SHEET, asked, offers, Rules(sheets=rules))


def run(
    mark: str,
    length: int,
    width: int,
    first: int,
    step: int,
    material: str = "OSB-7/16",
    qty: int = 1,
) -> Part:
    """A jointed run."""
    return Part(
        Place("cuts/ridges.csv", 2),
        "S1",
        "Ridge",
        mark,
        material,
        length,
        width,
        qty,
        rule=Rule.JOINTED,
        joints=Joints(first, step),
    )


def cost_of(group: Group, outcome: Outcome) -> Fraction:
    """Stock less credit plus joints, added up from the uses."""
    total = Fraction(0)
    for use in outcome.uses:
        total += use.offer.cost * use.count
        offer = use.offer
        share = Fraction(group.rules.for_sheets(offer.material).drop_value)
        assert offer.width is not None
        for d in use.drops:
            if d.kept:
                assert d.width is not None
                area = Fraction(d.length * d.width, offer.length * offer.width)
                total -= share * offer.cost * area * use.count
    pieces: dict[tuple[str, str | None], int] = {}
    for item in outcome.items:
        for p in item.pieces:
            if p.run is not None:
                pieces[p.part.section, p.run] = pieces.get((p.part.section, p.run), 0) + p.qty
    price = Fraction(group.rules.for_lumber(group.materials[0]).joint_price)
    return total + price * sum(n - 1 for n in pieces.values())


def check(group: Group, outcome: Outcome) -> None:
    """What must hold of every outcome: counts, places, cuts, drops, limits, bound."""
    cut = [0] * len(outcome.items)
    taken: dict[int, int] = {}
    for use in outcome.uses:
        assert use.count > 0
        assert use.offer in group.offers
        taken[use.offer.row] = taken.get(use.offer.row, 0) + use.count
        rule = group.rules.for_sheets(use.offer.material)
        whole = any(
            p.part.rule is Rule.FULL_SPAN for s in use.spots for p in outcome.items[s.item].pieces
        )
        edge = 0 if whole else rule.edge_trim
        rects = []
        for s in use.spots:
            item = outcome.items[s.item]
            cut[s.item] += use.count
            assert use.offer.material in item.materials
            assert item.width is not None
            assert item.turn or not s.turned
            a, b = (item.width, item.length) if s.turned else (item.length, item.width)
            rects.append(Rect(s.x, s.y, a, b))
        assert use.offer.width is not None
        length, width = use.offer.length - 2 * edge, use.offer.width - 2 * edge
        kept = [Rect(d.x, d.y, d.length, d.width or 0) for d in use.drops if d.kept]
        cuttings = [
            guillotine(rects, length, width, rule.kerf, axis, rule.stages, kept)
            for axis in first_axes(rule.first_cut)
        ]
        drops = sorted((d.x, d.y, d.length, d.width) for d in use.drops)
        assert any(
            c is not None and drops == sorted((d.x, d.y, d.length, d.width) for d in c.drops)
            for c in cuttings
        )
        for d in use.drops:
            assert d.width is not None
            least = rule.keep_drop
            assert d.kept == (d.length >= least[0] and d.width >= least[1])
    assert cut == [item.demand for item in outcome.items]
    for offer in group.offers:
        assert offer.available is None or taken.get(offer.row, 0) <= offer.available
    assert outcome.bound <= cost_of(group, outcome)
    asked = {id(p): p.qty for p in group.parts if p.rule is Rule.PART}
    for item in outcome.items:
        for p in item.pieces:
            if p.part.rule is Rule.PART:
                assert (p.length, p.width) == (p.part.length, p.part.width)
    planned = sum(i.demand for i in outcome.items)
    if all(p.rule is Rule.PART for p in group.parts):
        out = sum(u.qty for _, u in outcome.unplanned)
        assert planned + out == sum(asked.values())


def least_cost(parts: Sequence[Asked], sheets: Sequence[Had], rules: SheetRules) -> Fraction | None:
    """The least cost over every way to part the pieces among sheets; None where there is none."""
    pieces = [(a, b, turn) for a, b, qty, turn in parts for _ in range(qty)]
    everything = (1 << len(pieces)) - 1

    def held(mask: int, sheet: Had) -> bool:
        members = tuple(sorted(pieces[i] for i in range(len(pieces)) if mask >> i & 1))
        length, width = sheet[0] - 2 * rules.edge_trim, sheet[1] - 2 * rules.edge_trim
        return any(
            fits(members, length, width, axis, rules.stages, rules.kerf)
            for axis in first_axes(rules.first_cut)
        )

    options: list[list[tuple[int, int]]] = [[] for _ in pieces]
    for mask in range(1, everything + 1):
        lowest = (mask & -mask).bit_length() - 1
        for q, sheet in enumerate(sheets):
            if held(mask, sheet):
                options[lowest].append((mask, q))

    @cache
    def least(left: int, used: tuple[int, ...]) -> int | None:
        if not left:
            return 0
        lowest = (left & -left).bit_length() - 1
        best: int | None = None
        for mask, q in options[lowest]:
            limit = sheets[q][3]
            if mask & ~left or (limit is not None and used[q] >= limit):
                continue
            counted = tuple(n + (i == q and limit is not None) for i, n in enumerate(used))
            rest = least(left & ~mask, counted)
            if rest is not None and (best is None or rest + sheets[q][2] < best):
                best = rest + sheets[q][2]
        return best

    found = least(everything, (0,) * len(sheets))
    return None if found is None else Fraction(found)


@cache
def fits(
    members: tuple[tuple[int, int, bool], ...],
    length: int,
    width: int,
    axis: Axis,
    stages: int,
    kerf: int,
) -> bool:
    """Whether the pieces can be cut from a region whose next cuts run along `axis`."""
    if sum(a * b for a, b, _ in members) > length * width:
        return False
    if len(members) == 1:
        a, b, turn = members[0]
        ways = [(a, b), (b, a)] if turn else [(a, b)]
        if stages >= 1:
            return any(x <= length and y <= width for x, y in ways)
        # No stage left: one trimming cut along this axis, the other measure must be exact.
        if axis is Axis.RIP:
            return any(x == length and y <= width for x, y in ways)
        return any(x <= length and y == width for x, y in ways)
    if stages == 0:
        return False
    size = width if axis is Axis.RIP else length
    others = range(1, 1 << len(members))
    for mask in others:
        if not mask & 1:
            continue
        near = tuple(m for i, m in enumerate(members) if mask >> i & 1)
        far = tuple(m for i, m in enumerate(members) if not mask >> i & 1)
        for h in _sums(near, size, kerf):
            low = (length, h) if axis is Axis.RIP else (h, width)
            if not fits(near, *low, axis.other, stages - 1, kerf):
                continue
            if not far:
                return True
            rest = size - h - kerf
            high = (length, rest) if axis is Axis.RIP else (rest, width)
            if rest > 0 and fits(far, *high, axis, stages, kerf):
                return True
            break
    return False


@cache
def _sums(members: tuple[tuple[int, int, bool], ...], most: int, kerf: int) -> tuple[int, ...]:
    """Extents that a strip of these pieces may have: sums of some of their measures, and kerfs."""
    found = {0}
    for a, b, _ in members:
        found |= {s + m + kerf for s in found for m in (a, b)}
    return tuple(sorted(s - kerf for s in found if 0 < s - kerf <= most))


__all__ = [
    "FirstCut",
    "Had",
    "check",
    "cost_of",
    "fits",
    "least_cost",
    "make",
    "run",
]
