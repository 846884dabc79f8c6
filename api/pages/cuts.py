"""The cut list at the saw: material by material, every layout drawn, its stops in large figures."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from fastapi import Request, Response
from markupsafe import Markup

from api.access.caller import needs
from api.access.rights import Right
from api.pages.lists import PlanLine, days_of
from api.pages.looks import page, pages_router
from api.pages.shown import called
from api.pages.viewer import Viewer, ViewerOf
from api.pages.words import Words
from api.routes.common import PlanId, ServicesOf
from api.services import Services
from api.services.errors import NotFound
from api.services.papers import Found, found_plan
from cutopt.draw import in_order, letter, mark_of, named, sheet_drawing, stick_drawing
from cutopt.materials import Kind
from cutopt.measure import Unit, show_length
from cutopt.plan import Layout, MaterialPlan, Placed, Source
from cutopt.plan.books import books_text
from cutopt.plan.guillotine import Axis
from cutopt.plan.sequence import Form, Piece, SawCut, cut_sequence

__all__ = ["router"]

router = pages_router()

#: The words that stand in a drawing, by the keys of their texts.
_DRAWN = {
    "waste": "waste",
    "kept drop": "kept",
    "to the rack": "rack",
    "factory edge": "factory",
    "factory edge, groove": "groove",
    "factory edge, tongue": "tongue",
    "squared edge": "squared",
    "sawn edge": "sawn",
    "strength axis": "axis",
    "turned": "turned",
    "trimming": "trimming",
    "squaring": "squaring",
}


@dataclass(frozen=True, slots=True)
class Row:
    """A part of a layout: what it is called there, its stop, its size, where it goes."""

    name: str
    stop: str
    size: str
    turned: bool
    section: str
    jig: str
    mark: str
    asked: str


@dataclass(frozen=True, slots=True)
class Set:
    """Equal pieces of stock whose parts go to the same places."""

    layout: str
    count: int
    source: str
    rows: list[Row]


@dataclass(frozen=True, slots=True)
class Cut:
    """A saw cut of a sheet, in words."""

    number: int
    way: str
    piece: str
    measure: str
    datum: str
    fence: str
    comes_off: str


@dataclass(frozen=True, slots=True)
class Pattern:
    """All pieces of stock that are cut alike: one drawing, and where the parts of each go."""

    ident: str
    pattern: str
    total: int
    size: str
    drawing: Markup
    books: str
    sets: list[Set]
    cuts: list[Cut]


@router.get("/pages/plans/{plan}/cuts", dependencies=[needs(Right.CUTS_READ)])
def cuts(request: Request, services: ServicesOf, viewer: ViewerOf, plan: PlanId) -> Response:
    """The materials of a plan, each with how much of it there is to cut."""
    found, line = _found(services, plan)
    return page(
        request, viewer, "cuts.html", line=line, plan=line.plan, materials=_materials(found)
    )


@router.get("/pages/plans/{plan}/cuts/{number}", dependencies=[needs(Right.CUTS_READ)])
def material_cuts(
    request: Request, services: ServicesOf, viewer: ViewerOf, plan: PlanId, number: int
) -> Response:
    """One material: every layout in cutting order, drawn, with its stops and where parts go."""
    found, line = _found(services, plan)
    materials = _materials(found)
    if not 1 <= number <= len(materials):
        raise NotFound(f"plan '{plan}' cuts {len(materials)} materials, read number {number}")
    material = materials[number - 1]
    return page(
        request,
        viewer,
        "material.html",
        line=line,
        plan=line.plan,
        material=material,
        patterns=_patterns(material, found, viewer),
        next=(number + 1, materials[number].material) if number < len(materials) else None,
    )


def _found(services: Services, plan: str) -> tuple[Found, PlanLine]:
    found = found_plan(services.database, services.plans, plan)
    view = services.plans.get(plan)
    return found, PlanLine(view, days_of(services, view.days, {}))


def _materials(found: Found) -> list[MaterialPlan]:
    return [material for material in found.plan.materials if material.layouts]


def _patterns(material: MaterialPlan, found: Found, viewer: Viewer) -> list[Pattern]:
    """Layouts that are cut alike stand together, as in the report."""
    groups: dict[tuple[object, ...], list[Layout]] = {}
    for layout in material.layouts:
        parts = tuple((p.turned, p.edge) for p in in_order(layout))
        groups.setdefault((layout.pattern, layout.offer.edges, parts), []).append(layout)
    writer = _Writer(material, found, viewer.unit or found.plan.unit, Words(viewer.language))
    return [
        writer.pattern(layouts, f"p{index}") for index, layouts in enumerate(groups.values(), 1)
    ]


def _in_words(drawing: str, words: Words) -> str:
    """A drawing's own words in the language of the page; names and measures stay as they are.

    Each is about as long as the English one: room was measured for that.
    """
    if words.language == "en":
        return drawing

    def said(found: re.Match[str]) -> str:
        text = found[1]
        if text in _DRAWN:
            return f">{words(f'drawn.{_DRAWN[text]}')}</text>"
        if part := re.fullmatch(r"part ([A-Z]+)(.*)", text):
            return f">{words('drawn.part')} {part[1]}{part[2]}</text>"
        if stage := re.fullmatch(r"stage (\d), (rips|crosscuts)", text):
            return f">{words(f'drawn.{stage[2]}', stage=stage[1])}</text>"
        return found[0]

    return re.sub(r">([^<>]+)</text>", said, drawing)


class _Writer:
    """Writes the patterns of one material in a unit and a language."""

    def __init__(self, material: MaterialPlan, found: Found, unit: Unit, words: Words) -> None:
        self.material = material
        self.rules = found.problem.rules.for_sheets(material.material)
        self.unit = unit
        self.words = words

    def pattern(self, layouts: Sequence[Layout], ident: str) -> Pattern:
        """One drawing, its saw cuts, and a set for each layout."""
        first = layouts[0]
        if self.material.kind is Kind.LUMBER:
            drawing = stick_drawing(
                first, self.material, self.unit, ident=f"{ident}-d", alike=layouts[1:]
            )
        else:
            drawing = sheet_drawing(
                first, self.material, self.rules, self.unit, ident=f"{ident}-d", alike=layouts[1:]
            )
        total = sum(layout.count for layout in layouts)
        return Pattern(
            ident=ident,
            pattern=first.pattern,
            total=total,
            size=called(first.offer.length, first.offer.width, self.unit, self.words),
            drawing=Markup(_in_words(drawing, self.words)),  # noqa: S704  made by us, every word in it escaped
            books=books_text(total, self.material.stack) if self.material.stack > 1 else "",
            sets=self._sets(layouts),
            cuts=self._cuts(first),
        )

    def _sets(self, layouts: Sequence[Layout]) -> list[Set]:
        """Layouts whose parts go to the same places, and come from the same place, are one set."""
        order = self._named(layouts)
        alike: dict[tuple[object, ...], list[Layout]] = {}
        for layout in layouts:
            key = (self._source(layout), *self._rows(layout, order))
            alike.setdefault(key, []).append(layout)
        return [
            Set(
                layout=", ".join(layout.id for layout in same),
                count=sum(layout.count for layout in same),
                source=self._source(same[0]),
                rows=self._rows(same[0], order),
            )
            for same in alike.values()
        ]

    def _named(self, layouts: Sequence[Layout]) -> dict[tuple[int, int], tuple[int, str]]:
        """Where parts lie, with their place in the order of names and the name."""
        if self.material.kind is Kind.LUMBER:
            parts = [(part, letter(i)) for i, part in enumerate(in_order(layouts[0]))]
        else:
            told = named(layouts, self.rules, self.unit, False)
            parts = [(part, label.name) for part, label in told]
        return {(part.x, part.y): (i, name) for i, (part, name) in enumerate(parts)}

    def _rows(self, layout: Layout, order: dict[tuple[int, int], tuple[int, str]]) -> list[Row]:
        parts = sorted(layout.parts, key=lambda part: order[part.x, part.y][0])
        return [self._row(part, order[part.x, part.y][1]) for part in parts]

    def _row(self, part: Placed, name: str) -> Row:
        size = self._length(part.length)
        if part.width is not None:
            size += f" × {self._length(part.width)}"
        return Row(
            name=name,
            stop=self._length(part.x + part.along),
            size=size,
            turned=part.turned,
            section=part.section,
            jig=part.jig,
            mark=mark_of(part, self.unit, False),
            asked=part.asked if part.asked != self.material.material else "",
        )

    def _source(self, layout: Layout) -> str:
        if layout.source is Source.BUY:
            return self.words("cuts.bought")
        yard = self.words("cuts.yard")
        lot = layout.offer.lot
        return f"{yard}, {self.words('cuts.lot')} {lot}" if lot else yard

    def _cuts(self, layout: Layout) -> list[Cut]:
        sequence = None
        if self.material.kind is Kind.SHEET:
            sequence = cut_sequence(layout, self.rules)
        marks = (
            {
                name: mark_of(part, self.unit, False)
                for part, name in zip(layout.parts, sequence.names, strict=True)
            }
            if sequence
            else {}
        )
        return [self._cut(cut, marks) for cut in (sequence.cuts if sequence else ())]

    def _cut(self, cut: SawCut, marks: dict[str, str]) -> Cut:
        off = ", ".join(self._piece(piece, marks) for piece in cut.yields)
        return Cut(
            number=cut.number,
            way=self.words("cuts.rip" if cut.axis is Axis.RIP else "cuts.crosscut"),
            piece=self._piece(cut.piece, {}),
            measure=self._length(cut.measure),
            datum=self.words(f"datum.{cut.datum.name.lower()}"),
            fence=self._length(cut.fence),
            comes_off=off or ("" if cut.stage else self.words("piece.trim")),
        )

    def _piece(self, piece: Piece, marks: dict[str, str]) -> str:
        if piece.form is Form.PART and piece.name in marks:
            return f"{piece.name} {marks[piece.name]}"
        word = self.words(f"piece.{piece.form.name.lower()}")
        if piece.form is Form.KEPT:
            across = self._length(piece.rect.width)
            return f"{word} {self._length(piece.rect.length)} × {across}"
        return f"{word} {piece.name}".rstrip()

    def _length(self, length: int) -> str:
        return show_length(length, self.unit)
