"""Layouts as a plant has them, made by hand: the drawings and the report are tried on these.

Sizes follow common practice of framing (92-5/8 studs, 14-1/2 blocks, 4x8 sheets); no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from cutopt.materials import Edge, Edges, Kind, Offer, Per, SheetRules
from cutopt.measure import INCH, parse_length
from cutopt.plan import Drop, Layout, MaterialPlan, Placed, Source, Status, Stop, Unplanned
from cutopt.plan.guillotine import Rect, first_axes, guillotine

KERF = INCH // 8


def inches(text: str) -> int:
    """A length in counts from how a person writes inches."""
    return parse_length(text, "in")


def stick_offer(row: int, feet: int, **more: object) -> Offer:
    facts: dict[str, object] = {
        "material": "2x6-SPF-2",
        "kind": Kind.LUMBER,
        "nominal": (2, 6),
        "length": feet * 12 * INCH,
        "width": None,
        "price": Decimal(500),
        "per": Per.MBF,
    }
    return Offer(row=row, **(facts | more))  # type: ignore[arg-type]


def sheet_offer(row: int, length: str, width: str, **more: object) -> Offer:
    facts: dict[str, object] = {
        "material": "OSB-7/16",
        "kind": Kind.SHEET,
        "nominal": None,
        "length": inches(length),
        "width": inches(width),
        "price": Decimal(420),
        "per": Per.MSF,
    }
    return Offer(row=row, **(facts | more))  # type: ignore[arg-type]


Words = tuple[str, str, str]


def stick_layout(
    ident: str,
    offer: Offer,
    cuts: Sequence[tuple[str, Words]],
    count: int = 1,
    *,
    pattern: str | None = None,
    head_trim: int = 0,
    keep: int = 24 * INCH,
    source: Source = Source.BUY,
    runs: Sequence[int | None] = (),
) -> Layout:
    """Parts one behind the other, (length, (section, jig, mark)) each, and the drop behind them."""
    parts: list[Placed] = []
    x = 0
    for index, (text, (section, jig, mark)) in enumerate(cuts):
        length = inches(text)
        run_at = runs[index] if runs else None
        parts.append(
            Placed(
                section=section,
                jig=jig,
                mark=mark,
                asked=offer.material,
                length=length,
                width=None,
                x=x,
                run=mark if run_at is not None else None,
                run_at=run_at,
            )
        )
        x += length + KERF
    left = offer.length - head_trim - x
    drops = (Drop(x, 0, left, None, left >= keep),) if left > 0 else ()
    return Layout(ident, pattern or f"{ident}-P", count, offer, source, tuple(parts), drops)


def sheet_layout(
    ident: str,
    offer: Offer,
    strips: Sequence[tuple[str, Sequence[tuple[str, str, bool, Words]]]],
    count: int = 1,
    *,
    rules: SheetRules | None = None,
    pattern: str | None = None,
    source: Source = Source.BUY,
    full_span: bool = False,
) -> Layout:
    """Strips from the squared edge, (width, parts); a part is (length, width, turned, words)."""
    rules = rules or SheetRules()
    assert offer.width is not None
    parts: list[Placed] = []
    y = 0
    for high, row in strips:
        x = 0
        for length, width, turned, (section, jig, mark) in row:
            part = Placed(
                section=section,
                jig=jig,
                mark=mark,
                asked=offer.material,
                length=inches(length),
                width=inches(width),
                x=x,
                y=y,
                turned=turned,
                full_span=full_span,
            )
            parts.append(part)
            x += part.along + rules.kerf
        y += inches(high) + rules.kerf
    edge = 0 if full_span else rules.edge_trim
    rects = [Rect(p.x, p.y, p.along, p.across) for p in parts]
    cutting = next(
        c
        for axis in first_axes(rules.first_cut)
        if (
            c := guillotine(
                rects,
                offer.length - 2 * edge,
                offer.width - 2 * edge,
                rules.kerf,
                axis,
                rules.stages,
            )
        )
    )
    least = rules.keep_drop
    drops = tuple(
        Drop(r.x, r.y, r.length, r.width, r.length >= least[0] and r.width >= least[1])
        for r in cutting.drops
    )
    return Layout(ident, pattern or f"{ident}-P", count, offer, source, tuple(parts), drops)


def with_edges(layout: Layout, edges: Mapping[str, Edge]) -> Layout:
    """The layout with parts that keep factory edges, by mark."""
    parts = (replace(p, edge=edges.get(p.mark, p.edge)) for p in layout.parts)
    return replace(layout, parts=tuple(parts))


def row_of(layout: Layout, mark: str) -> Layout:
    """The layout with the part of this mark a row of a ceiling field."""
    parts = (replace(p, full_span=p.mark == mark) for p in layout.parts)
    return replace(layout, parts=tuple(parts))


def plan_of(
    layouts: Sequence[Layout],
    *,
    kerf: int = KERF,
    head_trim: int = 0,
    unplanned: Sequence[Unplanned] = (),
    material: str | None = None,
    kind: Kind = Kind.LUMBER,
    cutting_rule: str = "",
    bound: Fraction | None = None,
) -> MaterialPlan:
    """The plan of one material from its layouts, proved unless a bound is given."""
    cost = sum((lay.offer.cost * lay.count for lay in layouts), Fraction(0))
    name = material or layouts[0].offer.material
    return MaterialPlan(
        material=name,
        kind=layouts[0].offer.kind if layouts else kind,
        kerf=kerf,
        head_trim=head_trim,
        layouts=tuple(layouts),
        cost=cost,
        drop_credit=Fraction(0),
        joints=0,
        joint_cost=Fraction(0),
        bound=cost if bound is None else bound,
        status=Status.INFEASIBLE
        if unplanned and not layouts
        else Status.OPTIMAL
        if bound is None
        else Status.BEST_FOUND,
        stop=Stop.PROVED if bound is None else Stop.WORK,
        unplanned=tuple(unplanned),
        cutting_rule=cutting_rule,
    )


CABIN = "Alder Cabin"
ROOM = "Classroom 8 East"
BUNK = "Teal Bunkhouse"


def _stud(section: str = CABIN, mark: str = "W1-STUD") -> tuple[str, Words]:
    return "92-5/8", (section, "Wall table 1", mark)


def sticks() -> dict[str, tuple[MaterialPlan, tuple[Layout, ...]]]:
    """Named cases: the plan they belong to, and the layouts that share one drawing."""
    trim = INCH // 4

    def case(*layouts: Layout, head_trim: int = 0) -> tuple[MaterialPlan, tuple[Layout, ...]]:
        return plan_of(layouts, head_trim=head_trim), layouts

    short = [("14-1/2", (CABIN, "Wall table 1", f"W{i}-BLK")) for i in range(1, 14)]
    mixed = [
        (text, (CABIN, "Wall table 2", mark))
        for text, mark in (
            ("41", "W2-HDR-1"),
            ("41", "W2-HDR-2"),
            ("33-7/16", "W2-CRIP-01"),
            ("14-1/2", "W2-BLK"),
            ("14-1/2", "W2-BLK"),
            ("14-1/2", "W2-BLK"),
            ("12-1/4", "W2-CRIP-02"),
            ("9-15/16", "W2-CRIP-03"),
            ("9-15/16", "W3-CRIP-03"),
            ("8-3/64", "W3-CRIP-04"),
            ("6", "W3-PAD"),
            ("6", "W4-PAD"),
            ("5", "W5-PAD"),
        )
    ]
    tiny = [
        ("5-1/16", (CABIN, "Bench", f"SHIM-{i:02d}" if i % 3 else "A VERY LONG MARK INDEED 000017"))
        for i in range(45)
    ]
    offer = stick_offer(4, 16)
    alike = [
        stick_layout(
            f"2x6-SPF-2-{i}",
            offer,
            [_stud(section, mark), _stud(section, other)],
            count,
            pattern="shared",
        )
        for i, (section, mark, other, count) in enumerate(
            (
                (CABIN, "W1-STUD", "W1-STUD", 12),
                (CABIN, "W1-STUD", "W2-KING", 1),
                (ROOM, "W1-STUD", "W1-STUD", 31),
                (BUNK, "W1-STUD", "W4-STUD", 3),
            ),
            start=1,
        )
    ]
    return {
        "two studs": case(stick_layout("s1", offer, [_stud(), _stud()], 12)),
        "whole": case(stick_layout("s2", stick_offer(1, 8), [("96", (CABIN, "Floor", "RIM"))])),
        "kept drop": case(
            stick_layout(
                "s3",
                stick_offer(2, 20),
                [_stud(), *[("41", (ROOM, "Header bench", "H-1"))] * 2],
                head_trim=trim,
            ),
            head_trim=trim,
        ),
        "short": case(stick_layout("s4", offer, short[:12], head_trim=trim), head_trim=trim),
        "equal short": case(stick_layout("s5", offer, [short[0]] * 13)),
        "mixed": case(stick_layout("s6", stick_offer(2, 20), mixed)),
        "tiny": case(stick_layout("s7", stick_offer(2, 20), tiny)),
        "alike": case(*alike),
        "run": case(
            stick_layout(
                "s8",
                offer,
                [
                    ("128", (CABIN, "Wall table 1", "W1-TOP-1")),
                    ("48", (CABIN, "Wall table 1", "W1-TOP-2")),
                ],
                runs=[192 * INCH, 0],
            )
        ),
        "awkward": case(
            stick_layout(
                "s9<&>\"'",
                offer,
                [
                    ("60", ('<b>"Süd" & Øst</b>', "jig's \x07 own", "</text><script>1</script>")),
                    ("60", ("木造モジュール東棟", "組立台", "柱-01 長い部材名")),
                    ("60", ("x" * 90, "y" * 90, "z" * 90)),
                ],
            )
        ),
    }


def sheets() -> dict[str, tuple[MaterialPlan, SheetRules, tuple[Layout, ...]]]:
    """Named cases as `sticks`, with the rules of the material."""

    def case(
        *layouts: Layout, rules: SheetRules | None = None
    ) -> tuple[MaterialPlan, SheetRules, tuple[Layout, ...]]:
        rules = rules or SheetRules()
        return plan_of(layouts, kerf=rules.kerf), rules, layouts

    board = sheet_offer(7, "96", "48")
    jig = "Sheathing table"

    def part(length: str, width: str, mark: str, turned: bool = False, section: str = CABIN):  # type: ignore[no-untyped-def]
        return (length, width, turned, (section, jig, mark))

    many = [
        ("11-1/4", [part("14-1/2", "11-1/4", f"W1-OVER-0{i}") for i in range(1, 7)]),
        ("9-1/2", [part("12-1/2", "9-1/2", f"W2-OVER-0{i}") for i in range(1, 8)]),
        ("8", [part("9-15/16", "8", f"W3-UNDER-{i:02d}") for i in range(1, 10)]),
        ("7-1/4", [part("22", "7-1/4", f"W4-PATCH-{i}", section=ROOM) for i in range(1, 5)]),
        ("5-1/2", [part("24", "5-1/2", "GUSSET") for _ in range(1, 4)]),
        ("3", [part("90", "3", "STRIP")]),
    ]
    mixed = [
        (
            "32",
            [
                part("40-7/8", "32", "W1-UNDER-01"),
                part("32", "14-5/8", "W1-OVER-01", True),
                part("30", "14-5/8", "W1-OVER-02", True, ROOM),
                part("20", "24", "W1-SIDE", False, ROOM),
            ],
        ),
        ("14-5/8", [part("40-7/8", "14-5/8", "W1-OVER-03"), part("12", "8", "W1-X", True)]),
    ]
    ceiling = SheetRules(kerf=0)
    gyp = sheet_offer(9, "168", "48", material="GYP-CLG-1/2")
    thin = [
        ("46", [part("94", "46", "DECK-WHOLE")]),
        ("1-1/2", [part("48", "1-1/2", "FILLER-1"), part("20", "1-1/2", "FILLER-2")]),
    ]
    trimmed = SheetRules(edge_trim=INCH // 2)
    return {
        "many": case(sheet_layout("p1", board, many, 3)),
        "turned": case(sheet_layout("p2", board, mixed, 2)),
        "ceiling row": case(
            sheet_layout(
                "p3",
                gyp,
                [("48", [("161-15/16", "48", False, (ROOM, "Ceiling table", "CEILING"))])],
                14,
                rules=ceiling,
                full_span=True,
            ),
            rules=ceiling,
        ),
        "ceiling rip": case(
            sheet_layout(
                "p4",
                gyp,
                [("37", [("161-15/16", "37", False, (ROOM, "Ceiling table", "CEILING"))])],
                rules=ceiling,
                full_span=True,
            ),
            rules=ceiling,
        ),
        "ceiling row and wall parts": case(
            row_of(
                sheet_layout(
                    "p11",
                    replace(gyp, row=10),
                    [
                        ("26-1/2", [part("150", "26-1/2", "CEILING", section=ROOM)]),
                        (
                            "21-1/2",
                            [
                                part("90", "21-1/2", "W1-UPPER"),
                                part("48", "20", "W2-UPPER"),
                                part("21-1/2", "21-1/2", "W3-OVER", section=ROOM),
                            ],
                        ),
                    ],
                    rules=ceiling,
                ),
                "CEILING",
            ),
            rules=ceiling,
        ),
        "thin": case(sheet_layout("p5", board, thin)),
        "trimmed": case(
            sheet_layout(
                "p6",
                board,
                [("20", [part("40", "20", "A1"), part("40", "20", "A2")])],
                rules=trimmed,
            ),
            rules=trimmed,
        ),
        "rack": case(
            sheet_layout(
                "p7",
                sheet_offer(30, "40", "44-1/2", on_hand=1, limit=0, lot="rack 3", edges=Edges.ONE),
                [("40", [part("30", "40", "HATCH", section='"<Süd> & Nord"')])],
                source=Source.ON_HAND,
            )
        ),
        "tongue": case(
            with_edges(
                sheet_layout(
                    "p10",
                    sheet_offer(11, "96", "48", material="OSB-23/32-TG"),
                    [
                        ("23-7/8", [part("72", "23-7/8", "DECK-G"), part("18", "20", "PATCH")]),
                        ("24", [part("60", "24", "DECK-T")]),
                    ],
                ),
                {"DECK-G": Edge.GROOVE, "DECK-T": Edge.TONGUE},
            )
        ),
        "alike": case(
            sheet_layout("p8", board, [("47", [part("94", "47", "DECK")])], 17, pattern="d"),
            sheet_layout(
                "p9", board, [("47", [part("94", "47", "DECK", section=ROOM)])], 21, pattern="d"
            ),
        ),
    }
