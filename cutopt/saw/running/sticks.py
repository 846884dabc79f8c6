"""Within a stick: long parts first, and no short one last where that can be avoided.

The last part is held by what is left of the stick. Where it is shorter than the saw's safe hand
distance and another part is not, the shortest of those that are long enough comes last. Where all
are shorter, the layout is named: a caution for the operator, not a word on what is safe.
Sheets keep their cutting order, and so do sticks whose parts do not follow each other kerf by kerf.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from cutopt.materials import Kind
from cutopt.plan import Layout, MaterialPlan, Placed, Plan
from cutopt.saw.saws import Saw

__all__ = ["Caution", "long_first", "short_ends"]


@dataclass(frozen=True, slots=True)
class Caution:
    """A pattern whose last part is shorter than the safe hand distance, in counts."""

    material: str
    pattern: str
    last: int
    safe_hand: int


def long_first(plan: Plan, saw: Saw, materials: Collection[str]) -> Plan:
    """The plan with the sticks of these materials re-ordered, patterns told anew."""
    return replace(
        plan,
        materials=tuple(
            _long_first(m, saw.safe_hand)
            if m.material in materials and m.kind is Kind.LUMBER
            else m
            for m in plan.materials
        ),
    )


def short_ends(plan: Plan, saw: Saw, materials: Collection[str]) -> tuple[Caution, ...]:
    """The patterns of sticks that end with a part shorter than the safe hand distance."""
    found: dict[tuple[str, str], Caution] = {}
    for m in plan.materials:
        if m.kind is not Kind.LUMBER or m.material not in materials:
            continue
        for lay in m.layouts:
            last = max(lay.parts, key=lambda p: p.x).length
            if last < saw.safe_hand:
                key = (m.material, lay.pattern)
                found.setdefault(key, Caution(*key, last, saw.safe_hand))
    return tuple(found.values())


def _long_first(material: MaterialPlan, safe_hand: int) -> MaterialPlan:
    patterns: dict[tuple[object, ...], str] = {}
    layouts = []
    for lay in material.layouts:
        parts = _ordered(lay, material.kerf, safe_hand)
        places = tuple(sorted((p.x, p.length) for p in parts))
        name = f"{material.material}-P{len(patterns) + 1}"
        pattern = patterns.setdefault((lay.offer.length, places), name)
        layouts.append(replace(lay, parts=parts, pattern=pattern))
    return replace(material, layouts=tuple(layouts))


def _ordered(lay: Layout, kerf: int, safe_hand: int) -> tuple[Placed, ...]:
    parts = sorted(lay.parts, key=lambda p: p.x)
    x = 0
    for p in parts:
        if p.x != x:
            return lay.parts
        x += p.length + kerf
    parts.sort(key=lambda p: -p.length)
    if parts[-1].length < safe_hand:
        enough = [i for i, p in enumerate(parts) if p.length >= safe_hand]
        if enough:
            parts.append(parts.pop(enough[-1]))
    placed = []
    x = 0
    for p in parts:
        placed.append(replace(p, x=x))
        x += p.length + kerf
    return tuple(placed)
