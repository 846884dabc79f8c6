"""What the comparisons see of a material: sheets, parts, fields, kerf; and a check of their plans.

A task is plain; drops earn nothing. Plans are shelves: strips along the sheet (or across it, where
crosscuts come first), each cut into parts, a last trimming cut free.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from cutopt.cutlist import Day, Rule
from cutopt.materials import FirstCut, Kind
from tests.bench.common.task import WrongPlanError, check_counts, pieces_of, wanted

__all__ = ["Filled", "Laid", "Rect", "Sheet", "Task", "checked_cost", "tasks_of"]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A size of stock. `length` and `width` are usable, `board` is whole; `available` None: any."""

    length: int
    width: int
    board: tuple[int, int]
    cost: Fraction
    on_hand: int
    available: int | None


@dataclass(frozen=True, slots=True)
class Rect:
    """A row of parts: finished sizes in counts, how many, whether they may be turned."""

    length: int
    width: int
    qty: int
    turn: bool


@dataclass(frozen=True, slots=True)
class Filled:
    """A sheet cut into shelves: (extent across, the (part, turned) that lie on it in order).

    `rip`: shelves run along the sheet; else across it, and lengths and widths change places.
    """

    sheet: int
    rip: bool
    shelves: tuple[tuple[int, tuple[tuple[int, bool], ...]], ...]


@dataclass(frozen=True, slots=True)
class Laid:
    """`count` boards of one size laid as rows of one field, over all its copies together."""

    field: int
    sheet: int
    count: int


@dataclass(frozen=True)
class Task:
    """A material. Parts in the order of the cut list; fields are (span, run).

    `rips` are the axes that the first stage may have; `lengths` the most board lengths that may be
    bought for fields, 0 for any.
    """

    material: str
    sheets: tuple[Sheet, ...]
    parts: tuple[Rect, ...]
    fields: tuple[tuple[int, int], ...]
    kerf: int
    rips: tuple[bool, ...]
    lengths: int
    joints: Fraction = Fraction(0)

    @property
    def pieces(self) -> int:
        """Pieces wanted."""
        return sum(p.qty for p in self.parts)

    def to_json(self) -> str:
        """For a process of its own."""
        return json.dumps(
            {
                "material": self.material,
                "sheets": [
                    [s.length, s.width, s.board, str(s.cost), s.on_hand, s.available]
                    for s in self.sheets
                ],
                "parts": [[p.length, p.width, p.qty, p.turn] for p in self.parts],
                "fields": self.fields,
                "kerf": self.kerf,
                "rips": self.rips,
                "lengths": self.lengths,
                "joints": str(self.joints),
            }
        )

    @classmethod
    def from_json(cls, text: str) -> Task:
        """The task that was written."""
        values: Mapping[str, Any] = json.loads(text)
        return cls(
            values["material"],
            tuple(
                Sheet(a, b, tuple(c), Fraction(d), e, f) for a, b, c, d, e, f in values["sheets"]
            ),
            tuple(Rect(*p) for p in values["parts"]),
            tuple((a, b) for a, b in values["fields"]),
            values["kerf"],
            tuple(values["rips"]),
            values["lengths"],
            Fraction(values["joints"]),
        )


def tasks_of(day: Day) -> list[Task]:
    """The sheet materials of a day that have parts."""
    found = []
    for material, offers, parts in wanted(day, Kind.SHEET):
        rule = day.rules.for_sheets(material)
        sticks = day.rules.for_lumber(material)
        longest = max(o.length for o in offers) - 2 * rule.edge_trim
        rects: list[Rect] = []
        fields: list[tuple[int, int]] = []
        joints = 0
        for part in parts:
            wide = part.width or 0
            if part.rule is Rule.FULL_SPAN:
                fields += [(part.length, wide)] * part.qty
                continue
            pieces = pieces_of(part, longest, sticks.joint_min_piece)
            joints += (len(pieces) - 1) * part.qty
            rects += [Rect(n, wide, part.qty, part.turn) for n in pieces]
        edge = 2 * rule.edge_trim
        first = rule.first_cut
        found.append(
            Task(
                material,
                tuple(
                    Sheet(
                        o.length - edge,
                        (o.width or 0) - edge,
                        (o.length, o.width or 0),
                        o.cost,
                        o.on_hand,
                        o.available,
                    )
                    for o in offers
                ),
                tuple(rects),
                tuple(fields),
                rule.kerf,
                {FirstCut.RIP: (True,), FirstCut.CROSS: (False,)}.get(first, (True, False)),
                day.rules.for_ceiling(material).order_lengths,
                joints * Fraction(sticks.joint_price),
            )
        )
    return found


def checked_cost(task: Task, plan: Sequence[Filled | Laid]) -> Fraction:
    """The exact cost of a plan, every rule checked anew from the task alone.

    Raises
    ------
    WrongPlanError
        Where a sheet holds more than it can, is not to be had, or a part is cut too often or too
        seldom; where a field is not covered by whole rows or too many lengths are bought.
    """
    used = [0] * len(task.sheets)
    cut = [0] * len(task.parts)
    covered = [0] * len(task.fields)
    narrowest: dict[int, int] = {}
    rows = [0] * len(task.sheets)
    for own in plan:
        if isinstance(own, Laid):
            sheet, (span, _) = task.sheets[own.sheet], task.fields[own.field]
            if own.count <= 0 or sheet.board[0] < span:
                raise WrongPlanError(f"a row of {span} from a board of {sheet.board[0]}")
            used[own.sheet] += own.count
            rows[own.sheet] += own.count
            covered[own.field] += own.count * sheet.board[1]
            least = narrowest.get(own.field, sheet.board[1])
            narrowest[own.field] = min(least, sheet.board[1])
            continue
        _check_sheet(task, own)
        used[own.sheet] += 1
        for _, members in own.shelves:
            for i, _ in members:
                cut[i] += 1
    available = [s.available for s in task.sheets]
    check_counts(used, available, cut, [p.qty for p in task.parts], "sheets")
    for f, (_, run) in enumerate(task.fields):
        # One row alone is ripped, so no more than a row is too much.
        if not run <= covered[f] < run + narrowest.get(f, 0):
            raise WrongPlanError(f"rows cover {covered[f]} of a run of {run}")
    bought = {s.board[0] for s, n in zip(task.sheets, rows, strict=True) if n > s.on_hand}
    if task.lengths and len(bought) > task.lengths:
        raise WrongPlanError(f"{len(bought)} lengths bought, at most {task.lengths}")
    cost = sum((n * s.cost for s, n in zip(task.sheets, used, strict=True)), Fraction(0))
    return cost + task.joints


def _check_sheet(task: Task, own: Filled) -> None:
    sheet = task.sheets[own.sheet]
    if own.rip not in task.rips:
        raise WrongPlanError("a first cut that is not allowed")
    along, across = (sheet.length, sheet.width) if own.rip else (sheet.width, sheet.length)
    at = 0
    for k, (high, members) in enumerate(own.shelves):
        at += high + (task.kerf if k else 0)
        if not members:
            raise WrongPlanError("an empty shelf")
        end = 0
        for n, (i, turned) in enumerate(members):
            part = task.parts[i]
            if turned and not part.turn:
                raise WrongPlanError("a part turned that may not be")
            a, b = part.length, part.width
            if turned is own.rip:  # turned on a shelf along the sheet, or not on one across it
                a, b = b, a
            end += a + (task.kerf if n else 0)
            if b > high:
                raise WrongPlanError(f"{b} on a shelf of {high}")
        if end > along:
            raise WrongPlanError(f"{end} along a shelf of {along}")
    if not own.shelves or at > across:
        raise WrongPlanError(f"shelves of {at} on a sheet of {across}")
