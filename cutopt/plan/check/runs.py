"""Jointed runs: pieces end to end over the whole length, joints only where the drawing allows."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from cutopt.cutlist import Part, Rule
from cutopt.plan.check.asked import Asked, Shop, assign
from cutopt.plan.check.seen import SeenPart, SeenPlan
from cutopt.plan.check.told import Told

__all__ = ["check_runs", "joints_of"]

_COPY = re.compile(r"(.*)#([1-9]\d{0,8})", re.DOTALL)


@dataclass(frozen=True, slots=True)
class _Family:
    """The jointed rows of one mark in one section whose materials may stand for each other."""

    section: str
    mark: str
    materials: frozenset[str]
    rows: tuple[Part, ...]


@dataclass(slots=True)
class _Run:
    """The pieces found of one run, with the material and layout of each."""

    name: str
    pieces: list[tuple[SeenPart, str, str]] = field(default_factory=list)

    @property
    def joints(self) -> list[int]:
        """Where pieces meet: every start but the first."""
        return sorted(piece.run_at or 0 for piece, _, _ in self.pieces)[1:]


def joints_of(plan: SeenPlan, material: str) -> int:
    """Joints that a material's pieces begin at: every piece of a run but the one at its start."""
    return sum(
        layout.count
        for seen in plan.materials
        if seen.material == material
        for layout in seen.layouts
        for part in layout.parts
        if part.run is not None and part.run_at
    )


def check_runs(plan: SeenPlan, asked: Asked, shop: Shop, told: Told) -> None:
    """Every run of every copy, joint by joint."""
    families = {key: _families(*key, rows) for key, rows in asked.runs.items()}
    found: dict[_Family, dict[str, _Run]] = defaultdict(dict)
    for material in plan.materials:
        for layout in material.layouts:
            for part in layout.parts:
                where = f"{material.material}, layout {layout.id}"
                if part.run is None:
                    if part.run_at is not None:
                        told(where, f"{part} has run_at {part.run_at} and no run")
                    continue
                known = families.get((part.section, part.mark), [])
                family = next((f for f in known if material.material in f.materials), None)
                if not known:
                    told(where, f"{part} is no jointed run of the cut lists")
                elif family is None:
                    allowed = ", ".join(sorted(m for f in known for m in f.materials))
                    told(where, f"{part} is cut from {material.material}, allowed: {allowed}")
                else:
                    run = found[family].setdefault(part.run, _Run(part.run))
                    run.pieces += [(part, material.material, layout.id)] * min(layout.count, 2)
                    if part.asked is not None and part.asked not in {
                        r.material for r in family.rows
                    }:
                        told(where, f"{part} says asked '{part.asked}', no row asks for that")
    left_out: Counter[_Family] = Counter()
    for material in plan.materials:
        for missing in material.unplanned:
            rows = asked.left_out(missing, material.material)
            if any(row.rule is Rule.JOINTED for row in rows):
                for family in families.get((missing.section, missing.mark), []):
                    if material.material in family.materials:
                        left_out[family] += missing.qty
    joints: dict[tuple[str, str], dict[int, list[int]]] = defaultdict(lambda: defaultdict(list))
    for family, runs in found.items():
        for run in runs.values():
            copy = _copy(run.name, family.mark)
            if copy is not None:
                joints[family.section, family.mark][copy] += run.joints
    for family in (f for of_mark in families.values() for f in of_mark):
        _family(family, found.get(family, {}), left_out[family], joints, shop, told)


def _families(section: str, mark: str, rows: Iterable[Part]) -> list[_Family]:
    groups: list[tuple[set[str], list[Part]]] = []
    for row in rows:
        codes, members = set(row.materials), [row]
        for group in [g for g in groups if g[0] & codes]:
            groups.remove(group)
            codes |= group[0]
            members = [*group[1], *members]
        groups.append((codes, members))
    return [_Family(section, mark, frozenset(c), tuple(m)) for c, m in groups]


def _copy(name: str, mark: str) -> int | None:
    """Which copy a run's name says it is: the mark alone is the first; None for no such name."""
    if name == mark:
        return 1
    match = _COPY.fullmatch(name)
    return int(match[2]) if match and match[1] == mark and int(match[2]) > 1 else None


def _family(
    family: _Family,
    runs: Mapping[str, _Run],
    left_out: int,
    joints: Mapping[tuple[str, str], Mapping[int, list[int]]],
    shop: Shop,
    told: Told,
) -> None:
    total = sum(row.qty for row in family.rows)
    where = f"{family.rows[0].material}, run {family.mark} for {family.section}"
    if len(runs) + left_out != total:
        beside = f" and {left_out} left out" if left_out else ""
        told(where, f"asked for {total}, {len(runs)} cut{beside}")
    sound: list[tuple[_Run, list[list[str]]]] = []
    for name, run in sorted(runs.items()):
        copy = _copy(name, family.mark)
        if copy is None or copy > total:
            told(where, f"run {name!r} is the name of no copy, promised {_names(family, total)}")
            continue
        if _joined(run, where, told):
            faults = [_spec(run, copy, row, family, joints, shop, told) for row in family.rows]
            sound.append((run, faults))
    left = assign(
        [1] * len(sound),
        [row.qty for row in family.rows],
        lambda i, j: not sound[i][1][j],
    )
    for (run, faults), rest in zip(sound, left, strict=True):
        if rest:
            nearest = min(faults, key=len)
            for fault in nearest or ["more runs of this shape than asked"]:
                told(f"{where}, {run.name}", fault)


def _names(family: _Family, total: int) -> str:
    if total == 1:
        return f"'{family.mark}'"
    last = f" to '{family.mark}#{total}'" if total > 2 else ""
    return f"'{family.mark}', '{family.mark}#2'{last}"


def _joined(run: _Run, where: str, told: Told) -> bool:
    """Whether the pieces lie end to end, in one width; each may be of any material allowed."""
    at = 0
    place = f"{where}, {run.name}"
    if len({piece.width for piece, _, _ in run.pieces}) > 1:
        told(place, "its pieces are of several widths")
        return False
    for piece, _, layout in sorted(run.pieces, key=lambda p: (p[0].run_at or 0, p[2])):
        if piece.run_at is None:
            told(f"{place}, layout {layout}", "a piece without run_at")
            return False
        if piece.run_at != at:
            word = "a hole before" if piece.run_at > at else "an overlap with"
            found, right = told.show(piece.run_at), told.show(at)
            told(
                f"{place}, layout {layout}",
                f"{word} the piece of {told.show(piece.length)}: it starts at {found}, "
                f"the run has come to {right}",
            )
            return False
        at += piece.length
    return True


def _spec(
    run: _Run,
    copy: int,
    row: Part,
    family: _Family,
    joints: Mapping[tuple[str, str], Mapping[int, list[int]]],
    shop: Shop,
    told: Told,
) -> list[str]:
    """What keeps the run from being a copy of the row."""
    faults: list[str] = []
    faults += [
        f"cut from {material}, allowed: {', '.join(row.materials)}"
        for material in sorted({m for _, m, _ in run.pieces} - set(row.materials))
    ]
    asks = {piece.asked for piece, _, _ in run.pieces} - {None, row.material}
    if asks:
        faults.append(f"says asked {', '.join(sorted(map(str, asks)))}, the row {row.material}")
    width = run.pieces[0][0].width
    if width is not None and width != row.width:
        asked = "none" if row.width is None else told.show(row.width)
        faults.append(f"is {told.show(width)} wide, asked for {asked}")
    total = sum(piece.length for piece, _, _ in run.pieces)
    if total != row.length:
        faults.append(f"is {told.show(total)} long, asked for {told.show(row.length)}")
    if not row.turn and any(piece.turned for piece, _, _ in run.pieces):
        faults.append("has a turned piece, the cut list says turn no")
    for piece, material, _ in run.pieces if len(run.pieces) > 1 else ():
        least = shop.rules.for_lumber(material).joint_min_piece
        if piece.length < least:
            faults.append(
                f"has a piece of {told.show(piece.length)}, joint_min_piece is {told.show(least)}"
            )
    if row.joints is None:
        return faults + ["is joined, no joints allowed"] * bool(run.joints)
    first, step = row.joints.first, row.joints.step
    for at in run.joints:
        beyond = at - first
        if beyond < 0 or (beyond % step if step else beyond):
            faults.append(
                f"is joined at {told.show(at)}, allowed only at {told.show(first)} + k x "
                f"{told.show(step)}"
            )
    mate = row.joints.mate
    if mate is not None:
        faults += [
            f"is joined at {told.show(at)}, {told.show(abs(at - other))} from "
            f"the joint of its mate {mate} (copy {copy}) at {told.show(other)}, "
            f"promised {told.show(row.joints.clear)}"
            for at in run.joints
            for other in joints.get((family.section, mate), {}).get(copy, [])
            if abs(at - other) < row.joints.clear
        ]
    return faults
