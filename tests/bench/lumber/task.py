"""What the comparisons see of a material: sticks, parts, kerf; and a check of what they plan.

A task is plain: pieces to be cut from sticks.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from cutopt.cutlist import Day
from cutopt.materials import Kind
from tests.bench.common.task import WrongPlanError, check_counts, pieces_of, wanted

__all__ = ["Filled", "Stick", "Task", "checked_cost", "tasks_of"]


@dataclass(frozen=True, slots=True)
class Stick:
    """A size of stock: its whole length, what is left of it after the head trim, its cost."""

    length: int
    usable: int
    cost: Fraction
    available: int | None


@dataclass(frozen=True, slots=True)
class Filled:
    """`count` sticks of one size, each cut into (part, how many)."""

    stick: int
    cuts: tuple[tuple[int, int], ...]
    count: int


@dataclass(frozen=True)
class Task:
    """A material. `parts` are (length, how many), longest first; lengths in counts.

    A drop of at least `keep` earns `share` of its price. `joints` is what the joints cost.
    """

    material: str
    sticks: tuple[Stick, ...]
    parts: tuple[tuple[int, int], ...]
    kerf: int
    keep: int
    share: Fraction
    most: int
    joints: Fraction = Fraction(0)

    @property
    def pieces(self) -> int:
        """Pieces wanted."""
        return sum(n for _, n in self.parts)

    def cost(self, stick: int, drop: int) -> Fraction:
        """Dollars for a stick with so much left behind the last kerf."""
        s = self.sticks[stick]
        if drop <= 0 or drop < self.keep:
            return s.cost
        return s.cost - self.share * s.cost * drop / s.length

    def to_json(self) -> str:
        """For a process of its own."""
        return json.dumps(
            {
                "material": self.material,
                "sticks": [[s.length, s.usable, str(s.cost), s.available] for s in self.sticks],
                "parts": self.parts,
                "kerf": self.kerf,
                "keep": self.keep,
                "share": str(self.share),
                "most": self.most,
                "joints": str(self.joints),
            }
        )

    @classmethod
    def from_json(cls, text: str) -> Task:
        """The task that was written."""
        values: Mapping[str, Any] = json.loads(text)
        return cls(
            values["material"],
            tuple(Stick(a, b, Fraction(c), d) for a, b, c, d in values["sticks"]),
            tuple((a, b) for a, b in values["parts"]),
            values["kerf"],
            values["keep"],
            Fraction(values["share"]),
            values["most"],
            Fraction(values["joints"]),
        )


def tasks_of(day: Day) -> list[Task]:
    """The lumber materials of a day that have parts."""
    found = []
    for material, offers, parts in wanted(day, Kind.LUMBER):
        rule = day.rules.for_lumber(material)
        usable = max(o.length for o in offers) - rule.head_trim
        asked: dict[int, int] = {}
        joints = 0
        for part in parts:
            pieces = pieces_of(part, usable, rule.joint_min_piece)
            for piece in pieces:
                asked[piece] = asked.get(piece, 0) + part.qty
            joints += (len(pieces) - 1) * part.qty
        sticks = [Stick(o.length, o.length - rule.head_trim, o.cost, o.available) for o in offers]
        found.append(
            Task(
                material,
                _merged(sticks),
                tuple(sorted(asked.items(), reverse=True)),
                rule.kerf,
                rule.keep_drop,
                Fraction(rule.drop_value),
                rule.max_parts,
                joints * Fraction(rule.joint_price),
            )
        )
    return found


def _merged(sticks: Sequence[Stick]) -> tuple[Stick, ...]:
    """Sticks of equal length and cost as one."""
    found: dict[tuple[int, Fraction], Stick] = {}
    for s in sticks:
        other = found.get((s.length, s.cost))
        available = s.available
        if other is not None:
            unlimited = s.available is None or other.available is None
            available = None if unlimited else (s.available or 0) + (other.available or 0)
        found[s.length, s.cost] = Stick(s.length, s.usable, s.cost, available)
    return tuple(found.values())


def checked_cost(task: Task, plan: Sequence[Filled]) -> Fraction:
    """The exact objective of a plan, every rule checked anew from the task alone.

    Raises
    ------
    WrongPlanError
        Where a stick holds more than it can, is not to be had, or a part is cut too often or too
        seldom.
    """
    used = [0] * len(task.sticks)
    cut = [0] * len(task.parts)
    dollars = task.joints
    for filled in plan:
        stick = task.sticks[filled.stick]
        pieces = [task.parts[i][0] for i, q in filled.cuts for _ in range(q)]
        if not pieces or filled.count <= 0:
            raise WrongPlanError(f"an empty stick: {filled}")
        if task.most and len(pieces) > task.most:
            raise WrongPlanError(f"{len(pieces)} parts in a stick, at most {task.most}")
        at = 0
        for n, piece in enumerate(pieces):
            at += piece + (task.kerf if n else 0)
        if at > stick.usable:
            raise WrongPlanError(f"{at} in a stick of {stick.usable}")
        drop = stick.usable - at - task.kerf
        credit = Fraction(0)
        if drop > 0 and drop >= task.keep:
            credit = task.share * stick.cost * Fraction(drop, stick.length)
        dollars += filled.count * (stick.cost - credit)
        used[filled.stick] += filled.count
        for i, q in filled.cuts:
            cut[i] += q * filled.count
    available = [s.available for s in task.sticks]
    check_counts(used, available, cut, [n for _, n in task.parts], "sticks")
    return dollars
