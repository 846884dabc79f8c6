"""A sheet in words: its parts by name, its cuts one by one, for tables and for who hears it."""

from __future__ import annotations

from collections.abc import Sequence

from cutopt.draw.labels import Label, in_order, labels_of, size_of
from cutopt.materials import SheetRules
from cutopt.measure import Unit, show_length
from cutopt.plan import Layout, MaterialPlan, Placed
from cutopt.plan.guillotine import Axis
from cutopt.plan.sequence import Form, Piece, SawCut, cut_sequence

__all__ = ["cut_words", "named", "piece_words", "sheet_words", "stage_words", "way_words"]


def named(
    layouts: Sequence[Layout], rules: SheetRules, unit: Unit, feet: bool
) -> tuple[tuple[Placed, Label], ...]:
    """The parts of the first layout in the order of their names, with labels true for all layouts.

    A part's name tells where it comes from: `B2` is the second piece of strip `B`.
    """
    first = layouts[0]
    sequence = cut_sequence(first, rules)
    pairs = list(zip(in_order(first), labels_of(layouts, unit, feet), strict=True))
    if sequence is None:
        return tuple(pairs)
    place = {(p.x, p.y): i for i, p in enumerate(first.parts)}
    made = []
    for part, label in pairs:
        index = place[part.x, part.y]
        called = Label(sequence.names[index], label.mark, label.section, label.jig)
        made.append((sequence.turns[index], part, called))
    return tuple((part, label) for _, part, label in sorted(made, key=lambda m: m[0]))


def way_words(cut: SawCut) -> str:
    """`rip` or `crosscut`."""
    return "rip" if cut.axis is Axis.RIP else "crosscut"


def stage_words(cut: SawCut) -> str:
    """`square`, `stage 1`, `trim`."""
    if not cut.stage:
        return "square"
    return "trim" if cut.trim else f"stage {cut.stage}"


def piece_words(piece: Piece, labels: dict[str, Label], unit: Unit, feet: bool) -> str:
    """What comes off: a part with its mark, a strip with its name, a kept drop with its size."""
    if piece.form is Form.PART:
        label = labels.get(piece.name)
        return f"{piece.name} {label.mark}" if label and label.mark else str(piece)
    if piece.form is Form.KEPT:
        return f"{piece} {size_of(piece.rect.length, piece.rect.width, unit, feet)}"
    return str(piece)


def cut_words(cut: SawCut, labels: dict[str, Label], unit: Unit, feet: bool) -> str:
    """`rip the sheet 23-7/8" from the factory edge: strip A`."""
    yields = ", ".join(piece_words(p, labels, unit, feet) for p in cut.yields)
    measure = show_length(cut.measure, unit, feet)
    words = f"{way_words(cut)} {cut.piece} {measure} from the {cut.datum.value}"
    return f"{words}: {yields}" if yields else f"{words}, squaring it" if not cut.stage else words


def sheet_words(
    layout: Layout,
    material: MaterialPlan,
    rules: SheetRules,
    unit: Unit,
    feet: bool,
    alike: Sequence[Layout],
) -> tuple[str, list[str]]:
    """Title and description for someone who hears the drawing."""
    parts = named((layout, *alike), rules, unit, feet)
    offer = layout.offer
    sheet = size_of(offer.length, offer.width, unit, feet)
    plural = "" if len(parts) == 1 else "s"
    title = f"A sheet of {material.material}, {sheet}, cut into {len(parts)} part{plural}"
    desc = []
    for part, label in parts:
        words = ", ".join(w for w in label.words if w)
        turned = ", turned" if part.turned else ""
        size = size_of(part.length, part.width, unit, feet)
        desc.append(f"Part {label.name}: {words}, {size}{turned}.")
    for drop in layout.drops:
        what = "Kept drop, to the rack" if drop.kept else "Waste"
        desc.append(f"{what}: {size_of(drop.length, drop.width, unit, feet)}.")
    labels = {label.name: label for _, label in parts}
    sequence = cut_sequence(layout, rules)
    desc += [
        f"Cut {cut.number}: {cut_words(cut, labels, unit, feet)}."
        for cut in (sequence.cuts if sequence else ())
    ]
    return title, desc
