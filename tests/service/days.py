"""Days small enough to plan in a moment, as files and as one document."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

DEMO = Path(__file__).resolve().parents[2] / "demo_orders"

CONFIG = {"plant": "Hask Lake Section Works", "date": "2026-03-02", "unit": "in"}
STOCK: list[dict[str, Any]] = [
    {
        "material": "2x4-SPF-2",
        "kind": "lumber",
        "nominal": "2x4",
        "length": length,
        "width": "",
        "price": price,
        "per": "MBF",
        "on_hand": on_hand,
    }
    for length, price, on_hand in ((96, 465, 0), (144, 469, 3), (192, 493, 0))
] + [
    {
        "material": "OSB-7/16",
        "kind": "sheet",
        "nominal": "",
        "length": 96,
        "width": 48,
        "price": "14.5",
        "per": "each",
        "on_hand": 0,
    }
]
CUTS: list[dict[str, Any]] = [
    {
        "section": section,
        "jig": jig,
        "mark": mark,
        "material": material,
        "length": length,
        "width": width,
        "qty": qty,
    }
    for section, jig, mark, material, length, width, qty in (
        ("Alder Cabin", "Wall table 1", "W1-STUD", "2x4-SPF-2", "92-5/8", "", 12),
        ("Alder Cabin", "Wall table 1", "W1-CRIP", "2x4-SPF-2", "14-1/2", "", 9),
        ("Birch Cabin", "Wall table 2", "W2-STUD", "2x4-SPF-2", "7'-8 5/8\"", "", 7),
        ("Birch Cabin", "Roof table", "R1-SHEET", "OSB-7/16", "47-7/8", "47-7/8", 5),
        ("Birch Cabin", "Roof table", "R1-FILL", "OSB-7/16", "30", "23-3/4", 4),
    )
]


def table(rows: list[dict[str, Any]]) -> bytes:
    """Rows as a csv file."""
    text = io.StringIO()
    writer = csv.DictWriter(text, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue().encode()


def small_files(**changes: bytes) -> dict[str, bytes]:
    """A small day as its files; `changes` replaces or adds some (`/` and `.` as `__` and `_`)."""
    config = 'plant = "Hask Lake Section Works"\ndate = 2026-03-02\nunit = "in"\n'
    files = {
        "day.toml": config.encode(),
        "stock.csv": table(STOCK),
        "cuts/walls.csv": table(CUTS),
    }
    names = {"config": "day.toml", "stock": "stock.csv", "walls": "cuts/walls.csv"}
    return files | {names[key]: content for key, content in changes.items()}


def small_document(**changes: Any) -> dict[str, Any]:
    """The same day as one document."""
    day = {"day": CONFIG, "stock": STOCK, "cuts": [{**row, "file": "walls"} for row in CUTS]}
    return day | changes


def second_document() -> dict[str, Any]:
    """A later day against the first one's stock."""
    return {
        "day": {**CONFIG, "date": "2026-03-03"},
        "cuts": [{**row, "section": "Cedar Cabin", "qty": 3} for row in CUTS],
    }


def parts(files: dict[str, bytes]) -> list[tuple[str, tuple[str, bytes, str]]]:
    """Files as the parts of a multipart body."""
    return [
        ("files", (name, content, "application/octet-stream")) for name, content in files.items()
    ]


def demo_files(name: str = "2026-03-02", lists: tuple[str, ...] | None = None) -> dict[str, bytes]:
    """A demo day's files; only some of its cut lists where `lists` names them."""
    day = DEMO / name
    cuts = sorted(p for p in day.glob("cuts/*.csv") if lists is None or p.stem in lists)
    return {
        path.relative_to(day).as_posix(): path.read_bytes()
        for path in (day / "day.toml", day / "stock.csv", *cuts)
    }
