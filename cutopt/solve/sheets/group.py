"""A group of sheet materials: ceiling fields by their own model, all other parts by columns."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from cutopt.cutlist import Part, Rule
from cutopt.materials import Offer
from cutopt.plan import Cause, Group, Shortage, Stop
from cutopt.solve.ceiling import Ceilings, ceiling_rule, plan_fields
from cutopt.solve.demand import Item, Piece, items_of
from cutopt.solve.outcome import Outcome, Use
from cutopt.solve.search import Report, Watch, no_report
from cutopt.solve.sheets.jointed import jointed_units
from cutopt.solve.sheets.refuse import fits, misfits
from cutopt.solve.sheets.solver import Planned, cutting_rule, plan_parts

__all__ = ["solve_sheets"]


def solve_sheets(group: Group, watch: Watch, seed: int, report: Report = no_report) -> Outcome:
    """Plan a group of sheet materials.

    Parameters
    ----------
    group
        Parts of one or several sheet materials, linked by alternates; full-span fields among them.
    watch
        A guard on time; the search ends by its own work first.
    seed
        Same input, same seed: same plan.
    report
        Told of every phase.

    Returns
    -------
    Outcome
        `bound` holds for the cutting rule that `cutting_rule` says in words.
    """
    search = _Sheets(group, watch, seed, report)
    fields = [p for p in group.parts if p.rule is Rule.FULL_SPAN]
    others = [p for p in group.parts if p.rule is not Rule.FULL_SPAN]
    if not fields:
        planned = search.parts(others, group.offers)
        return search.outcome([planned], cutting_rule(group))
    if not others:
        ceilings = plan_fields(group, fields, frozenset(), watch)
        return search.outcome([search.of_ceilings(ceilings)], ceiling_rule(group))
    return search.outcome(
        search.both(fields, others), f"{ceiling_rule(group)}; other parts by {cutting_rule(group)}"
    )


@dataclass(frozen=True, slots=True)
class _Sheets:
    group: Group
    watch: Watch
    seed: int
    report: Report

    def parts(self, parts: Sequence[Part], offers: Iterable[Offer]) -> Planned:
        """Plan ordinary parts from the given offers; what fits none of them is named."""
        group = replace(self.group, offers=tuple(offers))
        units, unplanned = jointed_units(group, parts)
        out = list(unplanned)
        pieces: list[Piece] = []
        for item in items_of(
            Piece(p, p.length, p.width, p.qty, p.materials)
            for p in parts
            if p.rule is not Rule.JOINTED
        ):
            if any(fits(item, offer, group.rules) for offer in group.offers):
                pieces += item.pieces
            else:
                out += misfits(group, item)
        planned = plan_parts(group, pieces, units, self.watch, self.seed, self.report)
        return replace(planned, unplanned=(*out, *planned.unplanned))

    def of_ceilings(self, ceilings: Ceilings) -> Planned:
        """The ceilings' plan in the words of the others."""
        if not ceilings.items:
            stop = Stop.NOTHING_TO_CUT
        elif ceilings.proved:
            stop = Stop.PROVED
        else:
            stop = self.watch.stop() or Stop.WORK
        return Planned(
            ceilings.items,
            ceilings.uses,
            ceilings.bound,
            stop,
            ceilings.unplanned,
            ceilings.shortages,
        )

    def both(self, fields: Sequence[Part], others: Sequence[Part]) -> list[Planned]:
        """Fields first, then other parts from what is left, buying no length too many.

        A board serves one row or other parts, never both: the bounds of the two alone add up to a
        bound of the whole.
        """
        alone = self.parts(others, self.group.offers)
        ceilings = plan_fields(self.group, fields, frozenset(), self.watch)
        beside = self._beside(ceilings, others, alone)
        if _missing(beside) > _missing(alone):
            # Other parts need a length that the fields left no room for: it is bought first.
            longest = frozenset(sorted(self._bought(alone), key=lambda b: (b[0], -b[1]))[:1])
            again = plan_fields(self.group, fields, longest, self.watch)
            after = self._beside(again, others, alone)
            if len(again.unplanned) <= len(ceilings.unplanned) and _missing(after) < _missing(
                beside
            ):
                ceilings = replace(again, bound=min(again.bound, ceilings.bound), proved=False)
                beside = after
        bound = alone.bound
        if _missing(beside) > _missing(alone):
            bound = self.parts(_still(beside.items), self.group.offers).bound
        return [self.of_ceilings(ceilings), replace(beside, bound=bound)]

    def _beside(self, ceilings: Ceilings, others: Sequence[Part], alone: Planned) -> Planned:
        """Other parts from the offers that the ceilings leave, the length rule kept."""
        left = self._left(ceilings)
        used: dict[int, int] = {}
        for use in alone.uses:
            used[use.offer.row] = used.get(use.offer.row, 0) + use.count
        lengths = self._lengths(ceilings, alone)
        offers = [o if self._free(o, lengths) else replace(o, limit=0) for o in left]
        if all(o.available is None or used.get(o.row, 0) <= o.available for o in offers):
            return alone
        return self.parts(others, offers)

    def _free(self, offer: Offer, lengths: set[tuple[str, int]]) -> bool:
        limited = self.group.rules.for_ceiling(offer.material).order_lengths
        return not limited or (offer.material, offer.length) in lengths

    def _left(self, ceilings: Ceilings) -> list[Offer]:
        """The offers less what the ceilings take, on hand first."""
        left: list[Offer] = []
        for i, o in enumerate(self.group.offers):
            taken = ceilings.taken.get(i, 0)
            bought = max(0, taken - o.on_hand)
            left.append(
                replace(
                    o,
                    on_hand=max(0, o.on_hand - taken),
                    limit=None if o.limit is None else o.limit - bought,
                )
            )
        return left

    def _bought(self, planned: Planned) -> dict[tuple[str, int], Fraction]:
        """Lengths that a plan buys beyond what is on hand, and for how much."""
        count: dict[int, int] = {}
        for use in planned.uses:
            count[use.offer.row] = count.get(use.offer.row, 0) + use.count
        spent: dict[tuple[str, int], Fraction] = {}
        for o in self.group.offers:
            more = count.get(o.row, 0) - o.on_hand
            if more > 0:
                key = (o.material, o.length)
                spent[key] = spent.get(key, Fraction(0)) + more * o.cost
        return spent

    def _lengths(self, ceilings: Ceilings, alone: Planned) -> set[tuple[str, int]]:
        """Lengths that may be bought: the ceilings', and the other parts' dearest beside them."""
        spent = self._bought(alone)
        longest = max((key[1] for key in spent), default=0)
        lengths = set(ceilings.bought)
        for key in sorted(spent, key=lambda k: (k[1] != longest, -spent[k], k)):
            most = self.group.rules.for_ceiling(key[0]).order_lengths
            if sum(1 for name, _ in lengths if name == key[0]) < most:
                lengths.add(key)
        return lengths

    def outcome(self, planned: Sequence[Planned], rule: str) -> Outcome:
        """Plans side by side as one outcome, every use on the group's own offer."""
        own = {o.row: o for o in self.group.offers}
        items: list[Item] = []
        uses: list[Use] = []
        for p in planned:
            shift = len(items)
            uses += [
                replace(
                    use,
                    offer=own[use.offer.row],
                    spots=tuple(replace(s, item=s.item + shift) for s in use.spots),
                )
                for use in p.uses
            ]
            items += p.items
        stops = [p.stop for p in planned if p.stop is not Stop.NOTHING_TO_CUT]
        open_ended = [s for s in stops if s is not Stop.PROVED]
        stop = (open_ended or stops or [Stop.NOTHING_TO_CUT])[0]
        return Outcome(
            items=tuple(items),
            uses=tuple(uses),
            bound=sum((p.bound for p in planned), Fraction(0)),
            stop=stop,
            seconds=self.watch.elapsed(),
            unplanned=tuple(u for p in planned for u in p.unplanned),
            cutting_rule=rule,
            shortages=tuple(s for p in planned for s in p.shortages if self._as_offered(s[1])),
        )

    def _as_offered(self, shortage: Shortage) -> bool:
        """Whether a limit is the stock file's own, and not what one plan left for the next."""
        if shortage.cause is not Cause.LIMIT:
            return True
        had = sum(o.available or 0 for o in self.group.offers if o.row in shortage.rows)
        return had == shortage.pieces


def _missing(planned: Planned) -> int:
    return sum(u.qty for _, u in planned.unplanned)


def _still(items: Sequence[Item]) -> list[Part]:
    """The parts that items still hold; of a jointed run all its pieces, once."""
    parts: list[Part] = []
    runs: dict[int, tuple[Part, set[str]]] = {}
    for item in items:
        for piece in item.pieces:
            if piece.run is None:
                parts.append(replace(piece.part, qty=piece.qty))
            else:
                runs.setdefault(id(piece.part), (piece.part, set()))[1].add(piece.run)
    return parts + [replace(part, qty=len(names)) for part, names in runs.values()]
