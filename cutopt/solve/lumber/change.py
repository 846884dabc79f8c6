"""The smallest change of what can be had that makes everything cuttable.

For each row of the stock with a limit: the fewest further sticks of it with which nothing is left
out. That is a stick problem again, in which what can be had costs nothing and each further stick
one; where its bound is met, the number is proved least.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from cutopt.cutlist import Rule
from cutopt.materials import Offer, Per
from cutopt.measure import rounded
from cutopt.plan import Group, Stop
from cutopt.solve.demand import Item, Piece, items_of
from cutopt.solve.lumber.model import model_of
from cutopt.solve.lumber.refuse import impossible
from cutopt.solve.lumber.runs import RunPricer, run_kinds
from cutopt.solve.lumber.search import Search
from cutopt.solve.runs import Pricer, Unit, units_of
from cutopt.solve.search import Watch, no_report
from cutopt.solve.words import shown

__all__ = ["Change", "change_words", "smallest_changes"]

#: Rows that are searched, those that are long enough and cheapest by the length.
_ROWS = 3
#: Looks at the watch in one search: what its work is counted in. With 100 lengths and hundreds of
#: sticks short, a proof takes 500 to 800.
_LOOKS = 1_000


@dataclass(frozen=True, slots=True)
class Change:
    """Further sticks that would do, by row of the stock; `proved` where no fewer would."""

    sticks: tuple[tuple[Offer, int], ...]
    proved: bool

    @property
    def cost(self) -> Fraction:
        """Dollars for them."""
        return sum((o.cost * n for o, n in self.sticks), Fraction(0))

    def __str__(self) -> str:
        most = "" if self.proved else "at most "
        each = " and ".join(
            f"{n} more of {shown(o.length)} ({o.material}, row {o.row})" for o, n in self.sticks
        )
        return f"{most}{each}, ${rounded(self.cost, 2)}"


class _Budget(Watch):
    """A watch that ends a search after so many looks, or when the search's own would."""

    def __init__(self, watch: Watch, looks: int) -> None:
        super().__init__(watch.left())
        self._watch, self._looks = watch, looks

    def stop(self, ahead: float = 0.0) -> Stop | None:
        self._looks -= 1
        return Stop.WORK if self._looks < 0 else self._watch.stop(ahead)


def smallest_changes(group: Group, watch: Watch, seed: int) -> list[Change]:
    """The changes that would do, the cheapest first; empty where none was found.

    Each is of one row; where no row would do alone, one of several rows. Parts that no row is long
    enough for, and runs that no joints make, are left aside.
    """
    rows = _rows(group)
    real = {o.row: o for o in group.offers}
    widest = _opened(group, rows)
    items, units = _wanted(widest)
    changes: list[Change] = []
    searched = 0
    for offer in rows:
        if watch.stop():
            return []
        if searched == _ROWS:
            break
        opened = _opened(group, [offer])
        some, joined = _wanted(opened)
        if some == items and {u.members for u in joined} == {u.members for u in units}:
            changes += _least(opened, real, items, joined, watch, seed)
            searched += 1
    if not changes and len(rows) > 1:
        changes += _least(widest, real, items, units, watch, seed)
    return sorted(changes, key=lambda c: (c.cost, [o.row for o, _ in c.sticks]))


def change_words(changes: Sequence[Change]) -> str:
    """All of them in one sentence; blank where there is none."""
    if not changes:
        return ""
    first, *others = (str(c) for c in changes)
    return f"{first}, would do" + "".join(f"; or {other}" for other in others)


def _rows(group: Group) -> list[Offer]:
    """Rows of which more could be had, where someone raised their limit.

    What lies in the yard and can't be bought is most often a drop: it counts only where there is
    nothing else.
    """
    limited = [o for o in group.offers if o.limit is not None]
    rows = [o for o in limited if o.limit or not o.on_hand] or limited
    return sorted(rows, key=lambda o: (o.cost / o.counts_as, o.row))


def _opened(group: Group, rows: Sequence[Offer]) -> Group:
    """The group where what can be had is free, and each further stick of some rows costs one."""
    have = [replace(o, price=Decimal(0), per=Per.EACH) for o in group.offers if o.available != 0]
    more = [replace(o, price=Decimal(1), per=Per.EACH, on_hand=0, limit=None) for o in rows]
    of = {
        m: replace(group.rules.for_lumber(m), drop_value=Decimal(0), joint_price=Decimal(0))
        for m in group.materials
    }
    rules = replace(group.rules, lumber_of={**group.rules.lumber_of, **of})
    return replace(group, offers=(*have, *more), rules=rules)


def _wanted(group: Group) -> tuple[tuple[Item, ...], tuple[Unit, ...]]:
    """What can be cut where enough can be had."""
    rules = group.rules

    def longest(materials: Sequence[str]) -> int:
        return max(
            (
                o.counts_as - rules.for_lumber(o.material).head_trim
                for o in group.offers
                if o.material in materials
            ),
            default=0,
        )

    items = items_of(
        Piece(p, p.length, None, p.qty, p.materials)
        for p in group.parts
        if p.rule is not Rule.JOINTED and p.qty > 0 and p.length <= longest(p.materials)
    )
    units = units_of(group.parts, rules, lambda p: longest(p.materials))
    possible = [u for u in units if all(r.piece_lengths for r in u.runs) and not impossible(u)]
    return items, tuple(possible)


def _least(
    group: Group,
    real: Mapping[int, Offer],
    items: tuple[Item, ...],
    units: tuple[Unit, ...],
    watch: Watch,
    seed: int,
) -> list[Change]:
    """The fewest further sticks, as far as a short search finds them; none where none would do."""
    pricer = Pricer(units)
    model = model_of(group, items, run_kinds(group, pricer))
    runs = RunPricer(group, pricer, model)
    search = Search(group, model, runs, _Budget(watch, _LOOKS), seed, no_report)
    search.run()
    if search.cost is None:
        return []
    more: dict[int, int] = {}
    for pattern, n in search.best.patterns.items():
        stock = model.stocks[pattern.stock]
        if stock.cost:
            # Rows that differ in price alone are one stock here: the cheapest of them is named.
            row = min((real[o.row].cost, o.row) for o in stock.offers)[1]
            more[row] = more.get(row, 0) + n
    sticks = tuple((real[row], n) for row, n in sorted(more.items()))
    return [Change(sticks, search.cost <= search.bound)] if sticks else []
