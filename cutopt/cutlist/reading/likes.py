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
from cutopt.measure import FOOT, INCH

__all__ = ["Slip", "exchanged", "twelvefold"]

#: How near to 12 a ratio of lengths must lie, in thousandths.
_NEAR = 5
_VERY_NEAR = 2
#: With a like of a single row, only a stick this short is thought to be feet.
_FEET_READ = 20 * INCH
#: No run of a section is longer: about 100 ft.
_LONGEST_RUN = 100 * FOOT


@dataclass(frozen=True, slots=True)
class Slip:
    """A row that stands alone beside its like.

    `like` is the first of the `others` rows that it is held against. Where it is not `sure` the
    row may be real, and is only worth a look.
    """

    part: Part
    like: Part
    others: int
    long: bool
    sure: bool


def twelvefold(
    parts: Sequence[Part], kind_of: dict[str, Kind], longest: dict[Part, int]
) -> Iterator[Slip]:
    """Rows 12 times too long or too short beside their like.

    `longest` holds, for parts that no stock offered can give, the longest that it gives. Such a
    part is certainly wrong, and one like is enough to say in what way; any other needs two that
    agree, and every further like at least four times off on the same side. Runs and strips of
    sheet are only worth a look even then.
    """
    for group in _likes(parts):
        # A row that stands alone is the shortest or the longest of its group, and the only one.
        group.sort(key=lambda p: p.length)
        if 11 * group[0].length > group[-1].length:
            continue
        for part, others, long in ((group[0], group[1:], False), (group[-1], group[:-1], True)):
            slip = _slip(part, others, long, kind_of, part in longest)
            if slip is not None:
                yield slip
                break


def _likes(parts: Sequence[Part]) -> Iterator[list[Part]]:
    groups: dict[tuple[str, str, Rule], list[Part]] = defaultdict(list)
    for part in parts:
        groups[part.mark, part.material, part.rule].append(part)
    for group in groups.values():
        if len(group) > 1:
            yield group


def _slip(
    part: Part, others: list[Part], long: bool, kind_of: dict[str, Kind], cannot_be_cut: bool
) -> Slip | None:
    nearest = others[-1] if long else others[0]
    within = _NEAR if len(others) > 1 else _VERY_NEAR
    near = [o for o in others if _is_twelve(part.length, o.length, long, within)]
    if not near or not _is_far(part.length, nearest.length, long):
        return None
    like = min(near, key=lambda p: p.place)
    if part.rule is Rule.JOINTED:
        # Runs are as long as walls are, in whole feet: 4 ft beside 48 ft is no rare thing.
        sure, seen = long and part.length > _LONGEST_RUN, len(near) > 1
    else:
        # Of two rows alone either may be right, and short strips of sheet are real.
        agreed = len(near) == len(others)
        is_lumber = kind_of.get(part.material) is Kind.LUMBER
        is_block = is_lumber and part.rule is Rule.PART and part.length <= _FEET_READ
        seen = len(near) > 1
        sure = (seen and (is_lumber or long)) or (agreed and (cannot_be_cut if long else is_block))
    return Slip(part, like, len(near), long, sure) if sure or seen else None


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
            yield Slip(odd[0], rest[0], len(rest), long=False, sure=False)
