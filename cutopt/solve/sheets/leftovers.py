"""What ceiling boards leave beside their rows, offered to other parts as stock of its own.

A row lies at its board's squared head and squared edge. What lies behind it along the board keeps
both factory edges; what lies beside a ripped row keeps the far one. Cuts that free the row are
stages of the board, so a leftover is cut by what stages are left:

* crosscuts first: the end behind the row is more slices of the same stage, all stages its own;
  beside a ripped row, rips and crosscuts are left (where rips must come first, a stage less of
  both);
* rips first: what lies beside a ripped row over the whole board is more strips of the same stage;
  the end of the row's own strip has crosscuts and rips left.

Each is a sheet of a material that exists only here, with the rule that is left, none of its edges
trimmed, at no price and as many as there are boards.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from cutopt.cutlist import Part
from cutopt.materials import Edges, FirstCut, Kind, Offer, Per, Rules, SheetRules
from cutopt.plan import Drop, Group
from cutopt.plan.guillotine import Axis, Rect, first_axes, guillotine
from cutopt.plan.value import keeps
from cutopt.solve.demand import Item
from cutopt.solve.outcome import Spot, Use

__all__ = [
    "Leftover",
    "around",
    "counted",
    "is_plain",
    "leftover_group",
    "leftovers_of",
    "merged",
    "plain_items",
    "plain_materials",
    "with_leftovers",
]

#: Between a material's code and what is left of its rule: no code holds it.
_MARK = "\x1f"


@dataclass(frozen=True, slots=True)
class Leftover:
    """A rectangle of a board beside its row, from the board's squared head and edge."""

    material: str
    x: int
    y: int
    length: int
    width: int
    first: FirstCut
    stages: int
    edges: Edges

    @property
    def code(self) -> str:
        """The material that stands for it."""
        return f"{self.material}{_MARK}{self.first.value}{self.stages}"


def leftovers_of(
    group: Group, offer: Offer, span: int, finished: int
) -> tuple[tuple[Leftover, ...], ...]:
    """What a board cut to a row can give besides: each way to cut it, its leftovers together."""
    rule = group.rules.for_sheets(offer.material)
    width = offer.width or 0
    over, rest = offer.length - span - rule.kerf, width - finished - rule.kerf
    edges = Edges.NONE if rule.edge_trim else offer.edges
    axes = first_axes(rule.first_cut)
    far = _only(edges, far=True)
    found: list[list[Leftover]] = []

    def left(x: int, y: int, a: int, b: int, first: FirstCut, n: int, keep: Edges) -> Leftover:
        return Leftover(offer.material, x, y, a, b, first, n, keep)

    behind, beside = span + rule.kerf, finished + rule.kerf
    # Where rips must come first they may part nothing, and crosscuts begin with what is left.
    stages = rule.stages if Axis.CROSS in axes else rule.stages - 1
    found.append(
        [
            left(behind, 0, over, width, FirstCut.CROSS, stages, edges),
            left(0, beside, span, rest, FirstCut.RIP, stages - 1, far),
        ]
    )
    if Axis.RIP in axes and finished < width:
        squared = _only(edges, far=False)
        found.append(
            [
                left(behind, 0, over, finished, FirstCut.CROSS, rule.stages - 1, squared),
                left(0, beside, offer.length, rest, FirstCut.RIP, rule.stages, far),
            ]
        )
    ways = (tuple(x for x in way if _useful(x, rule)) for way in found)
    if rule.max_parts:
        # The row is a part of its board; what is left of the number goes to one leftover.
        ways = (tuple(sorted(way, key=lambda x: -x.length * x.width)[:1]) for way in ways)
    return tuple(dict.fromkeys(way for way in ways if way))


def around(
    group: Group, offer: Offer, span: int, finished: int
) -> tuple[Leftover, Leftover, Leftover]:
    """Rectangles that hold all that can ever be cut beside a row, by the board's whole rule.

    Nothing behind the row reaches farther than the first, nothing beside it than the second,
    however the row is turned about within its board; what lies in both counts in both. The last is
    the board, which gives no more with the row than without.
    """
    rule = group.rules.for_sheets(offer.material)
    width = offer.width or 0
    over, rest = offer.length - span - rule.kerf, width - finished - rule.kerf

    def left(a: int, b: int) -> Leftover:
        return Leftover(offer.material, 0, 0, a, b, rule.first_cut, rule.stages, Edges.BOTH)

    return left(over, width), left(offer.length, rest), left(offer.length, width)


def _useful(left: Leftover, rule: SheetRules) -> bool:
    return (
        min(left.length, left.width) > 0
        and left.stages >= 1
        and left.width >= rule.least_rip
        and rule.max_parts != 1
    )


def _only(edges: Edges, far: bool) -> Edges:
    """The factory edges of a piece that keeps only one of the two."""
    keeps_it = edges.far if far else edges.squared
    wanted = Edges.TONGUE if far else Edges.GROOVE
    if edges is Edges.ONE and not far:
        return Edges.ONE
    return wanted if keeps_it == (wanted.far if far else wanted.squared) else Edges.NONE


def is_plain(text: str) -> bool:
    """Whether words name no leftover."""
    return _MARK not in text


def _rule(rule: SheetRules, left: Leftover) -> SheetRules:
    return replace(
        rule,
        edge_trim=0,
        stages=max(2, left.stages),
        first_cut=left.first,
        drop_value=Decimal(0),
        # In one stage and a trimming cut one part comes off: more would take as many cuts side by
        # side, which is left out.
        max_parts=1 if left.stages == 1 else max(0, rule.max_parts - 1),
        stack=1,
    )


def leftover_group(
    group: Group, offers: Iterable[Offer], lefts: Iterable[tuple[Leftover, int]], row: int
) -> Group:
    """The group with these offers, and leftovers among them; no parts.

    Parameters
    ----------
    offers
        What else can be had.
    lefts
        Each leftover with how many of it there are.
    row
        The row of the first; the others follow.
    """
    sheets_of = dict(group.rules.sheets_of)
    names = dict.fromkeys(group.materials)
    found = list(offers)
    for n, (left, count) in enumerate(lefts):
        sheets_of[left.code] = _rule(group.rules.for_sheets(left.material), left)
        names[left.code] = None
        found.append(
            Offer(
                row + n,
                left.code,
                Kind.SHEET,
                None,
                left.length,
                left.width,
                Decimal(0),
                Per.EACH,
                count,
                0,
                edges=left.edges,
            )
        )
    rules: Rules = replace(group.rules, sheets_of=sheets_of)
    return replace(group, materials=tuple(names), offers=tuple(found), rules=rules, parts=())


def with_leftovers(part: Part, group: Group) -> Part:
    """The part, allowed from the leftovers of every material that it allows."""
    more = (m for m in group.materials if m.partition(_MARK)[0] in part.materials and _MARK in m)
    return replace(part, alt=(*part.alt, *more))


def _plain_part(part: Part) -> Part:
    """The part as the cut list has it."""
    return replace(part, alt=tuple(m for m in part.alt if _MARK not in m))


def plain_items(items: Sequence[Item]) -> tuple[Item, ...]:
    """Items without leftovers among what they may be cut from."""
    return tuple(
        replace(
            item,
            materials=plain_materials(item.materials),
            pieces=tuple(
                replace(p, part=_plain_part(p.part), materials=plain_materials(p.materials))
                for p in item.pieces
            ),
        )
        for item in items
    )


def plain_materials(materials: Sequence[str]) -> tuple[str, ...]:
    """Materials without leftovers."""
    return tuple(m for m in materials if _MARK not in m)


def merged(
    group: Group,
    boards: Use,
    cuts: Sequence[tuple[Leftover, Sequence[Use]]],
    items: Sequence[Item],
    shift: int,
) -> list[Use]:
    """Boards with a row, and what is cut from their leftovers, as whole boards.

    Parameters
    ----------
    boards
        With the row alone.
    cuts
        Per leftover of one way to cut the board, what is cut from it: no more than there are
        boards.
    items
        The items of all uses in the end.
    shift
        How much the items' numbers grow.
    """
    ends: set[int] = {boards.count}
    runs: list[list[tuple[int, Leftover, Use]]] = []
    for left, uses in cuts:
        at, run = 0, []
        for use in uses:
            at += use.count
            run.append((at, left, use))
            ends.add(at)
        runs.append(run)
    found: list[Use] = []
    begin = 0
    for end in sorted(ends):
        spots = list(boards.spots)
        for run in runs:
            here = next(((left, use) for at, left, use in run if at > begin), None)
            if here is not None:
                left, use = here
                spots += [
                    Spot(s.item + shift, s.x + left.x, s.y + left.y, s.turned) for s in use.spots
                ]
        if len(spots) == len(boards.spots):
            found.append(replace(boards, count=end - begin))
        else:
            drops = _drops(group, boards.offer, spots, items)
            found.append(Use(boards.offer, tuple(spots), drops, end - begin))
        begin = end
    return [use for use in found if use.count]


def _drops(
    group: Group, offer: Offer, spots: Sequence[Spot], items: Sequence[Item]
) -> tuple[Drop, ...]:
    """What is left of a board in the end; of the ways to cut it the one that keeps most."""
    rule = group.rules.for_sheets(offer.material)
    rects = []
    for s in spots:
        along, across = items[s.item].length, items[s.item].width or 0
        rects.append(Rect(s.x, s.y, *((across, along) if s.turned else (along, across))))
    found: list[tuple[int, int, tuple[Drop, ...]]] = []
    for n, axis in enumerate(first_axes(rule.first_cut)):
        cutting = guillotine(rects, offer.length, offer.width or 0, rule.kerf, axis, rule.stages)
        if cutting is not None:
            drops = tuple(
                Drop(d.x, d.y, d.length, d.width, keeps(offer, d.length, d.width, group.rules))
                for d in cutting.drops
            )
            kept = sum(d.length * (d.width or 0) for d in drops if d.kept)
            found.append((-kept, n, drops))
    if not found:
        raise ValueError("what is left of a board can't be cut by the board's rule")
    return min(found)[2] if len(found) == 1 else min(found, key=lambda f: f[:2])[2]


def counted(lefts: Iterable[tuple[Leftover, int]]) -> dict[Leftover, int]:
    """How many of each leftover there are."""
    found: dict[Leftover, int] = defaultdict(int)
    for left, n in lefts:
        found[left] += n
    return dict(found)
