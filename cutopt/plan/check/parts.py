"""Ordinary parts: every row of the cut lists as often as asked, or left out with a reason."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from cutopt.cutlist import Part, Rule
from cutopt.materials import Edges, Kind
from cutopt.plan.check.asked import Asked, PlainKey, Shop, assign
from cutopt.plan.check.seen import SeenPlan
from cutopt.plan.check.sheet_rules import may_lie
from cutopt.plan.check.told import Told, count

__all__ = ["check_left_out", "check_parts", "size_words"]


@dataclass(frozen=True, slots=True)
class _Kind:
    """Parts that the same rows may have asked for."""

    material: str
    turned: bool
    asked: str | None
    edge: str = ""
    left_out: bool = False


@dataclass(slots=True)
class _Tally:
    pieces: int = 0
    layouts: list[str] = field(default_factory=list)


def check_parts(plan: SeenPlan, asked: Asked, told: Told) -> None:
    """Count the parts that are neither rows of a field nor pieces of a run."""
    found: dict[PlainKey, dict[_Kind, _Tally]] = defaultdict(lambda: defaultdict(_Tally))
    for material in plan.materials:
        for layout in material.layouts:
            for part in layout.parts:
                if part.run is None and not asked.span_rows(part, material.material):
                    key = (part.section, part.mark, part.length, part.width)
                    kind = _Kind(material.material, part.turned, part.asked, part.edge)
                    found[key][kind].pieces += layout.count
                    found[key][kind].layouts.append(f"layout {layout.id}")
        for missing in material.unplanned:
            rows = [r for r in asked.left_out(missing, material.material) if r.rule is Rule.PART]
            if rows:
                width = _key_width(rows[0], asked)
                key = (missing.section, missing.mark, missing.length, width)
                kind = _Kind(material.material, False, None, left_out=True)
                found[key][kind].pieces += missing.qty
    for key in sorted({*found, *asked.plain}, key=str):
        _count(key, found.get(key, {}), asked, told)


def _key_width(row: Part, asked: Asked) -> int | None:
    as_sheet = asked.plain.get((row.section, row.mark, row.length, row.width), [])
    return row.width if row in as_sheet else None


def _count(key: PlainKey, found: dict[_Kind, _Tally], asked: Asked, told: Told) -> None:
    section, mark, length, width = key
    part = f"part {mark} for {section}, {size_words(length, width, told)}"
    rows = asked.plain.get(key, [])
    if not rows:
        for kind, tally in found.items():
            places = ", ".join(dict.fromkeys(tally.layouts))
            told(f"{kind.material}, {places}", f"{part}, was never asked{_hint(key, asked, told)}")
        return
    kinds = list(found)
    for kind in kinds:
        if not any(_fits(kind, row) for row in rows):
            _unfit(kind, found[kind], part, rows, told)
    fitting = [kind for kind in kinds if any(_fits(kind, row) for row in rows)]
    want = [row.qty for row in rows]
    have = [found[kind].pieces for kind in fitting]
    total = sum(tally.pieces for tally in found.values())
    left_out = sum(tally.pieces for kind, tally in found.items() if kind.left_out)
    where = f"{rows[0].material}, {part}"
    if total != sum(want):
        beside = f" and {left_out} left out" if left_out else ""
        told(where, f"asked for {sum(want)}, {total - left_out} cut{beside}")
    elif sum(have) == total and any(assign(have, want, lambda i, j: _fits(fitting[i], rows[j]))):
        told(where, "not every row gets its number in a material and position that it allows")


def _fits(kind: _Kind, row: Part) -> bool:
    if kind.left_out:
        return kind.material == row.material
    if kind.asked is not None and kind.asked != row.material:
        return False
    if kind.edge != row.edge.value:
        return False
    return kind.material in row.materials and (row.turn or not kind.turned)


def _unfit(kind: _Kind, tally: _Tally, part: str, rows: Sequence[Part], told: Told) -> None:
    where = f"{kind.material}, {', '.join(dict.fromkeys(tally.layouts))}"
    allowed = sorted({m for row in rows for m in row.materials})
    asks = sorted({row.material for row in rows})
    if kind.material not in allowed:
        told(where, f"{part}, is cut from {kind.material}, allowed: {', '.join(allowed)}")
    elif kind.asked is not None and kind.asked not in asks:
        told(where, f"{part}, says asked '{kind.asked}', the cut list says {', '.join(asks)}")
    elif kind.edge not in {row.edge.value for row in rows}:
        edges = " or ".join(sorted({repr(row.edge.value) for row in rows}))
        told(where, f"{part}, says edge {kind.edge!r}, the cut list says {edges}")
    elif kind.turned and not any(row.turn for row in rows):
        told(where, f"{part}, is turned, the cut list says turn no")
    else:
        told(where, f"{part}, lies as no row of the cut lists allows")


def _hint(key: PlainKey, asked: Asked, told: Told) -> str:
    rows = asked.marks.get((key[0], key[1]), [])
    if not rows:
        return ""
    row = rows[0]
    size = size_words(row.length, row.width, told)
    if row.rule is Rule.JOINTED:
        return f"; the mark is a jointed run of {size}, whose pieces name their run"
    if row.rule is Rule.FULL_SPAN:
        return f"; the mark is a ceiling field of span x run {size}"
    return f"; the mark is asked as {size}"


def size_words(length: int, width: int | None, told: Told) -> str:
    """A size for a person."""
    return told.show(length) if width is None else f"{told.show(length)} x {told.show(width)}"


def check_left_out(plan: SeenPlan, asked: Asked, shop: Shop, told: Told) -> None:
    """What is left out was asked for, has a reason, and could not simply have been cut."""
    used: dict[int, int] = defaultdict(int)
    for material in plan.materials:
        for layout in material.layouts:
            used[layout.row] += layout.count
    # Where other parts share a ceiling's material, their lengths count among those that it may buy.
    shared = {
        m
        for rows in asked.marks.values()
        for r in rows
        for m in r.materials
        if r.rule is not Rule.FULL_SPAN
    }
    closed = _closed_lengths(plan, asked, shop)
    for material in plan.materials:
        for missing in material.unplanned:
            size = size_words(missing.length, missing.width, told)
            where = f"{material.material}, unplanned {missing.mark} for {missing.section}, {size}"
            if not missing.reason.strip():
                told(where, "no reason is given, promised one")
            rows = asked.left_out(missing, material.material)
            if not rows:
                told(where, "was never asked")
            else:
                _cuttable(rows[0], shop, used, shared, closed, where, told)


def _closed_lengths(plan: SeenPlan, asked: Asked, shop: Shop) -> set[int]:
    """Rows of which nothing more is bought: a ceiling material's board lengths are all used."""
    ceilings = {m for rows in asked.spans.values() for r in rows for m in r.materials}
    bought: dict[str, set[int]] = defaultdict(set)
    for material in plan.materials:
        for layout in material.layouts:
            if layout.source == "buy":
                bought[material.material].add(layout.length)
    closed = set()
    for row, offer in shop.offers.items():
        most = shop.rules.for_ceiling(offer.material).order_lengths
        lengths = bought[offer.material]
        full = most and offer.material in ceilings and len(lengths) >= most
        if full and offer.length not in lengths:
            closed.add(row)
    return closed


def _cuttable(
    row: Part,
    shop: Shop,
    used: Mapping[int, int],
    shared: Collection[str],
    closed: Collection[int],
    where: str,
    told: Told,
) -> None:
    """Whole stock without limit, or left over, from which the part alone could be cut."""
    for offer in shop.offers.values():
        if offer.material not in row.materials:
            continue
        free = None if offer.limit is None else offer.on_hand + offer.limit - used.get(offer.row, 0)
        if offer.row in closed:
            free = offer.on_hand - used.get(offer.row, 0)
        if free is not None and free < 1:
            continue
        if row.rule is Rule.FULL_SPAN:
            # A field shares its board lengths with others: what is left over proves nothing.
            few = shop.rules.for_ceiling(offer.material).order_lengths
            if free is not None or (few and offer.material in shared):
                continue
        if shop.kinds.get(offer.material) is Kind.LUMBER:
            rules = shop.rules.for_lumber(offer.material)
            fits = row.length <= offer.counts_as - rules.head_trim
            left = offer.length - rules.head_trim - row.length - rules.kerf
            fits &= left <= 0 or left >= rules.least_left
        elif row.rule is Rule.FULL_SPAN:
            # A last row too narrow to rip, or a board without its edges, proves nothing.
            whole = (
                offer.edges is Edges.BOTH and not shop.rules.for_sheets(offer.material).least_rip
            )
            fits = row.length <= offer.length and whole
        else:
            fits = may_lie(row, offer, shop.rules.for_sheets(offer.material))
        if fits:
            have = "has no limit" if free is None else f"has {count(free, 'piece')} left"
            told(
                where,
                f"is left out, but row {offer.row} of stock.csv ({offer.material}, "
                f"{size_words(offer.length, offer.width, told)}) would do and {have}",
            )
            return
