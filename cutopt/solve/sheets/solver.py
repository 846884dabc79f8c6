"""Parts of a group of sheet materials: what fits nothing is named, the rest planned and proved."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

import numpy as np

from cutopt.materials import Rules
from cutopt.plan import Group, Shortage, Stop, Unplanned
from cutopt.solve.demand import Item, Piece, items_of
from cutopt.solve.outcome import Use
from cutopt.solve.runs import Unit
from cutopt.solve.search import Progress, Report, Watch
from cutopt.solve.sheets.again import Again
from cutopt.solve.sheets.assign import uses_of
from cutopt.solve.sheets.books import fewer_setups
from cutopt.solve.sheets.bound import Certificate
from cutopt.solve.sheets.certify import certify
from cutopt.solve.sheets.columns import Generator, Room
from cutopt.solve.sheets.correct import Corrector
from cutopt.solve.sheets.cover import cover, together
from cutopt.solve.sheets.dive import Draft, dive
from cutopt.solve.sheets.fewest import fewest, one_price
from cutopt.solve.sheets.jointed import Jointed, run_pieces, unmade
from cutopt.solve.sheets.model import Model, Want, model_of, want_of
from cutopt.solve.sheets.reasons import reasons
from cutopt.solve.sheets.refuse import few_sheets, too_few
from cutopt.solve.sheets.scarce import apart, back, left_over, whole_plan
from cutopt.solve.sheets.settle import settle
from cutopt.solve.sheets.shelves import shelved_rest
from cutopt.solve.words import shown

__all__ = ["Planned", "cutting_rule", "plan_parts"]

#: Rounds of pricing at the root, and after each fixing of a dive.
_ROOT_ROUNDS = 2000
#: Work of pricing on where the rounded bound is as high as it gets, in table entries.
_COMPLETING = 15_000_000_000
_FINISHING = 60
_DIVE_ROUNDS = 6
#: Turns of a shaken dive, value correction, new neighbours and a covering model. Within one sheet
#: of the bound one turn without gain ends them, else two.
_TURNS = 12
#: As many where pricing three stages takes long.
_DEAR_TURNS = 3
#: What rounding a linear programme's plan at once costs at least: not worth it above that.
_ROUNDED = 1.01
#: Rows × columns of all covering models together.
_WORK = 10_000
#: Pricings of shaken worths in a turn, fewest and most, and their work in table entries.
_VARIED = (8, 60)
_VARYING = 3_000_000_000
#: Work of value correction in a turn, in numbers touched.
_CORRECTING = 60_000_000
#: Plans of value correction in a turn.
_PLANS = 60
#: Turns of it at once where a small order differs from a better one by whole sheets.
_WHOLE = 2
#: Pieces, or kinds, of an order that is still settled by listing, and the work of its searches, in
#: seconds.
_LISTED_PIECES, _LISTED_KINDS = 150, 12
_SETTLING = 8.0
#: Pieces of an order that is settled before better plans are looked for.
_AT_ONCE = 40
#: Dives that chance leads, where that is not settled soon.
_SHAKEN = 16
#: Patterns or strips that it may hold at once.
_HELD = 300_000
_ONE_SHEET = 1.0
#: An order of more pieces than this is worth a sixteenth of that work, an eighth of the room.
_SMALL_PIECES = 100
#: The work of planning a few sheets again, each time and in all, in seconds.
_AGAIN = 0.1
_TRYING = 2.0
#: Nodes of a covering model.
_COVER_NODES = 20


@dataclass(frozen=True, slots=True)
class Planned:
    """A plan of the parts of `items`, whose pieces may have shrunk to what could be planned.

    `worths` are the dollars that each is worth where the bound is proved.
    """

    items: tuple[Item, ...]
    uses: tuple[Use, ...]
    bound: Fraction
    stop: Stop
    unplanned: tuple[tuple[str, Unplanned], ...]
    shortages: tuple[tuple[str, Shortage], ...] = ()
    worths: Mapping[Want, Fraction] = field(default_factory=dict)


def cutting_rule(group: Group) -> str:
    """What the bound holds for, in words, material by material where they differ."""
    rules: dict[str, list[str]] = {}
    for material in group.materials:
        rule = group.rules.for_sheets(material)
        first = {
            "rip": "rips first",
            "cross": "crosscuts first",
            "either": "rips or crosscuts first",
        }
        words = (
            f"edge-to-edge cuts in {rule.stages} stages, {first[rule.first_cut.value]}, "
            "a last trimming cut free, parts turned only where their row allows it"
        )
        if rule.least_rip:
            words += f", none ripped to less than {shown(rule.least_rip)}"
        if rule.max_parts:
            words += f", at most {rule.max_parts} from a sheet"
        if any(p.edge and material in p.materials for p in group.parts):
            words += ", factory edges kept where asked"
        rules.setdefault(words, []).append(material)
    if len(rules) == 1:
        return next(iter(rules))
    return "; ".join(f"{', '.join(names)}: {words}" for words, names in rules.items())


def plan_parts(
    group: Group,
    pieces: Sequence[Piece],
    units: Sequence[Unit],
    watch: Watch,
    seed: int,
    report: Report,
    finish: Callable[[Generator, Draft, Rules, Watch, int], Draft] = fewer_setups,
) -> Planned:
    """Plan pieces and jointed runs; each of them fits some sheet; `finish` is done at the end.

    Where the sheets that can be had do not suffice, as much as was found is planned, the parts
    wanted last are left out and named, and the bound holds for the rest.
    """
    if not pieces and not units:
        return Planned((), (), Fraction(0), Stop.NOTHING_TO_CUT, ())
    jointed = Jointed(units, group.rules)
    need = {want_of(i): i.demand for i in items_of(pieces)}
    model = model_of(group, need, jointed.extra())
    jointed.bind(model.kind_of, len(model.kinds))
    search = _Search(group, model, jointed, watch, seed, report)
    best, left = search.run()
    if left is not None:
        fewer, still, gone, out = _without(group, pieces, units, model, best, left)
        again = plan_parts(group, fewer, still, watch, seed, report, finish)
        rest = left_over(group, again.uses)
        able, others = apart(rest, gone)
        more = plan_parts(rest, able, (), watch, seed, report, finish)
        named = (
            *out,
            *(too_few(group, p, p.qty) for p in others),
            *(left for left in more.unplanned),
        )
        return replace(
            again,
            items=(*again.items, *more.items),
            uses=(*again.uses, *back(group, more.uses, len(again.items))),
            stop=(watch.stop() or Stop.WORK) if more.items else again.stop,
            unplanned=(*named, *again.unplanned),
        )
    best = finish(search.generator, best, group.rules, watch, seed)
    items = items_of([*pieces, *run_pieces(units, best.ways)])
    # Out of time, parts stay where they lie: no drop is gathered from others.
    thorough = watch.stop() is None
    uses = uses_of(best.chosen, model, items, group.rules, thorough)
    g = search.generator
    why = reasons(group, model, jointed, g.scale, g.certificate, items)
    return Planned(
        items, uses, search.bound, search.stopped(), (), why, _worths(model, g.certificate)
    )


def _worths(model: Model, proof: Certificate | None) -> dict[Want, Fraction]:
    """Dollars per piece, by what tells pieces apart."""
    if proof is None or not proof.unit:
        return {}
    return {want: proof.worth[i] / proof.unit for want, i in model.kind_of.items()}


def _without(
    group: Group,
    pieces: Sequence[Piece],
    units: Sequence[Unit],
    model: Model,
    draft: Draft,
    left: Room,
) -> tuple[list[Piece], list[Unit], list[Piece], list[tuple[str, Unplanned]]]:
    """What is planned without that for which there is no sheet, the last wanted left out.

    Pieces, units of runs, the pieces left out, and the runs left out with the reason.
    """
    short = left.need.copy()
    out: list[tuple[str, Unplanned]] = []
    out_pieces: list[Piece] = []
    fewer: list[Piece] = []
    for item in items_of(pieces):
        kind = model.kind_of[want_of(item)]
        for piece in reversed(item.pieces):
            gone = min(piece.qty, int(short[kind]))
            short[kind] -= gone
            if gone:
                out_pieces.append(replace(piece, qty=gone))
            if gone < piece.qty:
                fewer.append(replace(piece, qty=piece.qty - gone))
    lost = left.copies.copy()
    for way, count in reversed(draft.ways):
        for _ in range(count):
            if (short[way.cuts > 0] > 0).any():
                short = np.maximum(short - way.cuts, 0)
                lost[way.unit] += 1
    still: list[Unit] = []
    for unit, copies in zip(units, lost.tolist(), strict=True):
        if copies:
            out += unmade(unit, copies, few_sheets(group, unit.runs[0].materials))
        if copies < unit.copies:
            still.append(replace(unit, members=unit.members[: unit.copies - copies]))
    return fewer, still, out_pieces, out


class _Search:
    """Bound, dives, and what they found."""

    def __init__(
        self,
        group: Group,
        model: Model,
        jointed: Jointed,
        watch: Watch,
        seed: int,
        report: Report,
    ) -> None:
        self.group, self.model, self.watch, self.report = group, model, watch, report
        self.rng = random.Random(seed)  # noqa: S311 - a search, not a secret
        self.generator = Generator(model, jointed, group.rules, watch)
        self.bound = Fraction(0)
        self.best: Draft | None = None
        self.corrector: Corrector | None = None
        self.cost = Fraction(0)
        self.least_short: tuple[int, Draft, Room] | None = None

    def run(self) -> tuple[Draft, Room | None]:
        """The best plan; where none has place for all, the fullest and what it leaves."""
        g = self.generator
        g.start()
        g.few()
        g.root(_ROOT_ROUNDS)
        if not g.plain:
            certify(g)
        g.by_area()
        self.bound = g.rounded_bound()
        self._tell("bound")
        # The bound may be closed long before the best patterns are all there.
        g.refine(g.room(), _FINISHING, False)
        self._dive(None, False)
        if self._complete():
            self._dive(None, False)
        whole = one_price(g)
        if whole and self._few():
            self._correct(_WHOLE)
        self._list()
        if whole:
            self._fewest()
        idle = turn = work = 0
        turns = _DEAR_TURNS if sum(p.effort for p in g.stacks) > _VARYING // 4 else _TURNS
        while turn < turns and work < _WORK:
            if idle >= (1 if whole or self._within_a_sheet() else 2):
                break
            if self.done() or self.watch.stop():
                break
            before = self.cost
            if turn:
                self._dive(self.rng, turn % 2 == 1)
            self._correct()
            self._vary()
            self._cover()
            idle = idle + 1 if self.cost == before else 0
            work += len(self.model.kinds) * len(g.master.columns)
            turn += 1
        self._tell("plan")
        if self.best is None and not self.watch.stop():
            draft = whole_plan(g)
            if draft is not None:
                self._try(draft, None)
        if self.best is not None:
            return self.best, None
        if self.least_short is None:
            raise RuntimeError("a dive that found nothing and left nothing")
        return self.least_short[1], self.least_short[2]

    def _fewest(self) -> None:
        """Save the last sheets, or prove that they can't be saved."""
        for first in (True, False):
            if self.best is None or not self._open():
                return
            self._try(fewest(self.generator, self.best, self.bound, self.rng, first), None)
            if first and self._open() and self.cost - self.bound <= self.model.sheets[0].cost:
                # Where little lies between, few patterns can be part of a plan of a sheet less.
                self._settle(_ONE_SHEET, _HELD // 8)

    def _within_a_sheet(self) -> bool:
        """Whether no whole sheet lies between the best plan and the bound."""
        least = min((s.cost for s in self.model.sheets if s.cost > 0), default=Fraction(0))
        return self.best is not None and self.cost - self.bound < least

    def _complete(self) -> bool:
        """Price on where that was ended early, since the bound was closed; whether more was found.

        A bound in whole sheets is closed long before the patterns of the best plans are there.
        """
        g = self.generator
        if self.done() or not g.plain:
            return False
        before = len(g.master.columns)
        room = g.room()
        g.master.set_need(room.need, room.available, room.copies)
        effort = sum(p.effort for p in g.proving())
        g.root(max(1, min(_ROOT_ROUNDS, _COMPLETING // effort)), closing=False)
        self.bound = max(self.bound, g.rounded_bound())
        return len(g.master.columns) > before and not self.done()

    def done(self) -> bool:
        """Whether the best plan is proved to be the best there is."""
        return self.best is not None and self.cost <= self.bound

    def stopped(self) -> Stop:
        """Why the search ended."""
        if self.done():
            return Stop.PROVED
        return self.watch.stop() or Stop.WORK

    def _dive(self, rng: random.Random | None, deep: bool) -> None:
        g, first = self.generator, self.best is None
        if first and g.late():
            self._shelve()
        room = g.room()
        draft = dive(g, room, rng, _DIVE_ROUNDS, deep)
        if first and room.need.any():
            # Time is up, or what was cut took the sheets that others need.
            if self.best is not None and g.master.objective * _ROUNDED > self.cost:
                return
            draft.chosen = together([*draft.chosen, *shelved_rest(g, room)])
        self._try(draft, room)
        if self.best is None:
            self._shelve()

    def _shelve(self) -> None:
        """A whole plan at once, where no runs have to be jointed."""
        g = self.generator
        if not g.jointed:
            room = g.room()
            self._try(Draft(shelved_rest(g, room)), room)

    def _few(self) -> bool:
        """Whether so few pieces are cut that each try is cheap."""
        return int(self.model.need.sum()) <= _LISTED_PIECES

    def _correct(self, times: int = 1) -> None:
        """Plans by value correction; jointed runs stay as the best plan has them."""
        if self.best is None:
            return
        g = self.generator
        if self.corrector is None:
            # Worths of the whole order, not of what a dive left last.
            room = g.room()
            g.master.set_need(room.need, room.available, room.copies)
            g.master.solve()
            self.corrector = Corrector(g, self.rng)
        # Three-stage plans only where one costs not much more than a turn may cost in all.
        shallow = sum(p.effort for p in g.strips)
        dearer = sum(p.effort for p in g.stacks) / shallow
        # A pattern costs its tables: not where a plan has many and the tables are large.
        if shallow * len(self.best.chosen) > _CORRECTING:
            return
        effort = last = plans = 0
        deep = False
        most, most_plans = times * _CORRECTING, times * _PLANS
        while effort < most and plans < most_plans and not self.done() and not self.watch.stop():
            room = g.room()
            for way, count in self.best.ways:
                room.copies[way.unit] -= count
                room.need += way.cuts * count
            draft, n = self.corrector.plan(room, deep)
            draft.ways = list(self.best.ways)
            effort += n
            plans += 1
            last = last if deep else n
            deep = not deep and bool(g.stacks) and last * dearer < _CORRECTING
            self._try(draft, room)

    def _vary(self) -> None:
        if self.done() or self.best is None:
            return
        g = self.generator
        room = g.room()
        g.master.set_need(room.need, room.available, room.copies)
        g.master.solve()
        efforts = [p.effort for p in g.strips] + [p.effort for p in g.stacks]
        fewest, most = _VARIED
        rounds = max(fewest, min(most, _VARYING * len(efforts) // max(1, sum(efforts))))
        # Worths are the programme's: by them alone is told what a better plan can use.
        g.vary(self.rng, rounds, self.cost - g.bound, True)

    def _list(self) -> None:
        """For small orders: list all that a better plan could use, and settle it."""
        g, pieces = self.generator, int(self.model.need.sum())
        listed = g.plain and not g.jointed and not self.watch.stop()
        few = self._few() or len(self.model.kinds) <= _LISTED_KINDS
        if self.best is None or self.done() or not listed or not few:
            return
        if pieces > _SMALL_PIECES:
            failed = self._settle(_SETTLING / 16, _HELD // 8)
            if self._open() and failed is not None and self.cost < failed:
                self._settle(_SETTLING / 16, _HELD // 8)
            return
        # The fewest are settled at once; what takes longer is worth a good plan first.
        soon = _SETTLING if pieces <= _AT_ONCE else _SETTLING / 8
        failed = self._settle(soon, _HELD)
        for step in (self._shake, self._again):
            if self._open():
                step()
        if self._open() and (soon < _SETTLING or failed is None or self.cost < failed):
            self._settle(_SETTLING, _HELD)
        self._cover()

    def _open(self) -> bool:
        """Whether there is something to look for, and time."""
        return not self.done() and not self.watch.stop()

    def _shake(self) -> None:
        """Many dives that chance leads."""
        for _ in range(_SHAKEN):
            if not self._open():
                return
            self._dive(self.rng, False)

    def _settle(self, work: float, most: int) -> Fraction | None:
        """List and search from the bound up; the cost below which that was too much."""
        settled = settle(self.generator, self.cost, self.bound, work, most)
        if settled.draft is not None:
            self._try(settled.draft, None)
        self.bound = max(self.bound, settled.bound)
        return settled.failed

    def _again(self) -> None:
        """Plan the parts of a few sheets again, over and over."""
        if self.best is None or self.done() or self.model.counted:
            return

        def better(g: Generator, cost: Fraction) -> Draft | None:
            return settle(g, cost, g.rounded_bound(), _AGAIN).draft

        again = Again(self.generator, self.rng, better)
        self._try(again.better(self.best, self.bound, _TRYING), None)

    def _cover(self) -> None:
        if not self._open():
            return
        g = self.generator
        room = g.room()
        g.master.set_need(room.need, room.available, room.copies)
        g.master.solve()
        below = self.cost if self.best is not None else None
        draft = cover(g, room, g.bound, below, _COVER_NODES, self.best)
        if draft is not None:
            self._try(draft, None)

    def _try(self, draft: Draft, left: Room | None) -> None:
        if left is not None and (left.need.any() or left.copies.any()):
            short = left.need.tolist()
            area = sum(n * a for n, a in zip(short, self.model.areas, strict=True))
            area += int(left.copies.sum()) * max(self.model.areas)
            if self.least_short is None or area < self.least_short[0]:
                self.least_short = (area, draft, left)
            return
        cost = draft.cost
        if self.best is None or cost < self.cost:
            self.best, self.cost = draft, cost
            self.generator.ahead = 0.0

    def _tell(self, phase: str) -> None:
        objective = float(self.cost) if self.best is not None else None
        self.report(Progress(self.group.materials, phase, objective, float(self.bound)))
