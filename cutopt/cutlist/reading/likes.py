"""A part held against its like: feet typed for inches, length and width exchanged.

The like of a row are the rows of the same mark, material and rule in other sections and days. A
false alarm would refuse a real day, so a row is called a slip only where it stands alone.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from cutopt.cutlist.part import Part, Rule
from cutopt.materials import Kind
from cutopt.measure import INCH

__all__ = ["Slip", "exchanged", "twelvefold"]

#: How near to 12 a ratio of lengths must lie, in thousandths.
_NEAR = 5
_VERY_NEAR = 2
#: With a like of a single row, only a stick this short is thought to be feet.
_FEET_READ = 20 * INCH


@dataclass(frozen=True, slots=True)
class Slip:
    """A row that stands alone beside its like; `like` is the first row that it is held against."""

    part: Part
    like: Part
    others: int
    long: bool


def twelvefold(
    parts: Sequence[Part], kind_of: dict[str, Kind], longest: dict[Part, int]
) -> Iterator[Slip]:
    """Rows 12 times too long or too short beside their like.

    `longest` holds, for parts that no stock offered can give, the longest that it gives. Such a
    part is certainly wrong, and one like is enough to say in what way; any other needs two that
    agree, and every further like at least four times off on the same side.
    """
    for group in _likes(parts):
        lengths = sorted({p.length for p in group})
        if 11 * lengths[0] > lengths[-1]:
            continue
        for part in group:
            slip = _slip(part, [p for p in group if p is not part], kind_of, part in longest)
            if slip is not None:
                yield slip


def _likes(parts: Sequence[Part]) -> Iterator[list[Part]]:
    groups: dict[tuple[str, str, Rule], list[Part]] = defaultdict(list)
    for part in parts:
        groups[part.mark, part.material, part.rule].append(part)
    for group in groups.values():
        if len(group) > 1:
            yield group


def _slip(
    part: Part, others: list[Part], kind_of: dict[str, Kind], cannot_be_cut: bool
) -> Slip | None:
    for long in (True, False):
        within = _NEAR if len(others) > 1 else _VERY_NEAR
        near = [o for o in others if _is_twelve(part.length, o.length, long, within)]
        alone = all(_is_far(part.length, o.length, long) for o in others)
        if not near or not alone:
            continue
        agreed = len(near) == len(others)
        is_lumber = kind_of.get(part.material) is Kind.LUMBER
        if long and cannot_be_cut and agreed:
            return Slip(part, near[0], len(near), long)
        if len(near) > 1 and (is_lumber or long):
            return Slip(part, near[0], len(near), long)
        # Of two rows alone either may be right: short blocks and strips of sheet are real.
        is_block = long or not is_lumber or part.length > _FEET_READ or part.rule is not Rule.PART
        if agreed and not is_block:
            return Slip(part, near[0], len(near), long)
    return None


def _is_twelve(length: int, like: int, long: bool, thousandths: int) -> bool:
    a, b = (like, length) if long else (length, like)
    return abs(12 * a - b) * 1000 <= thousandths * b


def _is_far(length: int, like: int, long: bool) -> bool:
    return 4 * like <= length if long else 4 * length <= like


def exchanged(parts: Sequence[Part]) -> Iterator[Slip]:
    """Sheet parts whose length and width are the width and length of all their like."""
    for group in _likes([p for p in parts if p.width is not None and not p.turn]):
        sizes = {(p.length, p.width) for p in group}
        if len(group) < 3 or len(sizes) != 2:
            continue
        (a, b), other = sizes
        if (b, a) != other:
            continue
        odd = [p for p in group if (p.length, p.width) == (a, b)]
        rest = [p for p in group if (p.length, p.width) != (a, b)]
        if len(rest) == 1:
            odd, rest = rest, odd
        if len(odd) == 1:
            yield Slip(odd[0], rest[0], len(rest), long=False)
