"""Ceilings and other parts planned together: what boards leave beside their rows is stock.

Boards are chosen for the rows first, then other parts are cut from what is left of them and from
stock of their own; then boards are chosen again, each cheaper by what its leftovers save there, and
so on while that gains. The best is kept, never dearer than planned apart.

The bound holds for both together: at whole worths of the parts, what they are worth, and what the
boards cost less the most that can be cut beside each row.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import product

from cutopt.cutlist import Part
from cutopt.materials import Offer
from cutopt.plan import Group, Stop, Unplanned
from cutopt.solve.ceiling import (
    Ceilings,
    Price,
    fields_of,
    laid_rows,
    plan_chosen,
    plan_fields,
)
from cutopt.solve.demand import Item
from cutopt.solve.outcome import Outcome, Use, material_plans
from cutopt.solve.search import Watch
from cutopt.solve.sheets.joint import Ways, choose_jointly
from cutopt.solve.sheets.leftovers import (
    Leftover,
    around,
    is_plain,
    leftover_group,
    leftovers_of,
    merged,
    plain_items,
    plain_materials,
    with_leftovers,
)
from cutopt.solve.sheets.model import Want
from cutopt.solve.sheets.refuse import few_sheets
from cutopt.solve.sheets.solver import Planned
from cutopt.solve.sheets.worth import Values

__all__ = ["Together", "laid_fields", "missing", "still"]

#: Shares of the worths that a bound is tried with.
_SHARES = (Fraction(1), Fraction(1, 2))
#: Shares of what leftovers may save that boards are chosen by: they may be more than parts need.
_CREDITED = (Fraction(1), Fraction(1, 2), Fraction(1, 4))
#: Rectangles that are valued at once; where there are more they are rounded up to be fewer.
_VALUED = 250
#: Kinds of rows times offers, up to which boards are chosen by what their leftovers save.
_ROWS = 4_000

#: Leftovers of all rows up to which boards are chosen in one model with patterns of parts.
_JOINT = 1_500
#: Times that worths are shaken for patterns.
_SHAKEN = 12

Worths = Mapping[Want, Fraction]
#: An offer's row in stock.csv, a row's span and its finished width.
_Row = tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class _Tried:
    """A plan of both: `whole` holds every use, `beside` the plan of the other parts."""

    ceilings: Ceilings
    beside: Planned
    whole: Planned
    cost: Fraction

    @property
    def rank(self) -> tuple[int, Fraction]:
        """Fewest left out first, then cheapest."""
        return missing(self.whole), self.cost


@dataclass(frozen=True, slots=True)
class _Beside:
    """Per row of a board rectangles that hold what can be cut beside it, and the whole board."""

    costs: Mapping[int, Fraction]
    at: Mapping[_Row, tuple[Sequence[Leftover], Leftover]]
    values: Values

    def price(self, worths: Worths, share: Fraction) -> tuple[Fraction, Price] | None:
        """What other parts cost at least, and the boards' prices at the same worths.

        None where nothing is proved, or a board would cost less than nothing.
        """
        found = self.values.at(worths, share)
        if found is None:
            return None
        prices: dict[_Row, Fraction] = {}
        for key, (here, board) in self.at.items():
            saved = sum((found.values.get(x, Fraction(0)) for x in here), Fraction(0))
            prices[key] = self.costs[key[0]] - min(saved, found.values.get(board, Fraction(0)))
        if any(p < 0 for p in prices.values()):
            return None

        def price(offer: Offer, span: int, finished: int) -> Fraction:
            return prices[offer.row, span, finished]

        return found.bound, price


class Together:
    """One group's ceilings and other parts.

    Parameters
    ----------
    fields, others
        Rows of the cut lists: full-span fields, and all else.
    stock
        What can be had for other parts once ceilings are planned.
    plan
        Plans parts of a group.
    """

    def __init__(
        self,
        group: Group,
        fields: Sequence[Part],
        others: Sequence[Part],
        stock: Callable[[Ceilings], Sequence[Offer]],
        plan: Callable[[Group, Sequence[Part]], Planned],
        watch: Watch,
    ) -> None:
        self.group, self.fields, self.others = group, fields, others
        self.stock, self.plan, self.watch = stock, plan, watch
        self.row = max((o.row for o in group.offers), default=0) + 1
        self._reasons: dict[tuple[str, str, str, int, int | None], str] = {}
        self._duals: list[Worths] = []

    def best(self, ceilings: Ceilings, beside: Planned) -> Planned | None:
        """The best plan of both with its bound; None where no leftover can hold any part.

        `ceilings` and `beside` are the plans apart. The bound is of all that is planned.
        """
        if any(self.group.rules.for_sheets(m).drop_value for m in self.group.materials):
            # A drop that is kept and one that is cut up can't both be counted.
            return None
        self._reasons = {_named(m, u): u.reason for m, u in beside.unplanned}
        if not any(
            self._holds(left)
            for offer, span, finished in self._rows(self.fields)
            for left in around(self.group, offer, span, finished)[:2]
        ):
            return None
        apart = self._whole(ceilings, beside, [])
        tried = [apart]
        tried += self._tried(self._cut(ceilings, beside.worths, {}))
        if self._few():
            tried += self._tried(self._jointly(tried))
            first = min(tried, key=lambda t: t.rank)
            for share in _CREDITED:
                tried += self._tried(self._priced(first, share))
            if min(tried, key=lambda t: t.rank) is not first:
                tried += self._tried(self._jointly(tried))
        best = min(tried, key=lambda t: t.rank)
        bound = min(self._bound(best, tried), best.cost)
        stop = self.watch.stop() or Stop.WORK
        return replace(best.whole, bound=bound, stop=Stop.PROVED if bound == best.cost else stop)

    # -- plans -----------------------------------------------------------------------------------

    def _tried(self, made: _Tried | None) -> list[_Tried]:
        return [] if made is None else [made]

    def _priced(self, best: _Tried, share: Fraction) -> _Tried | None:
        """Boards chosen as if every leftover saved a share of what it may save at most."""
        if self.watch.stop():
            return None
        worths = _plain(best.beside.worths)
        price = self._beside(best).price(worths, share)
        if price is None:
            return None
        laid = self._laid(best)
        again = plan_fields(self.group, laid, frozenset(), self.watch, price[1])
        out = (*best.ceilings.unplanned, *again.unplanned)
        return self._cut(replace(again, unplanned=out), worths, {})

    def _jointly(self, tried: Sequence[_Tried]) -> _Tried | None:
        """Boards chosen with patterns of parts on their leftovers, where those are not too many."""
        best = min(tried, key=lambda t: t.rank)
        if self.watch.stop() or missing(best.beside):
            return None
        fields, _ = fields_of(self.group, self._laid(best), True)
        lefts = dict.fromkeys(
            left
            for offer, span, finished in self._rows(self._laid(best))
            for way in leftovers_of(self.group, offer, span, finished)
            for left in way
            if self._holds(left)
        )
        if not lefts or len(lefts) > _JOINT:
            return None
        values = Values(self.group, self.others, lefts)
        worths = [_plain(t.beside.worths) for t in tried]
        rng = random.Random(1)  # noqa: S311 - a search, not a secret
        own, left = values.patterns(worths, _SHAKEN, rng)
        found = choose_jointly(
            self.group,
            fields,
            {m: self.group.rules.for_ceiling(m).order_lengths for m in self.group.materials},
            values.model.need.tolist(),
            own,
            left,
            values.numbers(worths[-1]),
            self.watch,
        )
        if found is None:
            return None
        self._duals.append(values.worths(found.duals))
        if found.choice is None:
            return None
        choice, ways = found.choice, found.ways
        ceilings = plan_chosen(self.group, fields, choice, best.ceilings.unplanned, True)
        return self._cut(ceilings, _plain(best.beside.worths), ways)

    def _cut(self, ceilings: Ceilings, worths: Worths, known: Ways) -> _Tried | None:
        """Other parts from the leftovers of these boards, and from stock of their own.

        `known` says how boards are cut further where that is decided.
        """
        uses: list[Use] = []
        ways: list[tuple[Leftover, ...]] = []
        for use in ceilings.uses:
            item = ceilings.items[use.spots[0].item]
            count = use.count
            for way, n in known.get((use.offer.row, item.length, item.width or 0), ()):
                uses.append(replace(use, count=min(n, count)))
                ways.append(way)
                count -= uses[-1].count
            if count:
                uses.append(replace(use, count=count))
                ways.append(self._way(use, ceilings.items, worths))
        ceilings = replace(ceilings, uses=tuple(uses))
        lefts = [(n, left) for n, way in enumerate(ways) for left in way if self._holds(left)]
        if not lefts:
            return None
        counts = [(left, ceilings.uses[n].count) for n, left in lefts]
        whole = leftover_group(self.group, self.stock(ceilings), counts, self.row)
        beside = self.plan(whole, [with_leftovers(p, whole) for p in self.others])
        cuts: dict[int, list[tuple[Leftover, list[Use]]]] = {}
        for k, (n, left) in enumerate(lefts):
            uses = [u for u in beside.uses if u.offer.row == self.row + k]
            cuts.setdefault(n, []).append((left, uses))
        every = [cuts.get(n, []) for n in range(len(ceilings.uses))]
        return self._whole(ceilings, beside, every)

    def _way(self, use: Use, items: Sequence[Item], worths: Worths) -> tuple[Leftover, ...]:
        """The way to cut a board that leaves most: by worth, where it is known by area."""
        item = items[use.spots[0].item]
        ways = leftovers_of(self.group, use.offer, item.length, item.width or 0)
        if len(ways) < 2:
            return ways[0] if ways else ()
        found = Values(self.group, self.others, [x for w in ways for x in w]).at(worths)
        values = found.values if found is not None else {}

        def good(way: tuple[Leftover, ...]) -> tuple[Fraction, int]:
            worth = sum((values.get(x, Fraction(0)) for x in way), Fraction(0))
            return worth, max(x.length * x.width for x in way)

        return max(ways, key=good)

    def _whole(
        self,
        ceilings: Ceilings,
        beside: Planned,
        cuts: Sequence[Sequence[tuple[Leftover, Sequence[Use]]]],
    ) -> _Tried:
        shift = len(ceilings.items)
        items = (*ceilings.items, *plain_items(beside.items))
        uses: list[Use] = []
        for n, boards in enumerate(ceilings.uses):
            uses += merged(self.group, boards, cuts[n] if cuts else (), items, shift)
        own = {o.row: o for o in self.group.offers}
        for use in beside.uses:
            if use.offer.row < self.row:
                spots = tuple(replace(s, item=s.item + shift) for s in use.spots)
                uses.append(replace(use, offer=own[use.offer.row], spots=spots))
        whole = Planned(
            items,
            tuple(uses),
            Fraction(0),
            beside.stop,
            (*ceilings.unplanned, *(self._told(m, u) for m, u in beside.unplanned)),
        )
        outcome = Outcome(whole.items, whole.uses, Fraction(0), whole.stop, 0.0, whole.unplanned)
        plans = material_plans(self.group, outcome)
        cost = sum((p.objective for p in plans), Fraction(0))
        return _Tried(ceilings, beside, whole, cost)

    def _told(self, material: str, out: Unplanned) -> tuple[str, Unplanned]:
        """What is left out, in the words of the stock file."""
        if is_plain(out.reason):
            return material, out
        if _named(material, out) in self._reasons:
            return material, replace(out, reason=self._reasons[_named(material, out)])
        names = {
            m
            for p in self.others
            if (p.section, p.mark, p.material) == (out.section, out.mark, material)
            for m in p.materials
        }
        return material, replace(out, reason=few_sheets(self.group, sorted(names)))

    def _holds(self, left: Leftover) -> bool:
        """Whether any other part could come from a leftover at all."""
        return any(
            left.material in p.materials
            and any(
                (a <= left.length or p.joints is not None) and b <= left.width
                for a, b in (
                    ((p.length, p.width or 0), (p.width or 0, p.length))
                    if p.turn
                    else ((p.length, p.width or 0),)
                )
            )
            for p in self.others
        )

    # -- the bound -------------------------------------------------------------------------------

    def _laid(self, tried: _Tried) -> list[Part]:
        return laid_fields(self.fields, tried.ceilings)

    def _rows(self, fields: Sequence[Part]) -> Iterator[tuple[Offer, int, int]]:
        """Every board and row (span, finished width) that could meet."""
        found, _ = fields_of(self.group, fields, True)
        rows = {
            (mix.material, width, f.span, finished)
            for f in found
            for mix in f.mixes
            for width, finished, _ in laid_rows(mix, f.run)
        }
        for offer, (material, width, span, finished) in product(self.group.offers, sorted(rows)):
            here = (offer.material, offer.width) == (material, width)
            if here and offer.available != 0 and offer.length >= span:
                yield offer, span, finished

    def _few(self) -> bool:
        return sum(1 for _ in self._rows(self.fields)) <= _ROWS

    def _beside(self, tried: _Tried) -> _Beside:
        """What there is beside every row that could be cut, and the parts that a plan cuts."""
        every = {
            (o.row, span, finished): around(self.group, o, span, finished)
            for o, span, finished in self._rows(self._laid(tried))
        }
        grid = 1
        while len({_rounded(x, grid) for here in every.values() for x in here[:2]}) > _VALUED:
            grid *= 2
        at = {
            key: ([_rounded(x, grid) for x in here[:2] if self._holds(x)], here[2])
            for key, here in every.items()
        }
        lefts = [x for here, board in at.values() for x in (*here, board)]
        values = Values(self.group, still(plain_items(tried.beside.items)), lefts)
        return _Beside({o.row: o.cost for o in self.group.offers}, at, values)

    def _bound(self, best: _Tried, tried: Sequence[_Tried]) -> Fraction:
        """What any plan of the same fields and parts costs at least."""
        # Boards that are paid for anyway may serve other parts: least orders prove nothing here.
        group = replace(
            self.group, offers=tuple(replace(o, min_order=0) for o in self.group.offers)
        )
        laid = self._laid(best)
        bound = plan_fields(group, laid, frozenset(), self.watch).bound
        if not self._few():
            return bound
        beside = self._beside(best)
        plans = dict.fromkeys((id(best), id(tried[0])))
        known = [_plain(t.beside.worths) for t in tried if id(t) in plans]
        for worths in [*reversed(self._duals), *reversed(known)]:
            for share in _SHARES:
                if bound >= best.cost or self.watch.stop():
                    return bound
                found = beside.price(worths, share)
                if found is not None:
                    least = plan_fields(group, laid, frozenset(), self.watch, found[1])
                    if not least.unplanned:
                        bound = max(bound, found[0] + least.bound)
        return bound


def _plain(worths: Worths) -> dict[Want, Fraction]:
    return {w._replace(materials=plain_materials(w.materials)): n for w, n in worths.items()}


def _rounded(left: Leftover, grid: int) -> Leftover:
    """The rectangle made no smaller, so that there are fewer different ones."""
    return replace(left, length=-(-left.length // grid) * grid, width=-(-left.width // grid) * grid)


def _named(material: str, out: Unplanned) -> tuple[str, str, str, int, int | None]:
    return material, out.section, out.mark, out.length, out.width


def laid_fields(fields: Sequence[Part], ceilings: Ceilings) -> list[Part]:
    """The fields that a plan lays, each with as many copies."""
    out: dict[tuple[str, str, str, int, int | None], int] = {}
    for material, u in ceilings.unplanned:
        out[_named(material, u)] = out.get(_named(material, u), 0) + u.qty
    laid = []
    for p in fields:
        key = (p.material, p.section, p.mark, p.length, p.width)
        gone = min(p.qty, out.get(key, 0))
        if gone:
            out[key] -= gone
        if p.qty > gone:
            laid.append(replace(p, qty=p.qty - gone))
    return laid


def missing(planned: Planned) -> int:
    """How many parts are left out."""
    return sum(u.qty for _, u in planned.unplanned)


def still(items: Sequence[Item]) -> list[Part]:
    """The parts that items still hold; of a jointed run all its pieces, once."""
    parts: list[Part] = []
    runs: dict[Part, set[str]] = {}
    for item in items:
        for piece in item.pieces:
            if piece.run is None:
                parts.append(replace(piece.part, qty=piece.qty))
            else:
                runs.setdefault(piece.part, set()).add(piece.run)
    return parts + [replace(part, qty=len(names)) for part, names in runs.items()]
