"""Layouts not yet cut, while they are changed: what is changed is a new layout, the old obsolete.

A ticket that a person may hold in their hand never changes under its name. Only a new kerf, which
moves every stop and no part, leaves the name.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

from cutopt.plan import Layout
from cutopt.saw.floor.rest import places_of
from cutopt.saw.floor.state import State, Status, Stick

__all__ = ["Bench"]


class Bench:
    """The pieces of stock of a state in a list that can be changed.

    `fresh` holds the names of those that were made here.
    """

    def __init__(self, state: State) -> None:
        self._state = state
        self.sticks = list(state.sticks)
        self.fresh: set[str] = set()
        self._moved: set[str] = set()
        self._serial = state.serial

    def open(self, materials: frozenset[str]) -> Iterator[Stick]:
        """Those of some materials that are not cut, as they are now, in cutting order."""
        for stick in tuple(self.sticks):
            if stick.status is Status.NOT_CUT and stick.material in materials:
                yield stick

    def change(self, stick: Stick, layout: Layout) -> Stick:
        """Cut a piece of stock to another layout."""
        at = self._at(stick)
        if stick.id in self.fresh:
            self.sticks[at] = replace(stick, layout=replace(layout, id=stick.layout.id))
            return self.sticks[at]
        self.sticks[at] = replace(stick, status=Status.OBSOLETE)
        made = self._made(layout, stick.drop)
        self.sticks.insert(at + 1, made)
        return made

    def move_stops(self, stick: Stick, layout: Layout) -> Stick:
        """The same parts from the same stock at other stops: the name stays."""
        self.sticks[self._at(stick)] = moved = replace(stick, layout=layout)
        self._moved.add(stick.id)
        return moved

    def drop(self, stick: Stick) -> None:
        """Cut a piece of stock not at all."""
        at = self._at(stick)
        if stick.id in self.fresh:
            del self.sticks[at]
            self.fresh.discard(stick.id)
        else:
            self.sticks[at] = replace(stick, status=Status.OBSOLETE)

    def add(self, layout: Layout, drop: int | None = None, behind: str | None = None) -> Stick:
        """Cut one piece of stock more: behind another in order, or last."""
        made = self._made(layout, drop)
        if behind is None:
            self.sticks.append(made)
            return made
        at = next(i for i, s in enumerate(self.sticks) if s.id == behind) + 1
        while at < len(self.sticks) and self.sticks[at].id in self.fresh:
            at += 1
        self.sticks.insert(at, made)
        return made

    def _made(self, layout: Layout, drop: int | None) -> Stick:
        self._serial += 1
        name = f"{layout.offer.material}-N{self._serial}"
        self.fresh.add(f"{name}/1")
        return Stick(f"{name}/1", replace(layout, id=name, count=1), drop=drop)

    def _at(self, stick: Stick) -> int:
        return next(i for i, s in enumerate(self.sticks) if s.id == stick.id)

    def state(self) -> State:
        """The state with the pieces of stock as they are now; new layouts have their patterns."""
        renamed = self.fresh | self._moved
        if not renamed:
            return self._state.with_layouts(tuple(self.sticks), self._serial)
        patterns: dict[tuple[object, ...], str] = {}
        last: Counter[str] = Counter()
        for stick in self.sticks:
            if stick.id not in renamed:
                patterns.setdefault(places_of(stick.layout), stick.layout.pattern)
            number = stick.layout.pattern.rpartition("-P")[2]
            if number.isascii() and number.isdigit():
                last[stick.material] = max(last[stick.material], int(number))
        for i, stick in enumerate(self.sticks):
            if stick.id in renamed:
                places = places_of(stick.layout)
                if places not in patterns:
                    last[stick.material] += 1
                    patterns[places] = f"{stick.material}-P{last[stick.material]}"
                layout = replace(stick.layout, pattern=patterns[places])
                self.sticks[i] = replace(stick, layout=layout)
        return self._state.with_layouts(tuple(self.sticks), self._serial)
