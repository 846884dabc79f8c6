"""What can't be cut from the sticks offered, and why, in words for the planner."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from cutopt.cutlist import Part
from cutopt.materials import Offer
from cutopt.measure import fits_inches
from cutopt.plan import Group, Unplanned
from cutopt.solve.demand import Item, Piece
from cutopt.solve.runs import Unit, reason
from cutopt.solve.words import shown

__all__ = ["fits_some", "impossible", "longest_piece", "misfits", "too_few", "too_few_for_runs"]

Refused = tuple[str, Unplanned]


def longest_piece(group: Group, materials: Sequence[str]) -> int:
    """The longest piece that any stick of these materials gives; 0 where none can be had."""
    return max(
        (
            o.counts_as - group.rules.for_lumber(o.material).head_trim
            for o in group.offers
            if o.material in materials and o.available != 0
        ),
        default=0,
    )


def fits_some(group: Group, item: Item) -> bool:
    """Whether one piece can be cut from some stick."""
    return item.length <= longest_piece(group, item.materials)


def misfits(group: Group, item: Item, change: str) -> list[Refused]:
    """Why an item fits no stick, for each row of the cut lists.

    `change` says what would do where a stick is long enough and none can be had.
    """
    names = ", ".join(item.materials)
    trim = min(group.rules.for_lumber(m).head_trim for m in item.materials)
    would = shown(item.length + trim)
    offers = [o for o in group.offers if o.material in item.materials]
    have = [o for o in offers if o.available != 0]
    if not have:
        out = "all are used up and none can be bought" if offers else "none is offered"
        why = f"no stick of {names} can be had ({out}); one of at least {would} would do"
        if (
            any(
                o.counts_as - group.rules.for_lumber(o.material).head_trim >= item.length
                for o in offers
            )
            and change
        ):
            why = f"no stick of {names} can be had ({out}); {change}"
    else:
        longest = max(
            have, key=lambda o: o.counts_as - group.rules.for_lumber(o.material).head_trim
        )
        why = f"longer than the longest stick of {names}, {shown(longest.length)}"
        if longest.over:
            why += f", which counts as {shown(longest.counts_as)}"
        cut = group.rules.for_lumber(longest.material).head_trim
        if cut:
            why += f" less {shown(cut)} of head trim"
        why += f"; a stick of at least {would} would do"
    return [_piece(p, p.qty, why) for p in item.pieces]


def _piece(piece: Piece, qty: int, why: str) -> Refused:
    part = piece.part
    return part.material, Unplanned(part.section, part.mark, piece.length, None, qty, why)


def _limits(offers: Sequence[Offer]) -> str:
    named = [
        f"{o.available} of {shown(o.length)} (row {o.row})"
        for o in offers
        if o.available is not None
    ]
    shown_first = named[:6]
    more = len(named) - len(shown_first)
    return ", ".join(shown_first) + (f" and {more} more rows" if more else "")


def _why_short(group: Group, materials: Sequence[str], length: int, change: str) -> str:
    offers = [
        o
        for o in group.offers
        if o.material in materials
        and o.available != 0
        and o.counts_as - group.rules.for_lumber(o.material).head_trim >= length
    ]
    if not any(o.available is not None for o in offers):
        least = max(group.rules.for_lumber(m).least_left for m in materials)
        return (
            f"no way to cut it with the other parts leaves nothing or at least {shown(least)} of "
            f"every stick of {', '.join(materials)} (least_left)"
        )
    return (
        f"the other parts take all the sticks that can be had under the limits: of "
        f"{', '.join(materials)} long enough {_limits(offers)}; "
        + (change or "a higher limit on one of them would do")
    )


def too_few(group: Group, piece: Piece, qty: int, change: str) -> Refused:
    """Parts left over once the sticks that can be had are cut; `change` says what would do."""
    return _piece(piece, qty, _why_short(group, piece.materials, piece.length, change))


def too_few_for_runs(group: Group, unit: Unit, copies: Sequence[int], change: str) -> list[Refused]:
    """Copies (indices) of a unit of runs for which no sticks are left."""
    rows: Counter[int] = Counter()
    parts: dict[int, Part] = {}
    for c in copies:
        for member in unit.members[c]:
            parts[id(member.part)] = member.part
            rows[id(member.part)] += 1
    return [
        _run(parts[key], n, _why_short(group, parts[key].materials, 1, change))
        for key, n in rows.items()
    ]


def impossible(unit: Unit) -> list[Refused]:
    """Why a unit can't be made of the sticks offered; empty where it can."""
    lengths = [n for r in unit.runs for n in (r.length, r.first, r.step, r.least, r.longest)]
    lengths += [gap for _, _, gap in unit.clear]
    why = reason(unit, "in" if all(fits_inches(n) for n in lengths) else "mm")
    if why is None:
        return []
    rows: Counter[int] = Counter()
    parts: dict[int, Part] = {}
    for copy in unit.members:
        for member in copy:
            parts[id(member.part)] = member.part
            rows[id(member.part)] += 1
    return [_run(parts[key], n, why) for key, n in rows.items()]


def _run(part: Part, qty: int, why: str) -> Refused:
    return part.material, Unplanned(part.section, part.mark, part.length, None, qty, why)
