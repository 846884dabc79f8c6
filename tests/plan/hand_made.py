"""A little day and a right plan for it, both worked out by hand.

Five materials: sticks of two materials that may stand for each other, a rack drop, jointed runs in
mated pairs, sheets with edge trim and a turned part, ceiling boards without.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from typing import Any

from cutopt.cutlist import Day, Joints, Part, Rule
from cutopt.materials import CeilingRules, Kind, LumberRules, Offer, Per, Rules, SheetRules
from cutopt.measure import parse_length
from cutopt.records import Place

Document = dict[str, Any]


def n(text: str) -> int:
    """Inches as counts."""
    return parse_length(text, "in")


def offer(
    row: int, material: str, length: str, width: str | None, price: str, **more: Any
) -> Offer:
    return Offer(
        row=row,
        material=material,
        kind=Kind.LUMBER if width is None else Kind.SHEET,
        nominal=(2, 4) if width is None else None,
        length=n(length),
        width=None if width is None else n(width),
        price=Decimal(price),
        per=more.pop("per", Per.EACH),
        **more,
    )


def part(
    section: str, mark: str, material: str, length: str, width: str | None, qty: int, **more: Any
) -> Part:
    return Part(
        place=Place("cuts/a.csv", 2),
        section=section,
        jig=more.pop("jig", "Table"),
        mark=mark,
        material=material,
        length=n(length),
        width=None if width is None else n(width),
        qty=qty,
        **more,
    )


def run(mark: str, mate: str) -> Part:
    joints = Joints(n("16"), n("16"), n("32"), mate)
    return part("S1", mark, "2x6", "240", None, 2, rule=Rule.JOINTED, joints=joints)


def day() -> Day:
    sheets = SheetRules(edge_trim=n("1/4"), drop_value=Decimal("0.25"))
    return Day(
        name="hand-made",
        plant="Hand-made",
        date=date(2026, 3, 2),
        unit="in",
        rules=Rules(
            lumber=LumberRules(head_trim=n("1/4")),
            sheets=sheets,
            ceiling=CeilingRules(order_lengths=1),
            sheets_of={"CLG": SheetRules(kerf=0, edge_trim=n("1/4"), drop_value=Decimal("0.25"))},
        ),
        offers=(
            offer(2, "2x4-A", "192", None, "8", on_hand=1),
            offer(3, "2x4-A", "144", None, "6", limit=2),
            offer(4, "2x4-A", "60", None, "2.5", on_hand=1, limit=0, lot="R7"),
            offer(5, "2x4-B", "192", None, "10"),
            offer(6, "2x6", "192", None, "12", bundle=4),
            offer(7, "OSB", "96", "48", "20"),
            offer(8, "CLG", "144", "48", "12"),
            offer(9, "CLG", "144", "54", "14"),
            offer(10, "CLG", "168", "48", "15"),
        ),
        parts=(
            part("S1", "A", "2x4-A", "90", None, 3),
            part("S1", "B", "2x4-A", "50", None, 1),
            part("S1", "C", "2x4-A", "40", None, 2, alt=("2x4-B",)),
            part("S1", "F", "2x4-A", "200", None, 1),
            run("P1", "P2"),
            run("P2", "P1"),
            part("S2", "D", "OSB", "40", "30", 3),
            part("S2", "E", "OSB", "20", "15", 1, turn=True),
            part("S3", "CEIL", "CLG", "140", "126", 2, rule=Rule.FULL_SPAN),
        ),
    )


def d(text: str | int | None) -> int | Decimal | None:
    return text if text is None or isinstance(text, int) else Decimal(text)


def piece(
    section: str,
    mark: str,
    length: Any,
    x: Any = 0,
    *,
    width: Any = None,
    y: Any = 0,
    turned: bool = False,
    run: str | None = None,
    at: Any = None,
    **more: Any,
) -> Document:
    return {
        "section": section,
        "mark": mark,
        "length": d(length),
        "width": d(width),
        "x": d(x),
        "y": d(y),
        "turned": turned,
        "run": run,
        "run_at": d(at),
        **more,
    }


def drop(x: Any, length: Any, *, y: Any = 0, width: Any = None, kept: bool = False) -> Document:
    return {"x": d(x), "y": d(y), "length": d(length), "width": d(width), "kept": kept}


def layout(
    name: str,
    pattern: str,
    stock: tuple[Any, ...],
    parts: list[Document],
    drops: list[Document],
    count: int = 1,
) -> Document:
    row, length, width, source, lot = (*stock, "buy", None)[:5] if len(stock) == 3 else stock
    return {
        "id": name,
        "pattern": pattern,
        "count": count,
        "stock": {"row": row, "length": length, "width": width, "source": source, "lot": lot},
        "parts": parts,
        "drops": drops,
    }


def material(
    name: str, kind: str, money: dict[str, str], layouts: list[Document], **more: Any
) -> Document:
    """`money`: cost, drop_credit, joint_cost, objective, bound, gap."""
    return {
        "material": name,
        "kind": kind,
        "kerf": more.pop("kerf", Decimal("0.125")),
        "head_trim": Decimal("0.25") if kind == "lumber" else 0,
        "cost": d(money["cost"]),
        "drop_credit": d(money.get("credit", "0")),
        "joints": more.pop("joints", 0),
        "joint_cost": d(money.get("joint_cost", "0")),
        "objective": d(money["objective"]),
        "bound": d(money["bound"]),
        "gap": d(money.get("gap", "0")),
        "status": more.pop("status", "optimal"),
        "stop": more.pop("stop", "proved"),
        "seconds": Decimal("0.1"),
        **more.pop("extra", {}),
        "layouts": layouts,
        "unplanned": more.pop("unplanned", []),
    }


def document() -> Document:
    """A right plan of `day()`.

    2x4-A: 8 + 6 + 2.50 = 16.50. 2x4-B: 10 less 0.5 x 10 x 151.625/192 = 3.948568. 2x6: six sticks
    72 less 6 x (2 x 47.625 + 2 x 31.625)/192 = 4.953125, four joints 2. OSB: 40 less 5 x 55.375 x
    47.5/4608 = 2.854072. CLG: five at 12 and one at 14, less 0.25 x 12 x 24/48 = 1.50.
    """
    found = {"status": "best-found", "stop": "gap"}
    return {
        "format": "cutopt-plan-1",
        "unit": "in",
        "materials": [
            material(
                "2x4-A",
                "lumber",
                {"cost": "16.5", "objective": "16.5", "bound": "16", "gap": "0.030303"},
                [
                    layout(
                        "A1",
                        "PA1",
                        (2, 192, None, "on-hand", None),
                        [piece("S1", "A", 90), piece("S1", "A", 90, "90.125")],
                        [drop("180.25", "11.5")],
                    ),
                    layout(
                        "A2",
                        "PA2",
                        (3, 144, None),
                        [piece("S1", "A", 90), piece("S1", "C", 40, "90.125")],
                        [drop("130.25", "13.5")],
                    ),
                    layout(
                        "A3",
                        "PA3",
                        (4, 60, None, "on-hand", "R7"),
                        [piece("S1", "B", 50)],
                        [drop("50.125", "9.625")],
                    ),
                ],
                **found,
                extra={"joint_with": ["2x4-B"]},
                unplanned=[
                    {
                        "section": "S1",
                        "mark": "F",
                        "length": 200,
                        "width": None,
                        "qty": 1,
                        "reason": "longer than any stick",
                    }
                ],
            ),
            material(
                "2x4-B",
                "lumber",
                {
                    "cost": "10",
                    "credit": "3.948568",
                    "objective": "6.051432",
                    "bound": "6.051432",
                },
                [
                    layout(
                        "B1",
                        "PB1",
                        (5, 192, None),
                        [piece("S1", "C", 40, asked="2x4-A")],
                        [drop("40.125", "151.625", kept=True)],
                    )
                ],
                extra={"joint_with": ["2x4-A"]},
            ),
            material(
                "2x6",
                "lumber",
                {
                    "cost": "72",
                    "credit": "4.953125",
                    "joint_cost": "2",
                    "objective": "69.046875",
                    "bound": "69",
                    "gap": "0.000679",
                },
                _run_layouts(),
                joints=4,
                **found,
            ),
            material(
                "OSB",
                "sheet",
                {
                    "cost": "40",
                    "credit": "2.854072",
                    "objective": "37.145928",
                    "bound": "20",
                    "gap": "0.461583",
                },
                _sheet_layouts(),
                **found,
            ),
            material(
                "CLG",
                "sheet",
                {"cost": "74", "credit": "1.5", "objective": "72.5", "bound": "72.5"},
                _ceiling_layouts(),
                kerf=0,
            ),
        ],
    }


def _run_layouts() -> list[Document]:
    def one(name: str, pattern: str, parts: list[Document], left: Document) -> Document:
        return layout(name, pattern, (6, 192, None), parts, [left])

    def of(mark: str, length: int, at: int, copy: str = "", x: Any = 0) -> Document:
        return piece("S1", mark, length, x, run=mark + copy, at=at)

    return [
        one("J1", "PJ1", [of("P1", 144, 0)], drop("144.125", "47.625", kept=True)),
        one("J2", "PJ1", [of("P1", 144, 96, "#2")], drop("144.125", "47.625", kept=True)),
        one("J3", "PJ2", [of("P2", 160, 80)], drop("160.125", "31.625", kept=True)),
        one("J4", "PJ2", [of("P2", 160, 0, "#2")], drop("160.125", "31.625", kept=True)),
        one(
            "J5",
            "PJ3",
            [of("P1", 96, 144), of("P2", 80, 0, x="96.125")],
            drop("176.25", "15.5"),
        ),
        one(
            "J6",
            "PJ3",
            [of("P1", 96, 0, "#2"), of("P2", 80, 160, "#2", x="96.125")],
            drop("176.25", "15.5"),
        ),
    ]


def _sheet_layouts() -> list[Document]:
    return [
        layout(
            "O1",
            "PO1",
            (7, 96, 48),
            [
                piece("S2", "D", 40, width=30),
                piece("S2", "D", 40, "40.125", width=30),
                piece("S2", "E", 20, "80.25", width=15, turned=True),
            ],
            [
                drop(0, "95.5", y="30.125", width="17.375"),
                drop("95.375", "0.125", width=30),
                drop("80.25", 15, y="20.125", width="9.875"),
            ],
        ),
        layout(
            "O2",
            "PO2",
            (7, 96, 48),
            [piece("S2", "D", 40, width=30)],
            [
                drop("40.125", "55.375", width="47.5", kept=True),
                drop(0, 40, y="30.125", width="17.375"),
            ],
        ),
    ]


def _ceiling_layouts() -> list[Document]:
    def row(width: int) -> list[Document]:
        return [piece("S3", "CEIL", 140, width=width)]

    return [
        layout("C1", "PC1", (8, 144, 48), row(48), [drop(140, 4, width=48)], 3),
        layout(
            "C2",
            "PC2",
            (8, 144, 48),
            row(30),
            [drop(0, 144, y=30, width=18), drop(140, 4, width=30)],
        ),
        layout(
            "C3",
            "PC3",
            (8, 144, 48),
            row(24),
            [drop(0, 144, y=24, width=24, kept=True), drop(140, 4, width=24)],
        ),
        layout("C4", "PC4", (9, 144, 54), row(54), [drop(140, 4, width=54)]),
    ]


def find(plan: Document, name: str) -> Document:
    """A material by its code or a layout by its id."""
    for entry in plan["materials"]:
        if entry["material"] == name:
            return entry
        for one in entry["layouts"]:
            if one["id"] == name:
                return one
    raise KeyError(name)


def places(value: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """The path of every value in a document that is neither an object nor a list."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from places(inner, (*path, key))
    elif isinstance(value, list):
        for i, inner in enumerate(value):
            yield from places(inner, (*path, i))
    else:
        yield path
