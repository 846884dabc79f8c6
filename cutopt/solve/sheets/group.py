"""A group of sheet materials: ceiling fields by their own model, all other parts by columns."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
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
from cutopt.solve.sheets.together import Together, laid_fields, missing, still

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
        return search.outcome([search.parts(others, group.offers)], cutting_rule(group))
    if not others:
        ceilings = plan_fields(group, fields, frozenset(), watch)
        return search.outcome([search.of_ceilings(ceilings)], ceiling_rule(group))
    planned, shared = search.both(fields, others)
    words = ", from boards of their own and from what ceiling boards leave" if shared else ""
    return search.outcome(
        planned, f"{ceiling_rule(group)}; other parts{words} by {cutting_rule(group)}"
    )


#: Parts given up for want of stock that are tried once more.
_CHANCES = 6


def _with(parts: Sequence[Part], more: Part) -> list[Part]:
    """Parts and more of one, of the same row of the cut lists if it is among them."""
    same = [replace(p, qty=p.qty + more.qty) for p in parts if p.place == more.place]
    return [*(p for p in parts if p.place != more.place), *(same[:1] or [more])]


def _something_left(group: Group, planned: Planned) -> bool:
    """Whether any piece of stock is left over."""
    used: dict[int, int] = {}
    for use in planned.uses:
        used[use.offer.row] = used.get(use.offer.row, 0) + use.count
    had: dict[int, int | None] = {}
    for o in group.offers:
        before = had.get(o.row, 0)
        had[o.row] = None if before is None or o.available is None else before + o.available
    return any(n is None or n > used.get(row, 0) for row, n in had.items())


@dataclass(frozen=True, slots=True)
class _Sheets:
    group: Group
    watch: Watch
    seed: int
    report: Report

    def parts(self, parts: Sequence[Part], offers: Iterable[Offer]) -> Planned:
        """Plan ordinary parts from the given offers; what fits none of them is named."""
        return self.planned(replace(self.group, offers=tuple(offers)), parts)

    def planned(self, group: Group, parts: Sequence[Part]) -> Planned:
        """Plan ordinary parts of a group; what fits none of its offers is named.

        Where stock is scarce, what was given up beside something larger gets another chance.
        """
        best = self._once(group, parts)
        for material, out in best.unplanned[:_CHANCES]:
            if self.watch.stop() or not _something_left(group, best):
                break
            given_up = [
                replace(p, qty=min(p.qty, out.qty))
                for p in parts
                if (p.material, p.section, p.mark) == (material, out.section, out.mark)
                and (p.joints is None or p.joints.mate is None)
                and (p.length, p.width) == (out.length, out.width)
            ]
            if not given_up or (material, out) not in best.unplanned:
                continue
            trial = self._once(group, _with(still(best.items), given_up[0]))
            if missing(trial) < given_up[0].qty:
                rest = [u for u in best.unplanned if u != (material, out)]
                if out.qty > given_up[0].qty:
                    rest.append((material, replace(out, qty=out.qty - given_up[0].qty)))
                best = replace(trial, unplanned=(*rest, *trial.unplanned))
        return best

    def _once(self, group: Group, parts: Sequence[Part]) -> Planned:
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

    def both(self, fields: Sequence[Part], others: Sequence[Part]) -> tuple[list[Planned], bool]:
        """Fields and other parts, buying no length too many; and whether boards serve both.

        Fields first, then other parts from what is left of the stock; where boards leave pieces
        that other parts can use, both together.
        """
        alone = self.parts(others, self.group.offers)
        ceilings = plan_fields(self.group, fields, frozenset(), self.watch)
        beside = self._beside(ceilings, others, alone)
        if missing(beside) > missing(alone):
            # Other parts need a length that the fields left no room for: it is bought first.
            longest = frozenset(sorted(self._bought(alone), key=lambda b: (b[0], -b[1]))[:1])
            again = plan_fields(self.group, fields, longest, self.watch)
            after = self._beside(again, others, alone)
            if len(again.unplanned) <= len(ceilings.unplanned) and missing(after) < missing(beside):
                ceilings = replace(again, bound=min(again.bound, ceilings.bound), proved=False)
                beside = after
        together = Together(
            self.group,
            fields,
            others,
            lambda laid: self._stock(laid, alone),
            self.planned,
            self.watch,
        )
        best = together.best(ceilings, beside)
        if best is not None:
            shortages = (*ceilings.shortages, *alone.shortages)
            return [replace(best, shortages=shortages)], True
        # A board serves one row or other parts, never both: the bounds of the two add up.
        bound = alone.bound
        if missing(beside) > missing(alone):
            bound = self.parts(still(beside.items), self.group.offers).bound
        if any(o.min_order for o in self.group.offers):
            # What is paid for anyway may serve other parts: least orders prove nothing here.
            free = tuple(replace(o, min_order=0) for o in self.group.offers)
            laid = laid_fields(fields, ceilings)
            least = plan_fields(replace(self.group, offers=free), laid, frozenset(), self.watch)
            ceilings = replace(ceilings, bound=min(least.bound, ceilings.bound), proved=False)
        return [self.of_ceilings(ceilings), replace(beside, bound=bound)], False

    def _beside(self, ceilings: Ceilings, others: Sequence[Part], alone: Planned) -> Planned:
        """Other parts from the offers that the ceilings leave, the length rule kept."""
        used: dict[int, int] = {}
        for use in alone.uses:
            used[use.offer.row] = used.get(use.offer.row, 0) + use.count
        offers = self._stock(ceilings, alone)
        paid_for = any(o.row in used and not o.price for o in offers)
        if not paid_for and all(
            o.available is None or used.get(o.row, 0) <= o.available for o in offers
        ):
            return alone
        return self.parts(others, offers)

    def _stock(self, ceilings: Ceilings, alone: Planned) -> list[Offer]:
        """What other parts can be cut from once the ceilings are, the length rule kept."""
        lengths = self._lengths(ceilings, alone)
        return [o if self._free(o, lengths) else replace(o, limit=0) for o in self._left(ceilings)]

    def _free(self, offer: Offer, lengths: set[tuple[str, int]]) -> bool:
        limited = self.group.rules.for_ceiling(offer.material).order_lengths
        return not limited or (offer.material, offer.length) in lengths

    def _left(self, ceilings: Ceilings) -> list[Offer]:
        """The offers less what the ceilings take; what is paid for and not cut costs nothing."""
        left: list[Offer] = []
        for i, o in enumerate(self.group.offers):
            taken = ceilings.taken.get(i, 0)
            bought = o.bought(taken)
            from_yard = max(0, taken - bought)
            more = None if o.limit is None else o.limit - bought
            left.append(replace(o, on_hand=o.on_hand - from_yard, limit=more))
            surplus = from_yard + bought - taken
            if surplus:
                left.append(replace(o, price=Decimal(0), on_hand=surplus, limit=0))
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
        wanted = sorted(spent, key=lambda k: (k[1] != longest, -spent[k], k))
        # What the others took from the yard may be gone: any length will do then.
        wanted += sorted(
            ((o.material, o.length) for o in self.group.offers if o.limit != 0),
            key=lambda k: (-k[1], k[0]),
        )
        for key in wanted:
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
