"""Why a ceiling can't cost less: spans that waste the ends of their boards, lengths to order.

Here nothing stands at the margin. What a span costs is what its boards cost in the plan; what one
more length to order would save is at most what the plan costs above the bound of every choice of
so many lengths.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from fractions import Fraction

from cutopt.materials import Kind
from cutopt.plan import Group
from cutopt.plan.shortage import Cause, Shortage, counted_marks
from cutopt.plan.value import drop_credit
from cutopt.solve.ceiling.fields import Field
from cutopt.solve.ceiling.lengths import least_cost
from cutopt.solve.ceiling.model import BoardModel, Price
from cutopt.solve.demand import Item
from cutopt.solve.outcome import Use

__all__ = ["reasons"]


def reasons(
    group: Group,
    fields: Sequence[Field],
    lengths: dict[str, int],
    forced: frozenset[tuple[str, int]],
    items: Sequence[Item],
    uses: Sequence[Use],
    price: Price | None = None,
    in_time: bool = True,
) -> tuple[tuple[str, Shortage], ...]:
    """Spans that are dear, and what one more length to order would save at most.

    Parameters
    ----------
    fields, lengths, forced
        As the boards were chosen.
    items, uses
        The plan's rows, and the boards they are cut from.
    price
        As the boards were chosen.
    in_time
        Whether there is time for one more length, which takes a table of its own.
    """
    more = _lengths(group, fields, lengths, forced, uses, price) if in_time else ()
    return (*_spans(group, items, uses), *more)


def _cost(group: Group, use: Use) -> Fraction:
    credit = sum((drop_credit(use.offer, d, group.rules) for d in use.drops), Fraction(0))
    return (use.offer.cost - credit) * use.count


def _spans(
    group: Group, items: Sequence[Item], uses: Sequence[Use]
) -> Iterator[tuple[str, Shortage]]:
    price = {}
    for m in group.materials:
        offered = [o for o in group.offers if o.material == m and o.available != 0 and o.width]
        free = [o for o in offered if o.available is None] or offered
        price[m] = min((o.cost / (o.length * (o.width or 1)) for o in free), default=Fraction(0))
    rows: dict[tuple[str, int], int] = defaultdict(int)
    cost: dict[tuple[str, int], Fraction] = defaultdict(Fraction)
    plain: dict[tuple[str, int], Fraction] = defaultdict(Fraction)
    marks: dict[tuple[str, int], list[tuple[str, int]]] = defaultdict(list)
    for use in uses:
        for spot in use.spots:
            item = items[spot.item]
            key = (use.offer.material, item.length)
            rows[key] += use.count
            plain[key] += item.length * (item.width or 0) * use.count * price[key[0]]
        cost[use.offer.material, items[use.spots[0].item].length] += _cost(group, use)
    for item in items:
        for piece in item.pieces:
            marks[piece.materials[0], item.length].append((piece.part.mark, piece.qty))
    for key in sorted(rows):
        named, more = counted_marks(marks[key])
        yield (
            key[0],
            Shortage(
                Cause.SPAN,
                Kind.SHEET,
                key[1],
                None,
                rows[key],
                cost[key] / rows[key],
                plain[key] / rows[key],
                named,
                more,
            ),
        )


def _lengths(
    group: Group,
    fields: Sequence[Field],
    lengths: dict[str, int],
    forced: frozenset[tuple[str, int]],
    uses: Sequence[Use],
    price: Price | None,
) -> Iterator[tuple[str, Shortage]]:
    limited = [m for m, n in lengths.items() if n]
    if len(limited) != 1:
        return
    material = limited[0]
    more = {**lengths, material: lengths[material] + 1}
    build = BoardModel(group, fields, more, forced, False, price)
    least = least_cost(build)
    if least is None:
        return
    saved = sum((_cost(group, use) for use in uses), Fraction(0)) - Fraction(least, build.unit)
    if saved > 0:
        yield (
            material,
            Shortage(Cause.LENGTHS, Kind.SHEET, 0, None, lengths[material], saved),
        )
