"""A group's sheet materials as the solver sees them: kinds of parts, sheets, benches.

Parts and sheets are all made a kerf larger, so that n parts side by side fill a sheet exactly
where their sizes and n − 1 kerfs do: the last cut takes only what is left.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

import numpy as np

from cutopt.materials import Edge, Edges, Offer, Rules
from cutopt.plan import Group
from cutopt.plan.guillotine import Axis, first_axes
from cutopt.solve.demand import Item
from cutopt.solve.runs import Cut
from cutopt.solve.sheets.lie import edges_left, has_edge, rips
from cutopt.solve.sheets.points import Ints

__all__ = ["Bench", "Kind", "Model", "Sheet", "Variant", "Want", "model_of", "want_of"]


#: Material, length, width and the edges that count.
_Size = tuple[str, int, int, Edges]

#: What tells one item from another is what tells one piece of a jointed run from another.
Want = Cut


@dataclass(frozen=True, slots=True)
class Kind:
    """Parts that may change places on a sheet: pieces of one size, a turned twin among them.

    `members` are (piece, swapped): swapped where the piece's length is the kind's width.
    """

    length: int
    width: int
    turn: bool
    materials: tuple[str, ...]
    need: int
    members: tuple[tuple[Want, bool], ...]
    edge: Edge = Edge.NONE


@dataclass(frozen=True, slots=True)
class Sheet:
    """Offers that cost and measure the same. `length` and `width` are usable, a kerf added.

    `credit` is dollars per count squared of a kept drop, `base` what the sheet would cost if all
    of it came back as kept drops: with the credit for the parts' area added, no pattern costs
    less. `available` is None for no limit that could matter. `edges` are the factory edges that
    parts can keep; where no part asks for any, all sheets are alike.
    """

    material: str
    length: int
    width: int
    cost: Fraction
    credit: Fraction
    available: int | None
    offers: tuple[Offer, ...]
    base: Fraction
    edges: Edges = Edges.BOTH


@dataclass(frozen=True, slots=True)
class Variant:
    """A kind as it may lie on a bench's sheets, kerf added."""

    kind: int
    turned: bool
    length: int
    width: int


@dataclass(frozen=True, slots=True)
class Bench:
    """Sheets of one material that earn the same credit per area, and how they are cut.

    They have the same factory `edges`; `edged` is whether any part asks for one. `max_parts` is
    the most parts of one sheet, 0 for no limit.
    """

    material: str
    kerf: int
    stages: int
    axes: tuple[Axis, ...]
    credit: Fraction
    sheets: tuple[int, ...]
    variants: tuple[Variant, ...]
    edges: Edges = Edges.BOTH
    edged: bool = False
    max_parts: int = 0


@dataclass(frozen=True)
class Model:
    """`need` per kind may be 0 where a kind stands for pieces of jointed runs alone.

    `most` is the most of a kind that any plan can use.
    """

    kinds: tuple[Kind, ...]
    sheets: tuple[Sheet, ...]
    benches: tuple[Bench, ...]
    most: tuple[int, ...]

    @cached_property
    def need(self) -> Ints:
        """Demand per kind, shape (kinds,)."""
        return np.array([k.need for k in self.kinds], dtype=np.int64)

    @cached_property
    def edged(self) -> bool:
        """Whether any part asks for a factory edge."""
        return any(b.edged for b in self.benches)

    @cached_property
    def counted(self) -> bool:
        """Whether any sheet may give so many parts at most."""
        return any(b.max_parts for b in self.benches)

    @property
    def ruled(self) -> bool:
        """Whether patterns keep rules that the plain listing of patterns does not know."""
        return self.edged or self.counted

    @cached_property
    def kind_of(self) -> dict[Want, int]:
        """The kind of each piece that is told apart."""
        return {want: i for i, kind in enumerate(self.kinds) for want, _ in kind.members}

    @cached_property
    def areas(self) -> tuple[int, ...]:
        """Finished area per kind, counts squared."""
        return tuple(k.length * k.width for k in self.kinds)

    @cached_property
    def bench_of(self) -> tuple[Bench, ...]:
        """The bench of each sheet."""
        found: dict[int, Bench] = {}
        for bench in self.benches:
            for q in bench.sheets:
                found[q] = bench
        return tuple(found[q] for q in range(len(self.sheets)))


def _sheets(offers: Sequence[Offer], rules: Rules, pieces: int, edged: bool) -> tuple[Sheet, ...]:
    """Equal offers together; an unlimited one makes dearer ones of its size pointless."""

    def size_of(o: Offer) -> _Size:
        edges = edges_left(o, rules) if edged else Edges.BOTH
        return (o.material, o.length, o.width or 0, edges)

    cheapest: dict[_Size, Fraction] = {}
    for o in offers:
        if o.available is None:
            size = size_of(o)
            cheapest[size] = min(o.cost, cheapest.get(size, o.cost))
    together: dict[tuple[_Size, Fraction], list[Offer]] = {}
    for o in offers:
        size = size_of(o)
        if o.available == 0 or (size in cheapest and o.cost > cheapest[size]):
            continue
        together.setdefault((size, o.cost), []).append(o)
    found = []
    for ((material, length, width, edges), cost), members in together.items():
        rule = rules.for_sheets(material)
        usable = (length - 2 * rule.edge_trim, width - 2 * rule.edge_trim)
        if min(usable) <= 0:
            continue
        limits = [o.available for o in members]
        total = None if None in limits else sum(n for n in limits if n is not None)
        credit = Fraction(rule.drop_value) * cost / (length * width)
        found.append(
            Sheet(
                material=material,
                length=usable[0] + rule.kerf,
                width=usable[1] + rule.kerf,
                cost=cost,
                credit=credit,
                available=None if total is None or total >= pieces else total,
                offers=tuple(members),
                base=cost - credit * usable[0] * usable[1],
                edges=edges,
            )
        )
    return tuple(sorted(found, key=lambda s: (s.material, -s.length, -s.width, s.cost)))


def _kinds(need: Mapping[Want, int]) -> tuple[Kind, ...]:
    groups: dict[Want, list[tuple[Want, bool]]] = {}
    for want in need:
        length, width = want.length, want.width or 0
        swapped = want.turn and width > length
        if swapped:
            length, width = width, length
        key = Want(length, width, want.turn, want.materials, want.edge)
        groups.setdefault(key, []).append((want, swapped))
    return tuple(
        Kind(
            length=key.length,
            width=key.width or 0,
            turn=key.turn,
            materials=key.materials,
            need=sum(need[want] for want, _ in members),
            members=tuple(members),
            edge=key.edge,
        )
        for key, members in sorted(
            groups.items(), key=lambda g: (-g[0].length, -(g[0].width or 0), g[0])
        )
    )


def want_of(item: Item) -> Want:
    """What tells this item from another."""
    return Want(item.length, item.width, item.turn, item.materials, item.edge)


def model_of(group: Group, need: Mapping[Want, int], extra: Mapping[Want, int]) -> Model:
    """The model of what is wanted; every piece fits some sheet.

    Parameters
    ----------
    group
        Offers and rules.
    need
        How many of each are wanted.
    extra
        Pieces that jointed runs may ask for beside them, with the most that they can use.
    """
    kinds = _kinds({want: need.get(want, 0) for want in {**need, **extra}})
    most = tuple(k.need + sum(extra.get(want, 0) for want, _ in k.members) for k in kinds)
    edged = any(k.edge for k in kinds)
    sheets = _sheets(group.offers, group.rules, sum(most), edged)
    groups: dict[tuple[str, Fraction, Edges, int], list[int]] = {}
    for q, sheet in enumerate(sheets):
        offer = sheet.offers[0]
        # Stock too narrow to be ripped gives parts of its own width alone.
        width = sheet.width - group.rules.for_sheets(offer.material).kerf
        narrow = 0 if rips(width, replace(offer, width=None), group.rules) else width
        groups.setdefault((sheet.material, sheet.credit, sheet.edges, narrow), []).append(q)
    benches = []
    for (material, credit, edges, _), members in groups.items():
        rule = group.rules.for_sheets(material)
        longest = max(sheets[q].length for q in members)
        widest = max(sheets[q].width for q in members)
        offers = [sheets[q].offers[0] for q in members]
        variants = []
        for i, kind in enumerate(kinds):
            if material not in kind.materials or not most[i]:
                continue
            ways = [(False, kind.length, kind.width)]
            if kind.turn and kind.length != kind.width:
                ways.append((True, kind.width, kind.length))
            variants += [
                Variant(i, turned, a + rule.kerf, b + rule.kerf)
                for turned, a, b in ways
                if a + rule.kerf <= longest and b + rule.kerf <= widest
                if any(
                    rips(b, o, group.rules) and has_edge(kind.edge, b, o, group.rules)
                    for o in offers
                )
            ]
        if variants:
            benches.append(
                Bench(
                    material=material,
                    kerf=rule.kerf,
                    stages=rule.stages,
                    axes=first_axes(rule.first_cut),
                    credit=credit,
                    sheets=tuple(members),
                    variants=tuple(variants),
                    edges=edges,
                    edged=any(kinds[v.kind].edge for v in variants),
                    max_parts=rule.max_parts,
                )
            )
    used = sorted({q for b in benches for q in b.sheets})
    number = {q: n for n, q in enumerate(used)}
    return Model(
        kinds=kinds,
        sheets=tuple(sheets[q] for q in used),
        benches=tuple(replace(b, sheets=tuple(number[q] for q in b.sheets)) for b in benches),
        most=most,
    )
