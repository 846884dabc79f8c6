"""Write the three demo days of an invented plant: ``python demo_orders/make_days.py [FOLDER]``.

Every row follows from a section's specification by framing geometry (see ``framing/``); the same
run writes the same bytes. The plant, its sections, drawings and prices are invented, and nothing
here is a design.
"""

from __future__ import annotations

import csv
import io
import sys
from pathlib import Path

from framing.build import cut_section
from framing.cutlist import CutList, Row
from framing.lengths import write
from framing.sections import Section, bunkhouse, cabin, classroom, comfort, office
from framing.stock import Offer, offers

PLANT = "Hask Lake Section Works"

DAY_TOML = """\
# {plant}: line of {date}
plant = "{plant}"
date = {date}
unit = "in"

[lumber]
kerf = "1/8"
head_trim = "1/4"
keep_drop = "24"
drop_value = 0.5
joint_price = 0.50
joint_min_piece = "32"

[sheets]
kerf = "1/8"
edge_trim = "0"
stages = 3
first_cut = "either"
keep_drop = ["24", "24"]

[ceiling]
order_lengths = 3

# precut studs are not squared again
[materials."2x3-SPF-STUD"]
head_trim = "0"

[materials."2x4-SPF-STUD"]
head_trim = "0"

[materials."2x6-SPF-STUD"]
head_trim = "0"

# scored and snapped
[materials."GYP-1/2"]
kerf = "0"

[materials."GYP-CLG-1/2"]
kerf = "0"

[materials."GYP-CLG-5/8"]
kerf = "0"
"""

# How each department writes its list: style of lengths, byte-order mark.
DEPARTMENTS: dict[str, tuple[str, bool]] = {
    "floors": ("fraction", False),
    "decks": ("fraction", False),
    "walls": ("feet", False),
    "partitions": ("feet", False),
    "trusses": ("decimal", False),
    "roofs": ("decimal", False),
    "ridges": ("fraction", False),
    "ceilings": ("spaced", True),
    "board": ("spaced", False),
    "siding": ("fraction", False),
}

COLUMNS = (
    "section",
    "jig",
    "mark",
    "material",
    "length",
    "width",
    "qty",
    "turn",
    "rule",
    "alt",
    "need",
    "joint_first",
    "joint_step",
    "joint_clear",
    "joint_mate",
    "note",
)
REQUIRED = COLUMNS[:7]

DAYS: dict[str, tuple[int, tuple[Section, ...]]] = {
    "2026-03-02": (
        17,
        (
            cabin(
                "Alder Cabin",
                48,
                [("N2", 48), ("D1", 192), ("N1", 288), ("N2", 432)],
                [("N1", 96), ("N3", 240), ("N1", 384)],
                [58, 20],
                steep=True,
            ),
            classroom(
                "Classroom 8 East",
                60,
                [("D2", 48), ("N5", 144), ("N5", 288), ("N5", 432), ("D2", 624)],
                [60],
            ),
            classroom(
                "Classroom 8 West",
                60,
                [("N5", 96), ("N5", 240), ("N5", 384), ("N5", 576)],
                [60, 96],
            ),
            bunkhouse(
                "Teal Bunkhouse",
                640,
                [("N4", 48), ("D2", 144), ("N4", 288), ("N5", 384), ("D2", 528)],
                [("N4", 96), ("N4", 240), ("N4", 384), ("N4", 528)],
                [8, 8, 8],
            ),
            cabin(
                "Birch Cabin",
                40,
                [("D1", 96), ("N2", 192), ("N1", 336)],
                [("N3", 144), ("N1", 288)],
                [58],
            ),
            comfort(
                "Fern Comfort Station",
                28,
                [("D1", 48), ("D1", 240)],
                [("N3", 96), ("N3", 192)],
                [48, 48],
            ),
        ),
    ),
    "2026-03-03": (
        12,
        (
            office(
                "Hawk Field Office",
                44,
                [("N6", 48), ("D3", 192), ("N6", 336)],
                [("N1", 96), ("N1", 240), ("N1", 384)],
                [70, 70],
            ),
            cabin(
                "Cedar Cabin",
                44,
                [("N1", 48), ("D1", 144), ("N2", 240), ("N1", 384)],
                [("N3", 96), ("N2", 288)],
                [58, 20],
                steep=True,
            ),
            classroom(
                "Classroom 9 East",
                56,
                [("D2", 48), ("N5", 144), ("N5", 288), ("N5", 432), ("D2", 576)],
                [60],
            ),
            classroom(
                "Classroom 9 West",
                56,
                [("N5", 96), ("N5", 240), ("N5", 384), ("N5", 528)],
                [60, 96],
            ),
            bunkhouse(
                "Grebe Bunkhouse",
                480,
                [("N4", 48), ("D2", 144), ("N5", 288), ("D2", 384)],
                [("N4", 96), ("N4", 240), ("N4", 384)],
                [8, 8],
            ),
            cabin(
                "Dogwood Cabin",
                48,
                [("D1", 48), ("N2", 192), ("N2", 336), ("D1", 480)],
                [("N1", 96), ("N3", 240), ("N1", 384)],
                [58, 20, 58],
                steep=True,
            ),
            comfort(
                "Moss Comfort Station",
                32,
                [("D1", 48), ("D1", 288)],
                [("N3", 96), ("N3", 240)],
                [48, 48],
            ),
        ),
    ),
    "2026-03-04": (
        6,
        (
            bunkhouse(
                "Wigeon Bunkhouse",
                640,
                [("N4", 48), ("D2", 144), ("N5", 288), ("N4", 384), ("D2", 528)],
                [("N4", 96), ("N4", 240), ("N4", 384), ("N4", 528)],
                [8, 8, 8],
            ),
            bunkhouse(
                "Pintail Bunkhouse",
                576,
                [("D2", 48), ("N5", 144), ("N4", 288), ("D2", 432)],
                [("N4", 96), ("N4", 240), ("N4", 384)],
                [8, 8, 8],
            ),
            office(
                "Merlin Field Office",
                48,
                [("D3", 48), ("N6", 192), ("N6", 384)],
                [("N1", 96), ("N1", 240), ("N1", 432)],
                [70, 70, 70],
            ),
            classroom(
                "Classroom 10 East",
                64,
                [("D2", 48), ("N5", 144), ("N5", 288), ("N5", 480), ("D2", 672)],
                [60],
                ridge_plies=3,
            ),
            classroom(
                "Classroom 10 West",
                64,
                [("N5", 96), ("N5", 240), ("N5", 432), ("N5", 624)],
                [60, 96],
                ridge_plies=3,
            ),
            cabin(
                "Elm Cabin",
                40,
                [("N1", 48), ("D1", 192), ("N2", 336)],
                [("N3", 144), ("N1", 288)],
                [58],
            ),
        ),
    ),
}


def cells(row: Row, style: str) -> dict[str, str]:
    """One row of a cut list as text."""
    joints = row.joints
    return {
        "section": row.section,
        "jig": row.jig,
        "mark": row.mark,
        "material": row.material,
        "length": write(row.length, style),
        "width": write(row.width, style) if row.width is not None else "",
        "qty": str(row.qty),
        "turn": "yes" if row.turn else "",
        "rule": row.rule,
        "alt": row.alt,
        "need": str(row.need),
        "joint_first": write(joints.first, style) if joints else "",
        "joint_step": write(joints.step, style) if joints else "",
        "joint_clear": write(joints.clear, style) if joints and joints.mate else "",
        "joint_mate": joints.mate if joints else "",
        "note": row.note,
    }


def table(rows: list[dict[str, str]], columns: list[str]) -> str:
    """CSV text with unix line ends."""
    out = io.StringIO()
    writer = csv.DictWriter(out, columns, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def cut_files(sections: tuple[Section, ...]) -> dict[str, bytes]:
    """The cut lists of a day, one per department; a column that nobody fills is left out."""
    cuts = CutList()
    for section in sections:
        cut_section(cuts, section)
    files = {}
    for name, (style, mark) in DEPARTMENTS.items():
        rows = [cells(row, style) for row in cuts.rows() if row.file == name]
        if rows:
            columns = [c for c in COLUMNS if c in REQUIRED or any(row[c] for row in rows)]
            text = table([{c: row[c] for c in columns} for row in rows], columns)
            files[f"{name}.csv"] = text.encode("utf-8-sig" if mark else "utf-8")
    return files


def stock_file(rows: list[Offer]) -> bytes:
    """stock.csv."""
    columns = list(Offer.__dataclass_fields__)
    text = table([{c: str(getattr(row, c)) for c in columns} for row in rows], columns)
    return text.encode()


def write_days(folder: Path) -> None:
    """Write every day into ``folder``."""
    for date, (racked, sections) in DAYS.items():
        cuts = folder / date / "cuts"
        cuts.mkdir(parents=True, exist_ok=True)
        (folder / date / "day.toml").write_bytes(DAY_TOML.format(plant=PLANT, date=date).encode())
        (folder / date / "stock.csv").write_bytes(stock_file(offers(racked)))
        for name, content in cut_files(sections).items():
            (cuts / name).write_bytes(content)


if __name__ == "__main__":
    write_days(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
