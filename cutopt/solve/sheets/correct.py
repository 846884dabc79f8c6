"""Sequential value correction: whole plans, sheet by sheet, worths learnt from waste.

Each pattern cuts only what is still needed. Kinds that end up in wasteful patterns grow in worth,
so that the next plan cuts them earlier, where better company is left.
"""

from __future__ import annotations

import random
from contextlib import suppress

import numpy as np

from cutopt.solve.search import LateError
from cutopt.solve.sheets.columns import Generator, Room
from cutopt.solve.sheets.dive import Draft, take
from cutopt.solve.sheets.pattern import counts

__all__ = ["Corrector"]

#: Sheets tried for each pattern, chosen at random where there are more.
_SHEETS = 4


class Corrector:
    """Worths per kind, kept from plan to plan."""

    def __init__(self, generator: Generator, rng: random.Random) -> None:
        self.generator, self.rng = generator, rng
        model = generator.model
        areas = np.array(model.areas, dtype=np.float64)
        self.areas = areas
        self.room_of = np.array([float(s.length * s.width) for s in model.sheets])
        self.costs = np.array([float(s.cost) for s in model.sheets])
        rate = float((self.costs / self.room_of).min())
        self.base = np.maximum(generator.master.duals.part, 0.3 * areas * rate)
        self.worth = self.base.copy()
        self.first = True

    def plan(self, room: Room, deep: bool) -> tuple[Draft, int]:
        """A plan of what `room` needs, which is used up, and how much work it was.

        Out of time, what is still needed stays in `room`.
        """
        draft = Draft()
        effort = 0
        with suppress(LateError), self.generator.looking():
            effort = self._plan(draft, room, deep)
        return draft, effort

    def _plan(self, draft: Draft, room: Room, deep: bool) -> int:
        g = self.generator
        effort = 0
        while room.need.any() and not g.watch.stop():
            shaken = self.worth
            if not self.first:
                noise = [0.9 + 0.2 * self.rng.random() for _ in shaken]
                shaken = shaken * np.array(noise)
            worth = np.maximum(g.worths(shaken), 1)
            open_sheets = [q for q, is_open in enumerate(room.open_sheets()) if is_open]
            if len(open_sheets) > _SHEETS:
                open_sheets = sorted(self.rng.sample(open_sheets, _SHEETS))
            best = None
            for pricer in (*g.strips, *(g.stacks if deep else ())):
                for q in pricer.bench.sheets:
                    if q not in open_sheets:
                        continue
                    pattern = pricer.fill(worth, room.need, q)
                    effort += pricer.effort * max(1, len(pattern.strips))
                    cut = counts(pattern, len(worth))
                    if g.model.ruled and cut.any():
                        # Larger orders are not listed: every pattern may help the cover.
                        g.master.add(g.column(pattern))
                    score = float(cut @ shaken) / self.costs[q] if self.costs[q] else 0.0
                    if cut.any() and (best is None or score > best[0]):
                        best = (score, q, pattern, cut)
            if best is None:
                if len(open_sheets) < sum(room.open_sheets()):
                    continue
                break
            _, q, pattern, cut = best
            used = cut > 0
            times = int((room.need[used] // cut[used]).min())
            limit = room.available[q]
            times = times if limit is None else min(times, limit)
            filled = max(0.05, float(cut @ self.areas) / self.room_of[q])
            self.worth[used] = 0.85 * self.worth[used] + 0.15 * self.base[used] * filled**-0.7
            chosen = take(g, room, pattern, times)
            g.master.add(g.column(chosen.pattern))
            draft.chosen.append(chosen)
        self.first = False
        return effort
