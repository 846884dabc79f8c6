"""How a stick is cut: parts in a row with a kerf between them, and the drops that this leaves."""

from __future__ import annotations

from itertools import pairwise

from cutopt.materials import LumberRules, Offer
from cutopt.plan.check.seen import SeenLayout, SeenPart
from cutopt.plan.check.told import Told, count

__all__ = ["check_stick"]


def check_stick(
    layout: SeenLayout, offer: Offer, rules: LumberRules, where: str, told: Told
) -> None:
    """One layout of lumber, on a stick of `offer`."""
    end = offer.length - rules.head_trim
    reach = offer.counts_as - rules.head_trim
    if rules.max_parts and len(layout.parts) > rules.max_parts:
        told(where, f"{count(len(layout.parts), 'part')}, at most {rules.max_parts} from a stick")
    inside = [_part(part, end, reach, where, told) for part in layout.parts]
    sound = all(inside)
    parts = sorted(layout.parts, key=lambda p: (p.x, p.length))
    for a, b in pairwise(parts):
        gap = b.x - (a.x + a.length)
        if gap < rules.kerf:
            sound = False
            found = f"{told.show(gap)} apart" if gap >= 0 else f"overlapping by {told.show(-gap)}"
            told(where, f"{a} and {b} are {found}, promised the kerf of {told.show(rules.kerf)}")
    if sound:
        _drops(layout, parts, end, rules, where, told)
    for drop in layout.drops:
        if drop.y or drop.width is not None:
            told(where, f"the drop at {told.show(drop.x)} has y or width, a stick's has none")
        if drop.kept != (drop.length >= rules.keep_drop and drop.length > 0):
            word = "kept" if drop.kept else "not kept"
            told(
                where,
                f"the drop of {told.show(drop.length)} at {told.show(drop.x)} is {word}, "
                f"keep_drop is {told.show(rules.keep_drop)}",
            )


def _part(part: SeenPart, end: int, reach: int, where: str, told: Told) -> bool:
    """Whether the part lies on the squared stick, which ends at `end` and counts to `reach`."""
    if part.width is not None or part.y or part.turned:
        told(where, f"{part} has a width, y or turn, a stick's part has none")
    if part.length <= 0:
        told(where, f"{part} has no length")
        return False
    if part.x + part.length > end:
        found, stop = told.show(part.x + part.length), told.show(end)
        told(where, f"{part} ends at {found}, the squared stick at {stop}")
        return False
    if part.x + part.length > reach:
        found, stop = told.show(part.x + part.length), told.show(reach)
        told(
            where,
            f"{part} ends at {found}, within the over-length: the squared stick counts to {stop}",
        )
    return True


def _drops(
    layout: SeenLayout,
    parts: list[SeenPart],
    end: int,
    rules: LumberRules,
    where: str,
    told: Told,
) -> None:
    """Between two parts a cut frees either; at the ends one cut does."""
    promised: list[tuple[int, int]] = []
    at = 0
    for part in parts:
        if part.x - rules.kerf > at:
            promised.append((at, part.x - rules.kerf - at))
        at = part.x + part.length + rules.kerf
    if at < end and parts:
        promised.append((at, end - at))
        if end - at < rules.least_left:
            least = told.show(rules.least_left)
            told(where, f"the last cut leaves {told.show(end - at)}, least_left is {least}")
    found = sorted((drop.x, drop.length) for drop in layout.drops)
    for x, length in promised:
        if (x, length) in found:
            found.remove((x, length))
        else:
            told(where, f"a drop of {told.show(length)} is left at {told.show(x)}, not told")
    for x, length in found:
        told(where, f"a drop of {told.show(length)} at {told.show(x)} is told, none is left there")
