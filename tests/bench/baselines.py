"""What a mill does without a planner: first-fit decreasing on the best single size.

Kept generous to the baseline: limits and clearances are ignored, every kept drop earns its credit.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from cutopt.cutlist import Part, Rule
from cutopt.materials import Kind, Offer, Rules
from cutopt.plan import Drop, Group
from cutopt.plan.value import drop_credit, keeps

__all__ = ["longest_first", "single_size_cost"]


def single_size_cost(group: Group) -> dict[str, Fraction | None]:
    """Per asked material, the objective of first-fit decreasing on its best single size.

    None where no single size holds every part.
    """
    costs: dict[str, Fraction | None] = {}
    for material in group.materials:
        parts = [p for p in group.parts if p.material == material]
        if not parts:
            continue
        offers = [o for o in group.offers if o.material == material and o.limit != 0]
        cost = _sticks if group.kind is Kind.LUMBER else _sheets
        found = [c for o in offers if (c := cost(parts, o, group.rules)) is not None]
        costs[material] = min(found, default=None)
    return costs


def _sticks(parts: Sequence[Part], offer: Offer, rules: Rules) -> Fraction | None:
    rule = rules.for_lumber(offer.material)
    usable = offer.length - rule.head_trim
    lengths: list[int] = []
    joints = 0
    for part in parts:
        if part.rule is Rule.JOINTED:
            pieces = longest_first(part, usable, rule.joint_min_piece)
            if pieces is None:
                return None
            lengths += pieces * part.qty
            joints += (len(pieces) - 1) * part.qty
        elif part.length > usable:
            return None
        else:
            lengths += [part.length] * part.qty
    left = _first_fit(sorted(lengths, reverse=True), usable, rule.kerf)
    cost = len(left) * offer.cost + joints * Fraction(rule.joint_price)
    for rest in left:
        if keeps(offer, rest, None, rules):
            cost -= drop_credit(offer, Drop(0, 0, rest, None, True), rules)
    return cost


def _first_fit(lengths: Iterable[int], usable: int, kerf: int) -> list[int]:
    """What is left of each stick, a kerf taken behind every part."""
    left: list[int] = []
    start = 0
    last = -1
    for length in lengths:
        if length != last:
            start = 0
            last = length
        for i in range(start, len(left)):
            if left[i] >= length:
                left[i] = max(0, left[i] - length - kerf)
                start = i
                break
        else:
            start = len(left)
            left.append(max(0, usable - length - kerf))
    return left


def longest_first(part: Part, usable: int, least: int) -> list[int] | None:
    """Pieces of a run, each as long as a stick and the joint places allow."""
    if part.length <= usable:
        return [part.length]
    joints = part.joints
    if joints is None:
        return None
    places = [
        p
        for p in range(joints.first or joints.step, part.length, joints.step)
        if part.length - p >= least
    ]
    pieces: list[int] = []
    at = 0
    while part.length - at > usable:
        reach = [p for p in places if least <= p - at <= usable]
        if not reach:
            return None
        pieces.append(reach[-1] - at)
        at = reach[-1]
    return [*pieces, part.length - at]


def _sheets(parts: Sequence[Part], offer: Offer, rules: Rules) -> Fraction | None:
    rule = rules.for_sheets(offer.material)
    if offer.width is None:
        return None
    length, width = offer.length - 2 * rule.edge_trim, offer.width - 2 * rule.edge_trim
    boards = joints = 0
    rects: list[tuple[int, int]] = []
    for part in parts:
        wide = part.width or 0
        if part.rule is Rule.FULL_SPAN:
            if part.length > offer.length:
                return None
            boards += -(-wide // offer.width) * part.qty
            continue
        pieces = [part.length]
        if part.rule is Rule.JOINTED:
            least = rules.for_lumber(offer.material).joint_min_piece
            split = longest_first(part, length, least)
            if split is None:
                return None
            pieces = split
            joints += (len(split) - 1) * part.qty
        for piece in pieces:
            size = (piece, wide)
            if part.turn and not (piece <= length and wide <= width):
                size = (wide, piece)
            if size[0] > length or size[1] > width:
                return None
            rects += [size] * part.qty
    joint_price = Fraction(rules.for_lumber(offer.material).joint_price)
    sheets = boards + _shelves(rects, length, width, rule.kerf)
    return sheets * offer.cost + joints * joint_price


def _shelves(rects: list[tuple[int, int]], length: int, width: int, kerf: int) -> int:
    """Sheets used by shelves filled first-fit, the widest parts first."""
    shelves: list[tuple[int, int]] = []  # width, length left
    left: list[int] = []  # per sheet, width left
    for along, across in sorted(rects, key=lambda r: (-r[1], -r[0])):
        for i, (wide, rest) in enumerate(shelves):
            if across <= wide and along <= rest:
                shelves[i] = (wide, rest - along - kerf)
                break
        else:
            for j, rest in enumerate(left):
                if across <= rest:
                    left[j] = rest - across - kerf
                    break
            else:
                left.append(width - across - kerf)
            shelves.append((across, length - along - kerf))
    return len(left)
