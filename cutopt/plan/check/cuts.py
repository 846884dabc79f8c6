"""cuts.csv: every line sawn, on a sheet of the plan's size, with a blade as wide as the kerf.

Nothing is known here of how the cuts were found. A piece lies with one side at the fence: that side
keeps the fence's measure, the other loses the kerf, or what is left of it where the blade hangs
over. What has come off in the end must be the layout's parts and drops, no more and no less.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

from cutopt.materials import Kind, SheetRules
from cutopt.measure import INCH, MM
from cutopt.plan.check.asked import Asked, Shop
from cutopt.plan.check.read import exact_number
from cutopt.plan.check.seen import SeenLayout, SeenPlan
from cutopt.plan.check.told import Told

__all__ = ["check_cuts"]

_NEAR = {"factory edge", "squared edge", "sawn edge", "head", "squared head", "sawn end"}
_FAR = {
    *("far factory edge", "far squared edge", "far sawn edge"),
    *("tail end", "squared tail end", "far sawn end"),
}
_TO_CUT = ("strip ", "stack ", "blank ", "rest ")
_Size = tuple[int, int]


def check_cuts(
    plan: SeenPlan, asked: Asked, shop: Shop, rows: Sequence[Mapping[str, str]], told: Told
) -> None:
    """Every layout of sheets comes off the saw as planned, and no line is for anything else."""
    lines: dict[tuple[str, str], list[tuple[str, Mapping[str, str]]]] = defaultdict(list)
    for i, row in enumerate(rows):
        key = (row.get("material") or "", row.get("layout") or "")
        lines[key].append((f"cuts.csv:{i + 2}", row))
    for material in plan.materials:
        if shop.kinds.get(material.material) is not Kind.SHEET:
            continue
        rules = shop.rules.for_sheets(material.material)
        for layout in material.layouts:
            span = any(asked.span_rows(p, material.material) for p in layout.parts)
            saw = _Saw(layout, rules, 0 if span else rules.edge_trim, plan.unit, told)
            for where, row in lines.pop((material.material, layout.id), []):
                for column, right in (("pattern", layout.pattern), ("count", str(layout.count))):
                    if row.get(column) != right:
                        told(where, f"{column} is {row.get(column)!r}, the plan has {right!r}")
                if not saw.cut(where, row):
                    break
            else:
                saw.end(f"cuts.csv, layout {layout.id}")
    for (name, ident), found in lines.items():
        told(found[0][0], f"layout {ident!r} of {name!r} is no layout of sheets in the plan")


@dataclass(slots=True)
class _Piece:
    """What is left of a piece on the saw; `gone` is cut off its near side, kerfs with it."""

    length: int
    width: int
    gone: int = 0
    way: str = ""


class _Saw:
    """One sheet under the saw."""

    def __init__(
        self, layout: SeenLayout, rules: SheetRules, edge: int, unit: str, told: Told
    ) -> None:
        self.layout = layout
        self.rules = rules
        self.edge = edge
        self.unit = unit
        self.told = told
        self.pieces = {"sheet": _Piece(layout.length, layout.width or 0)}
        self.parts: Counter[tuple[str, _Size]] = Counter()
        self.drops: dict[str, Counter[_Size]] = {"kept drop": Counter(), "waste": Counter()}
        self.made = 0
        self.stage = 0

    def cut(self, where: str, row: Mapping[str, str]) -> bool:
        """Make one cut; False where it can't be made, so that what follows says nothing."""
        piece = self.pieces.get(row.get("piece") or "")
        measure, fence = self.length(row, "measure"), self.length(row, "fence")
        way, datum = row.get("direction") or "", row.get("from") or ""
        stage = row.get("stage") or ""
        if piece is None:
            self.told(where, f"no {row.get('piece') or 'piece'} lies on the saw")
            return False
        if measure is None or fence is None or not stage.isdecimal():
            self.told(where, "its stage, measure or fence is no number")
            return False
        if way not in ("rip", "crosscut") or datum not in _NEAR | _FAR:
            self.told(where, f"{way!r} from {datum!r} is no cut")
            return False
        self.made += 1
        self.order(where, row, int(stage))
        if piece.way != way:
            piece.way, piece.gone = way, 0
        whole = piece.width if way == "rip" else piece.length
        if not 0 <= fence <= whole:
            self.told(where, f"the fence at {self.told.show(fence)} is off the piece")
            return False
        far = datum in _FAR
        if measure - (0 if far or not int(stage) else piece.gone) != fence:
            self.told(where, "its measure and its fence are two places")
        if not int(stage):
            return self.square(where, row, piece, way, whole, fence)
        near = max(0, whole - fence - self.rules.kerf) if far else fence
        rest = fence if far else max(0, whole - fence - self.rules.kerf)
        piece.gone += whole - rest
        other = piece.length if way == "rip" else piece.width
        self.keep(piece, way, rest)
        named = [word for word in (row.get("yields") or "").split("; ") if word]
        # Both sides come off with the last cut of a piece, else the near one alone.
        last = len(named) == 2 or (bool(named) and not (near and rest))
        found = [side for side in ((near, rest) if last else (near,)) if side]
        if len(found) != len(named):
            self.told(where, f"{len(found)} pieces come off, it names {len(named)}")
            return False
        if last:
            del self.pieces[row.get("piece") or ""]
        sizes = [(other, side) if way == "rip" else (side, other) for side in found]
        return self.take(where, row, named, sizes)

    def order(self, where: str, row: Mapping[str, str], stage: int) -> None:
        """Numbers one by one, stage by stage, none beyond the last trimming cut."""
        if row.get("cut") != str(self.made):
            self.told(where, f"cut {row.get('cut')} is number {self.made} of its layout")
        if stage < self.stage or stage > self.rules.stages + 1:
            self.told(where, f"stage {stage} after stage {self.stage} of {self.rules.stages}")
        self.stage = stage

    def square(
        self, where: str, row: Mapping[str, str], piece: _Piece, way: str, whole: int, fence: int
    ) -> bool:
        """Square an edge: what lies at the fence stays, the rest is trim."""
        if whole - fence != self.edge:
            off, promised = self.told.show(whole - fence), self.told.show(self.edge)
            self.told(where, f"squares off {off}, edge_trim is {promised}")
        self.keep(piece, way, fence)
        named = [word for word in (row.get("yields") or "").split("; ") if word]
        if not named:
            return True
        del self.pieces[row.get("piece") or ""]
        return self.take(where, row, named, [(piece.length, piece.width)])

    def keep(self, piece: _Piece, way: str, left: int) -> None:
        """What is left of a piece."""
        if way == "rip":
            piece.width = left
        else:
            piece.length = left

    def take(
        self, where: str, row: Mapping[str, str], named: Sequence[str], sizes: Sequence[_Size]
    ) -> bool:
        """What comes off, by its name: cut on, a part with its mark, or a drop."""
        parts = [n for n in named if n.startswith("part ")]
        marks = self.marks(row.get("marks") or "", len(parts))
        for name, size in zip(named, sizes, strict=True):
            if name in self.drops:
                self.drops[name][size] += 1
            elif name.startswith("part ") and marks:
                self.parts[marks.pop(0), size] += 1
            elif name.startswith(_TO_CUT) and name not in self.pieces:
                self.pieces[name] = _Piece(*size)
            else:
                self.told(where, f"{name!r} can't come off the saw")
                return False
        return True

    def marks(self, text: str, parts: int) -> list[str]:
        """The marks of so many parts; a mark may hold what separates them."""
        if parts < 2:
            return [text] * parts
        words, known = text.split("; "), {p.mark for p in self.layout.parts}
        splits = (
            ["; ".join(words[:i]), "; ".join(words[i:])]
            for i in range(1, len(words))
            if {"; ".join(words[:i]), "; ".join(words[i:])} <= known
        )
        return next(splits, [text])

    def end(self, where: str) -> None:
        """Hold what has come off against the layout."""
        layout = self.layout
        if not self.made and len(layout.parts) == 1 and not self.edge:
            # Uncut, the sheet is its part.
            self.parts[layout.parts[0].mark, (layout.length, layout.width or 0)] += 1
            self.pieces.clear()
        for name, piece in self.pieces.items():
            left = self.size((piece.length, piece.width))
            self.told(where, f"{name} of {left} is left on the saw")
        parts = Counter((p.mark, (p.box.along, p.box.across)) for p in layout.parts)
        for (mark, size), n in ((parts - self.parts) + (self.parts - parts)).items():
            word = "does not come off" if parts[mark, size] else "comes off, the plan has none"
            self.told(where, f"{n} of part {mark}, {self.size(size)}, {word}")
        for what, kept in (("kept drop", True), ("waste", False)):
            drops = Counter((d.box.along, d.box.across) for d in layout.drops if d.kept is kept)
            found = self.drops[what]
            for size in (drops - found) + (found - drops):
                n, right = found[size], drops[size]
                self.told(where, f"{n} of {what}, {self.size(size)}, the plan has {right}")

    def size(self, size: _Size) -> str:
        """A size in words."""
        return f"{self.told.show(size[0])} x {self.told.show(size[1])}"

    def length(self, row: Mapping[str, str], key: str) -> int | None:
        """A written length in counts."""
        try:
            number = exact_number(Decimal((row.get(key) or "").strip()))
        except InvalidOperation:
            return None
        counts = None if number is None else number * (INCH if self.unit == "in" else MM)
        return int(counts) if counts is not None and counts.denominator == 1 else None
