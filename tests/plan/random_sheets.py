"""Sheets cut at random: layouts that can be cut by construction, with the drops that they leave."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from hypothesis import strategies as st

from cutopt.materials import FirstCut, Kind, Offer, Per, SheetRules
from cutopt.plan import Drop, Layout, Placed, Source
from cutopt.plan.guillotine import Axis, Rect, guillotine

__all__ = ["layout_of", "placed", "random_layouts", "sheet_of"]


def sheet_of(length: int, width: int, **more: object) -> Offer:
    facts: dict[str, object] = {
        "row": 2,
        "material": "OSB-7/16",
        "kind": Kind.SHEET,
        "nominal": None,
        "length": length,
        "width": width,
        "price": Decimal(420),
        "per": Per.MSF,
    }
    return Offer(**(facts | more))  # type: ignore[arg-type]


def placed(rect: Rect, mark: str = "P", full_span: bool = False) -> Placed:
    return Placed(
        section="Alder Cabin",
        jig="Wall table 1",
        mark=mark,
        asked="OSB-7/16",
        length=rect.length,
        width=rect.width,
        x=rect.x,
        y=rect.y,
        full_span=full_span,
    )


def layout_of(
    rects: list[Rect], drops: list[Rect], offer: Offer, rules: SheetRules, **more: object
) -> Layout:
    least = rules.keep_drop
    made = Layout(
        id="L1",
        pattern="P1",
        count=1,
        offer=offer,
        source=Source.BUY,
        parts=tuple(placed(r) for r in rects),
        drops=tuple(
            Drop(d.x, d.y, d.length, d.width, d.length >= least[0] and d.width >= least[1])
            for d in drops
        ),
    )
    return replace(made, **more)  # type: ignore[arg-type]


@st.composite
def random_layouts(draw: st.DrawFn, scale: int = 1) -> tuple[Layout, SheetRules]:
    """A sheet cut at random in so many stages, some pieces left out, mirrored now and then.

    All lengths are multiples of `scale`.
    """
    kerf = draw(st.sampled_from([0, 1, 2, 5]))
    stages = draw(st.sampled_from([2, 3]))
    axis = draw(st.sampled_from(list(Axis)))
    edge = draw(st.sampled_from([0, 0, 1, 4]))
    length, width = draw(st.integers(20, 120)), draw(st.integers(15, 60))
    rects: list[Rect] = []

    def cut(region: Rect, along: Axis, left: int) -> None:
        if left == 0 or draw(st.integers(0, 5)) == 0:
            if draw(st.integers(0, 6)) == 0 and region.length > 2 and region.width > 2:
                # Trimmed along one axis after the last stage.
                small = draw(st.integers(1, max(1, region.width - 1)))
                region = Rect(region.x, region.y, region.length, small)
                if left or along is Axis.CROSS:
                    return
            rects.append(region)
            return
        rip = along is Axis.RIP
        at, end = (
            (region.y, region.y + region.width) if rip else (region.x, region.x + region.length)
        )
        while at < end:
            extent = min(draw(st.integers(2, 30)), end - at)
            piece = (
                Rect(region.x, at, region.length, extent)
                if rip
                else Rect(at, region.y, extent, region.width)
            )
            if draw(st.integers(0, 4)):
                cut(piece, along.other, left - 1)
            at += extent + kerf + draw(st.sampled_from([0, 0, 0, 1, 3, 8]))

    cut(Rect(0, 0, length, width), axis, stages)
    if not rects:
        rects = [Rect(0, 0, length, width)]
    if draw(st.booleans()):
        rects = [Rect(r.x, width - r.y - r.width, r.length, r.width) for r in rects]
    first = draw(st.sampled_from([FirstCut(axis.value), FirstCut.EITHER]))
    keep = (scale * draw(st.integers(5, 30)), scale * draw(st.integers(5, 30)))
    kerf, edge, length, width = (scale * n for n in (kerf, edge, length, width))
    rects = [Rect(*(scale * n for n in (r.x, r.y, r.length, r.width))) for r in rects]
    rules = SheetRules(kerf=kerf, edge_trim=edge, stages=stages, first_cut=first, keep_drop=keep)
    cutting = guillotine(rects, length, width, kerf, axis, stages)
    assert cutting is not None
    offer = sheet_of(length + 2 * edge, width + 2 * edge)
    return layout_of(rects, list(cutting.drops), offer, rules), rules
