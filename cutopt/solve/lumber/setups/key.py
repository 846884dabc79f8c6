"""What the saw is set up for: the same lengths cut from the same size of stock."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from fractions import Fraction

from cutopt.solve.lumber.model import Model, Pattern

__all__ = ["Key", "Keys", "cost_of"]

#: (grid, stock length, ((length, how many), ...)).
Key = tuple[int, int, tuple[tuple[int, int], ...]]


class Keys:
    """The set-ups of patterns, and how often each must be handled at the saw.

    Sticks of equal length but another price, and pieces of equal length that other materials are
    allowed for, are one set-up: the stops are the same. This is what `pattern` in plan.json says.

    Parameters
    ----------
    model
        Kinds and stocks.
    stack
        Per grid, how many sticks lie under the blade at once.
    """

    def __init__(self, model: Model, stack: Sequence[int]) -> None:
        self.model = model
        self.stack = tuple(stack)
        self._known: dict[Pattern, Key] = {}

    def of(self, pattern: Pattern) -> Key:
        """The set-up of a pattern."""
        key = self._known.get(pattern)
        if key is None:
            stock = self.model.stocks[pattern.stock]
            cut: dict[int, int] = {}
            for i, q in pattern.cuts:
                length = self.model.kinds[i].length
                cut[length] = cut.get(length, 0) + q
            key = (stock.grid, stock.length, tuple(cut.items()))
            self._known[pattern] = key
        return key

    def counts(self, patterns: Mapping[Pattern, int]) -> dict[Key, int]:
        """Sticks by set-up."""
        counts: dict[Key, int] = {}
        for pattern, n in patterns.items():
            key = self.of(pattern)
            counts[key] = counts.get(key, 0) + n
        return counts

    def grouped(self, patterns: Mapping[Pattern, int]) -> dict[Key, list[Pattern]]:
        """Patterns by set-up, in the order in which they come."""
        found: dict[Key, list[Pattern]] = defaultdict(list)
        for pattern in patterns:
            found[self.of(pattern)].append(pattern)
        return found

    def measure(self, patterns: Mapping[Pattern, int]) -> tuple[int, int]:
        """How many set-ups, and how many stacks are laid under the blade for them.

        The stacks count whole and part ones alike, since the saw makes the same strokes for
        either: for a given number of sticks, few stacks are few empty places in them.
        """
        counts = self.counts(patterns)
        return len(counts), sum(-(-n // self.stack[key[0]]) for key, n in counts.items())


def cost_of(patterns: Mapping[Pattern, int]) -> Fraction:
    """Exact dollars, drops credited."""
    return sum((p.cost * n for p, n in patterns.items()), Fraction(0))
