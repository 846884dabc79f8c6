"""A saw of its own: it cuts what it is told, piece by piece, with a blade as wide as the kerf.

It knows nothing of layouts, trees or coordinates: pieces have a name, a length and a width, a fence
and a blade. What lies on the fence's side of the blade is kept at the fence's measure; the other
side loses the kerf, or what is left of it where the blade hangs over. Everything is whole counts.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from cutopt.materials import SheetRules
from cutopt.plan import Layout
from cutopt.plan.guillotine import Axis
from cutopt.plan.sequence import CutSequence, Form, SawCut

__all__ = ["Sawn", "faults_of", "saw"]

Size = tuple[int, int]


@dataclass
class _OnSaw:
    """What is left of a piece: its size, and how much of its near side is gone (kerfs with it)."""

    length: int
    width: int
    gone: int = 0
    axis: Axis | None = None


@dataclass(frozen=True)
class Sawn:
    """What came off: parts by name, drops, and what is wrong."""

    parts: dict[str, Size]
    kept: Counter[Size]
    waste: Counter[Size]
    faults: tuple[str, ...]


def saw(cuts: Sequence[SawCut], size: Size, kerf: int, edge: int, alone: str) -> Sawn:
    """Cut a sheet of this size, `edge` to be squared off every side.

    `alone` names the part that an uncut sheet is.
    """
    lying: dict[str, _OnSaw] = {"the sheet": _OnSaw(*size)}
    parts: dict[str, Size] = {}
    drops: dict[Form, Counter[Size]] = {Form.KEPT: Counter(), Form.WASTE: Counter()}
    faults: list[str] = []
    for number, cut in enumerate(cuts, start=1):
        name, where = str(cut.piece), f"cut {cut.number}"
        if cut.number != number:
            faults.append(f"{where} is number {number} of the sequence")
        piece = lying.get(name)
        if piece is None:
            faults.append(f"{where}: there is no {name}")
            return Sawn(parts, drops[Form.KEPT], drops[Form.WASTE], tuple(faults))
        rip = cut.axis is Axis.RIP
        if piece.axis is not cut.axis:
            piece.axis, piece.gone = cut.axis, 0
        whole, other = (piece.width, piece.length) if rip else (piece.length, piece.width)
        # The fence stands at the fresh edge, or at the far one.
        blade = whole - cut.fence if cut.datum.far else cut.fence
        if not 0 <= cut.fence <= whole:
            faults.append(f"{where}: the fence is off the piece")
            return Sawn(parts, drops[Form.KEPT], drops[Form.WASTE], tuple(faults))
        if not cut.stage:
            # Squaring: what lies at the fence stays, the other side is trim.
            if cut.measure != cut.fence:
                faults.append(f"{where}: measure and fence don't agree")
            if whole - cut.fence != edge:
                faults.append(f"{where} squares off {whole - cut.fence}, not {edge}")
            if rip:
                piece.width = cut.fence
            else:
                piece.length = cut.fence
            if cut.yields:
                parts[str(cut.yields[0])] = (piece.length, piece.width)
                del lying[name]
            continue
        if cut.datum.far:
            near, rest = max(0, blade - kerf), cut.fence
        else:
            near, rest = blade, max(0, whole - blade - kerf)
        if whole - near - rest <= 0 and kerf:
            faults.append(f"{where} cuts nothing")
        # The tape has lain on the piece since before its first cut.
        told = cut.measure if cut.datum.far else cut.measure - piece.gone
        if told != cut.fence:
            faults.append(f"{where}: measure and fence don't agree")
        piece.gone += whole - rest
        if rip:
            piece.width = rest
        else:
            piece.length = rest
        # Both sides come off with the last cut of a piece, else the near one alone.
        ends = len(cut.yields) == 2 or (bool(cut.yields) and not (near and rest))
        sides = (near, rest) if ends else (near,)
        extents = [extent for extent in sides if extent]
        if len(extents) != len(cut.yields):
            faults.append(f"{where} yields {len(cut.yields)} pieces, {len(extents)} come off")
        off = [
            (str(yielded), yielded.form, (other, extent) if rip else (extent, other))
            for yielded, extent in zip(cut.yields, extents, strict=False)
        ]
        if ends:
            del lying[name]
        for called, form, found in off:
            if form is Form.PART:
                if called in parts:
                    faults.append(f"{where}: {called} comes off twice")
                parts[called] = found
            elif form in drops:
                drops[form][found] += 1
            else:
                lying[called] = _OnSaw(*found)
    if not cuts:
        parts[f"part {alone}"] = size
        del lying["the sheet"]
    faults += [f"{name} is left uncut, {p.length} x {p.width}" for name, p in lying.items()]
    return Sawn(parts, drops[Form.KEPT], drops[Form.WASTE], tuple(faults))


def faults_of(
    layout: Layout, rules: SheetRules, sequence: CutSequence, cuts: Sequence[SawCut] | None = None
) -> list[str]:
    """What is wrong with a sequence: parts or drops not at their size, a stage beyond the rule."""
    made = sequence.cuts if cuts is None else cuts
    size = (layout.offer.length, layout.offer.width or 0)
    sawn = saw(made, size, rules.kerf, sequence.edge, sequence.names[0])
    faults = list(sawn.faults)
    wanted = {
        f"part {name}": (p.along, p.across)
        for name, p in zip(sequence.names, layout.parts, strict=True)
    }
    if len(wanted) != len(layout.parts):
        faults.append("two parts have one name")
    if sawn.parts != wanted:
        faults.append(f"parts {sawn.parts}, wanted {wanted}")
    kept = Counter((d.length, d.width or 0) for d in layout.drops if d.kept)
    waste = Counter((d.length, d.width or 0) for d in layout.drops if not d.kept)
    if sawn.kept != kept:
        faults.append(f"kept drops {sawn.kept}, told {kept}")
    if sawn.waste != waste:
        faults.append(f"waste {sawn.waste}, told {waste}")
    faults += [
        f"cut {cut.number} is of stage {cut.stage}"
        for cut in made
        if cut.stage > rules.stages + (1 if cut.trim else 0)
    ]
    stages = [cut.stage for cut in made]
    if stages != sorted(stages):
        faults.append("not stage by stage")
    if len({(c.axis, c.at, c.piece.rect) for c in made}) != len(made):
        faults.append("a cut is made twice")
    return faults
