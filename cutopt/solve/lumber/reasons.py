"""Why a stick plan can't cost less: what the worths that prove its bound say of parts and limits.

The worths of all pieces, less what limited sticks gain, add up to the bound. So what a piece is
worth beyond its own wood is what its length costs the plan.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from cutopt.materials import Kind as MaterialKind
from cutopt.plan import Group
from cutopt.plan.shortage import Cause, Shortage, counted_marks
from cutopt.solve.demand import Item
from cutopt.solve.lumber.bound import Worths
from cutopt.solve.lumber.model import Kind, Model
from cutopt.solve.lumber.runs import RunPricer

__all__ = ["reasons"]


def reasons(
    group: Group, model: Model, runs: RunPricer, worths: Worths, items: Sequence[Item]
) -> tuple[tuple[str, Shortage], ...]:
    """What is dear and what is short, each beside the material that was asked for.

    Parameters
    ----------
    model, runs, worths
        As the bound was proved with them.
    items
        What was planned; pieces of jointed runs among them are told with their runs.
    """
    price = _prices(group, model)
    return (
        *_parts(group, model, worths, items, price),
        *_runs(group, runs, worths, price),
        *_limits(model, worths),
    )


def _prices(group: Group, model: Model) -> dict[str, Fraction]:
    """Per material, the least price of a count of length, a kerf added, without a limit."""
    prices: dict[str, Fraction] = {}
    for grid, stocks in zip(model.grids, model.stocks_of, strict=True):
        kerf = group.rules.for_lumber(grid.material).kerf
        offered = [model.stocks[k] for k in stocks]
        free = [s for s in offered if s.available is None] or offered
        if free:
            prices[grid.material] = min(s.cost / (s.usable - s.over + kerf) for s in free)
    return prices


def _plain(
    group: Group, price: dict[str, Fraction], length: int, materials: Sequence[str]
) -> Fraction:
    return min(
        ((length + group.rules.for_lumber(m).kerf) * price[m] for m in materials if m in price),
        default=Fraction(0),
    )


def _parts(
    group: Group,
    model: Model,
    worths: Worths,
    items: Sequence[Item],
    price: dict[str, Fraction],
) -> Iterator[tuple[str, Shortage]]:
    index = {kind: i for i, kind in enumerate(model.kinds)}
    for item in items:
        pieces = [p for p in item.pieces if p.run is None]
        i = index.get(Kind(item.length, item.materials))
        if not pieces or i is None:
            continue
        marks, more = counted_marks((p.part.mark, p.qty) for p in pieces)
        yield (
            max(pieces, key=lambda p: p.qty).part.material,
            Shortage(
                Cause.PART,
                MaterialKind.LUMBER,
                item.length,
                None,
                sum(p.qty for p in pieces),
                Fraction(int(worths.piece[i])) / worths.scale,
                _plain(group, price, item.length, item.materials),
                marks,
                more,
            ),
        )


def _runs(
    group: Group, runs: RunPricer, worths: Worths, price: dict[str, Fraction]
) -> Iterator[tuple[str, Shortage]]:
    """Units of runs of like length and rules are one unit already."""
    for unit, copies, worth in zip(runs.units, runs.copies.tolist(), worths.unit, strict=True):
        if not copies:
            continue
        members = unit.members[:copies]
        marks, more = counted_marks((m.part.mark, 1) for copy in members for m in copy)
        yield (
            members[0][0].part.material,
            Shortage(
                Cause.RUN,
                MaterialKind.LUMBER,
                sum(r.length for r in unit.runs),
                None,
                copies,
                Fraction(worth) / worths.scale,
                sum((_plain(group, price, r.length, r.materials) for r in unit.runs), Fraction(0)),
                marks,
                more,
                mates=len(unit.runs),
            ),
        )


def _limits(model: Model, worths: Worths) -> Iterator[tuple[str, Shortage]]:
    for stock, gain in zip(model.stocks, worths.gain, strict=True):
        if gain and stock.available is not None:
            yield (
                model.grids[stock.grid].material,
                Shortage(
                    Cause.LIMIT,
                    MaterialKind.LUMBER,
                    stock.length,
                    None,
                    stock.available,
                    Fraction(gain) / worths.scale,
                    rows=tuple(o.row for o in stock.offers),
                ),
            )
