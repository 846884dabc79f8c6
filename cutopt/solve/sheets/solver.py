"""Parts of a group of sheet materials: what fits nothing is named, the rest planned and proved."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from cutopt.plan import Group, Stop, Unplanned
from cutopt.solve.demand import Item
from cutopt.solve.outcome import Use
from cutopt.solve.search import Progress, Report, Watch
from cutopt.solve.sheets.assign import uses_of
from cutopt.solve.sheets.columns import Generator, Room
from cutopt.solve.sheets.cover import cover
from cutopt.solve.sheets.dive import Chosen, cost_of, dive
from cutopt.solve.sheets.model import Model, model_of
from cutopt.solve.sheets.refuse import too_few

__all__ = ["Planned", "cutting_rule", "plan_parts"]

#: Rounds of pricing at the root, and after each fixing of a dive.
_ROOT_ROUNDS = 2000
_DIVE_ROUNDS = 6
#: Dives with shaken scores after the first.
_SHAKEN = 3
#: Nodes of a covering model.
_COVER_NODES = 200


@dataclass(frozen=True, slots=True)
class Planned:
    """A plan of the parts of `items`, whose pieces may have shrunk to what could be planned."""

    items: tuple[Item, ...]
    uses: tuple[Use, ...]
    bound: Fraction
    stop: Stop
    unplanned: tuple[tuple[str, Unplanned], ...]


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
        rules.setdefault(words, []).append(material)
    if len(rules) == 1:
        return next(iter(rules))
    return "; ".join(f"{', '.join(names)}: {words}" for words, names in rules.items())


def plan_parts(
    group: Group,
    items: tuple[Item, ...],
    chosen: Sequence[int],
    watch: Watch,
    seed: int,
    report: Report,
) -> Planned:
    """Plan the chosen items (indices); each of them fits some sheet.

    Where the sheets that can be had do not suffice, as much as was found is planned, the parts
    wanted last are left out and named, and the bound holds for the rest.
    """
    if not chosen:
        return Planned(items, (), Fraction(0), Stop.NOTHING_TO_CUT, ())
    model = model_of(group, items, chosen)
    search = _Search(group, model, watch, seed, report)
    best, short = search.run()
    if short is not None:
        items, left_out = _without(group, items, model, short)
        rest = [i for i in chosen if items[i].demand]
        again = plan_parts(group, items, rest, watch, seed, report)
        return replace(again, unplanned=(*left_out, *again.unplanned))
    uses = uses_of(best, model, items, group.rules)
    return Planned(items, uses, search.bound, search.stopped(), ())


def _without(
    group: Group, items: tuple[Item, ...], model: Model, short: Sequence[int]
) -> tuple[tuple[Item, ...], tuple[tuple[str, Unplanned], ...]]:
    """Items without the pieces that found no sheet, the last wanted first."""
    now = list(items)
    left_out: list[tuple[str, Unplanned]] = []
    for kind, missing in zip(model.kinds, short, strict=True):
        for i, _ in reversed(kind.members):
            pieces = []
            for piece in reversed(now[i].pieces):
                out = min(piece.qty, missing)
                missing -= out
                if out:
                    left_out.append(too_few(group, piece, out))
                if out < piece.qty:
                    pieces.append(replace(piece, qty=piece.qty - out))
            now[i] = replace(now[i], pieces=tuple(reversed(pieces)))
    return tuple(now), tuple(reversed(left_out))


class _Search:
    """Bound, dives, and what they found."""

    def __init__(self, group: Group, model: Model, watch: Watch, seed: int, report: Report) -> None:
        self.group, self.model, self.watch, self.report = group, model, watch, report
        self.rng = random.Random(seed)  # noqa: S311 - a search, not a secret
        self.generator = Generator(model, group.rules, watch)
        self.bound = Fraction(0)
        self.best: list[Chosen] | None = None
        self.cost = Fraction(0)
        self.least_short: tuple[int, list[int]] | None = None

    def run(self) -> tuple[list[Chosen], list[int] | None]:
        """The best plan; or, where none has place for all parts, how many of each are short."""
        g = self.generator
        g.start()
        g.root(_ROOT_ROUNDS)
        self.bound = g.rounded_bound()
        self._tell("bound")
        self._try(dive(g, Room(self.model), None, _DIVE_ROUNDS, True))
        self._cover()
        for _ in range(_SHAKEN):
            if self.done() or self.watch.stop():
                break
            self._try(dive(g, Room(self.model), self.rng, _DIVE_ROUNDS, True))
            self._try(dive(g, Room(self.model), self.rng, _DIVE_ROUNDS, False))
            self._cover()
        self._tell("plan")
        if self.best is None:
            if self.least_short is None:
                raise RuntimeError("a dive that found nothing and left nothing")
            return [], self.least_short[1]
        return self.best, None

    def _cover(self) -> None:
        if self.done() or self.watch.stop():
            return
        room = Room(self.model)
        self.generator.master.set_need(room.need, room.available)
        self.generator.master.solve()
        below = self.cost if self.best is not None else None
        plan = cover(self.generator, room, self.bound, below, _COVER_NODES, self.best or ())
        if plan is not None:
            self._try(plan)

    def done(self) -> bool:
        """Whether the best plan is proved to be the best there is."""
        return self.best is not None and self.cost <= self.bound

    def stopped(self) -> Stop:
        """Why the search ended."""
        if self.done():
            return Stop.PROVED
        return self.watch.stop() or Stop.WORK

    def _try(self, chosen: list[Chosen]) -> None:
        short = self.model.need.copy()
        for c in chosen:
            short -= c.cuts * c.count
        if short.any():
            area = int(sum(n * a for n, a in zip(short.tolist(), self.model.areas, strict=True)))
            if self.least_short is None or area < self.least_short[0]:
                self.least_short = (area, short.tolist())
            return
        cost = cost_of(chosen)
        if self.best is None or cost < self.cost:
            self.best, self.cost = chosen, cost

    def _tell(self, phase: str) -> None:
        objective = float(self.cost) if self.best is not None else None
        self.report(Progress(self.group.materials, phase, objective, float(self.bound)))
