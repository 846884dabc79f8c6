"""What the saw is set up for: the same parts cut from the same size of sheet."""

from __future__ import annotations

from collections.abc import Mapping

from cutopt.materials import Rules
from cutopt.solve.sheets.columns import Generator
from cutopt.solve.sheets.master import Column
from cutopt.solve.sheets.pattern import Pattern

__all__ = ["Key", "Keys", "Plan"]

#: Material, length, width and edges of the sheet, and how often it gives each kind.
Key = tuple[str, int, int, str, bytes]
#: How many sheets are cut to each pattern.
Plan = dict[Pattern, int]


class Keys:
    """Set-ups of patterns, and how many books of sheets each is cut in.

    Two patterns that cut the same parts from sheets of one size, however dear, are one set-up: the
    sheets are then all cut by one of the two. A set-up of n sheets takes ⌈n / stack⌉ books: a
    part book is handled and cut like a whole one.
    """

    def __init__(self, generator: Generator, rules: Rules) -> None:
        self.generator, self.model = generator, generator.model
        self._stack = [max(1, rules.for_sheets(s.material).stack) for s in self.model.sheets]
        self._known: dict[Pattern, tuple[Key, Column]] = {}

    @property
    def single(self) -> bool:
        """Whether no sheets are cut in books at all."""
        return all(n == 1 for n in self._stack)

    def stack(self, pattern: Pattern) -> int:
        """Sheets that are cut at once."""
        return self._stack[pattern.sheet]

    @property
    def known(self) -> tuple[Pattern, ...]:
        """All patterns that were looked at."""
        return tuple(self._known)

    def column(self, pattern: Pattern) -> Column:
        """The pattern with what it cuts and costs."""
        return self._look(pattern)[1]

    def of(self, pattern: Pattern) -> Key:
        """The set-up of a pattern."""
        return self._look(pattern)[0]

    def _look(self, pattern: Pattern) -> tuple[Key, Column]:
        known = self._known.get(pattern)
        if known is None:
            column = self.generator.column(pattern)
            sheet = self.model.sheets[pattern.sheet]
            key = (sheet.material, sheet.length, sheet.width, sheet.edges, column.cuts.tobytes())
            known = self._known[pattern] = (key, column)
        return known

    def counts(self, plan: Mapping[Pattern, int]) -> dict[Key, list[int]]:
        """Sheets by set-up, and the most that are cut at once."""
        found: dict[Key, list[int]] = {}
        for pattern, n in plan.items():
            entry = found.setdefault(self.of(pattern), [0, self._stack[pattern.sheet]])
            entry[0] += n
        return found

    def measure(self, plan: Mapping[Pattern, int]) -> tuple[int, int]:
        """How many set-ups, and how many books they are cut in."""
        counts = self.counts(plan).values()
        return len(counts), sum(-(-n // stack) for n, stack in counts)
