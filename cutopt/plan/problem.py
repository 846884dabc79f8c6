"""What is to be planned: days together, in groups of materials that depend on each other."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property

from cutopt.cutlist import Day, Part
from cutopt.materials import Kind, Offer, Rules
from cutopt.measure import Unit
from cutopt.records import Fault

__all__ = ["Group", "Problem"]


@dataclass(frozen=True, slots=True)
class Group:
    """Materials that must be planned together: parts may be cut from one or another, or runs mate.

    Most groups hold one material. `parts` keep the order of the cut lists; `offers` the order of
    stock.csv.
    """

    materials: tuple[str, ...]
    kind: Kind
    parts: tuple[Part, ...]
    offers: tuple[Offer, ...]
    rules: Rules

    @property
    def pieces(self) -> int:
        """Parts asked for, a field or a run counting as one."""
        return sum(p.qty for p in self.parts)


@dataclass(frozen=True)
class Problem:
    """Days planned together against the stock and the rules of the first."""

    days: tuple[Day, ...]
    #: What a person should look at, told when the days were read.
    warnings: tuple[Fault, ...] = ()

    @property
    def unit(self) -> Unit:
        """The unit of the first day: a plan is written in it."""
        return self.days[0].unit

    @property
    def rules(self) -> Rules:
        """The rules of the first day."""
        return self.days[0].rules

    @property
    def offers(self) -> tuple[Offer, ...]:
        """The stock of the first day."""
        return self.days[0].offers

    @cached_property
    def parts(self) -> tuple[Part, ...]:
        """Every row of every day's cut lists, in order."""
        return tuple(p for day in self.days for p in day.parts)

    @cached_property
    def groups(self) -> tuple[Group, ...]:
        """The groups that have parts, in the order in which stock.csv first names one of each."""
        kinds = {o.material: o.kind for o in self.offers}
        root = {m: m for m in kinds}

        def find(m: str) -> str:
            while root[m] != m:
                m = root[m]
            return m

        def join(m: str, other: str) -> None:
            a, b = find(m), find(other)
            if a != b:
                root[b] = a

        runs = {(p.section, p.mark): p.material for p in self.parts if p.joints is not None}
        for part in self.parts:
            for other in part.alt:
                join(part.material, other)
            # Joints that keep clear of a run in another material can't be placed apart from it.
            if part.joints is not None and part.joints.mate is not None and part.joints.clear > 0:
                mate = runs.get((part.section, part.joints.mate), part.material)
                if kinds[mate] == kinds[part.material]:
                    join(part.material, mate)
        members: dict[str, list[str]] = defaultdict(list)
        for m in kinds:
            members[find(m)].append(m)
        parts: dict[str, list[Part]] = defaultdict(list)
        for part in self.parts:
            parts[find(part.material)].append(part)
        return tuple(
            Group(
                materials=tuple(names),
                kind=kinds[names[0]],
                parts=tuple(parts[key]),
                offers=tuple(o for o in self.offers if find(o.material) == key),
                rules=self.rules,
            )
            for key, names in members.items()
            if parts[key]
        )
