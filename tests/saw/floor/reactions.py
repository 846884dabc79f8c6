"""CPU seconds of every reaction on a demo day of which every second piece of stock is cut.

`python -m tests.saw.floor.reactions [DAY]`: a measurement, not a test. It prints the dearest of
each kind and exits 1 where one takes more than the three seconds promised for a day.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import replace

from cutopt.materials import Kind
from cutopt.measure import INCH
from cutopt.saw.floor import (
    Outcome,
    Reason,
    State,
    Status,
    Usable,
    balance,
    cut_all,
    cut_short,
    damaged,
    jig_down,
    kerf_changed,
    move_section,
    part_lost,
    plan_anew,
    pull_section,
    rack_full,
    release,
    revise,
    rush,
    start,
    undo,
    wrong_stock,
)
from tests.saw.floor.days import BY
from tests.saw.floor.test_demo_floor import DAYS, planned

PROMISED = 3.0


def measured(day: str) -> dict[str, float]:
    """The dearest of each kind of reaction, in CPU seconds."""
    problem, plan = planned(day)
    state = release(problem, plan)
    state = cut_all(state, [s.id for s in state.sticks][::2], BY)
    worst: dict[str, float] = {}

    def take(kind: str, react: Callable[[], Outcome]) -> None:
        began = time.process_time()
        found = react()
        taken = time.process_time() - began
        worst[kind] = max(taken, worst.get(kind, 0.0))
        lines = balance(found.after.entries)
        saws = {s.id for s in found.after.sticks if s.status is Status.AT_SAW}
        assert all(line.exact for line in lines if line.stock not in saws)

    _stock(state, take)
    kinds = {o.material: o.kind for o in state.offers}
    lumber = [m for m, kind in kinds.items() if kind is Kind.LUMBER]
    scored = [m for m in kinds if m not in lumber and state.rules.for_sheets(m).kerf]
    entry = next(e for e in state.standing if e.part is not None)
    take("part lost", lambda: part_lost(state, entry.number, BY))
    take("rack full", lambda: rack_full(state, tuple(state.rack), BY))
    for kerf in (3 * INCH // 16, 3 * INCH // 32):
        take("kerf, sticks", lambda k=kerf: kerf_changed(state, k, lumber))  # type: ignore[misc]
        take("kerf, sheets", lambda k=kerf: kerf_changed(state, k, scored))  # type: ignore[misc]
    for jig in dict.fromkeys(n.piece.jig for n in state.needed):
        take("jig down", lambda j=jig: jig_down(state, j))  # type: ignore[misc]
        take("jig down, sticks apart", lambda j=jig: jig_down(state, j, lumber))  # type: ignore[misc]
    piece = next(n.piece for n in state.needed if n.piece.run is None and not n.piece.full_span)
    take("rush", lambda: rush(state, piece.section, piece.mark, 2))
    for material in kinds:
        take("planned anew", lambda m=material: plan_anew(state, [m]))  # type: ignore[misc]
    rows = problem.parts
    for section in dict.fromkeys(p.section for p in rows):
        take("section pulled", lambda s=section: pull_section(state, s, BY).outcome)  # type: ignore[misc]
        take("section moved", lambda s=section: move_section(state, s, 500, BY).outcome)  # type: ignore[misc]
    shorter = [
        replace(p, length=p.length - INCH) if i % 25 == 3 and not p.rule.value else p
        for i, p in enumerate(rows)
    ]
    take("list changed", lambda: revise(state, rows, shorter, BY).outcome)
    return worst


def _stock(state: State, take: Callable[[str, Callable[[], Outcome]], None]) -> None:
    """Troubles with one piece of stock of each material."""
    seen: set[str] = set()
    for stick in state.sticks:
        if stick.status is not Status.NOT_CUT or stick.material in seen:
            continue
        seen.add(stick.material)
        offer, name = stick.layout.offer, stick.id
        usable = [Usable(offer.length // 3, offer.width)]
        part = stick.layout.parts[0]
        on_saw = start(state, name, BY)
        short = Usable(part.length - 3 * INCH, part.width)
        take("split", lambda n=name, u=usable: damaged(state, n, Reason.SPLIT, BY, u))  # type: ignore[misc]
        take("cut short", lambda s=on_saw, n=name, u=short: cut_short(s, n, 0, BY, u))  # type: ignore[misc]
        take("undo", lambda s=on_saw, n=name: undo(s, n, BY))  # type: ignore[misc]
        same = (o for o in state.offers if o.material == offer.material and o.row != offer.row)
        other = next((o for o in same if o.available != 0), None)
        if other is not None:
            take("wrong stock", lambda s=on_saw, n=name, r=other.row: wrong_stock(s, n, r, BY))  # type: ignore[misc]


def main(words: list[str]) -> int:
    """Measure each day named, or all; 1 where the promise is missed."""
    missed = False
    for day in words or DAYS:
        print(day)
        for kind, taken in measured(day).items():
            missed |= taken > PROMISED
            print(f"  {kind:24s} {taken:6.2f} CPU s{'  above 3' if taken > PROMISED else ''}")
    return int(missed)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
