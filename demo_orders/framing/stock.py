"""What the invented plant can buy and has in the yard. Every price, count and lot is invented."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Offer", "offers"]


@dataclass(frozen=True)
class Offer:
    """One row of stock.csv, as it is written."""

    material: str
    kind: str
    nominal: str
    length: str
    width: str
    price: str
    per: str
    on_hand: int
    limit: str
    bundle: int
    lot: str = ""


# Dimension lumber in $/MBF: base price, bundle, and per length in feet: premium, on hand, limit.
DIMENSION: dict[str, tuple[str, int, int, dict[int, tuple[int, int, str]]]] = {
    "2x4-SPF-2": (
        "2x4",
        465,
        208,
        {
            8: (0, 96, ""),
            10: (8, 40, ""),
            12: (4, 60, ""),
            14: (10, 25, ""),
            16: (28, 120, ""),
            18: (30, 0, "208"),
            20: (52, 18, ""),
        },
    ),
    "2x4-SPF-1650F": (
        "2x4",
        588,
        208,
        {
            10: (0, 64, ""),
            12: (4, 30, ""),
            14: (10, 150, ""),
            16: (25, 44, ""),
            18: (36, 0, ""),
            20: (60, 0, "208"),
        },
    ),
    "2x6-SPF-2": (
        "2x6",
        478,
        126,
        {
            8: (0, 33, ""),
            10: (6, 21, ""),
            12: (0, 70, ""),
            14: (8, 42, ""),
            16: (30, 126, "378"),
            18: (22, 12, ""),
            20: (58, 64, ""),
        },
    ),
    "2x8-SPF-2": (
        "2x8",
        512,
        96,
        {
            8: (0, 14, ""),
            10: (10, 22, ""),
            12: (6, 48, ""),
            14: (12, 110, ""),
            16: (34, 60, "288"),
            18: (30, 0, ""),
            20: (66, 30, ""),
        },
    ),
    "2x8-DF-2": (
        "2x8",
        596,
        96,
        {
            8: (0, 10, ""),
            10: (6, 28, ""),
            12: (8, 16, ""),
            14: (10, 20, ""),
            16: (30, 72, ""),
            20: (70, 9, ""),
        },
    ),
    "2x10-DF-2": (
        "2x10",
        640,
        78,
        {
            8: (0, 6, ""),
            10: (10, 12, ""),
            12: (6, 20, ""),
            14: (14, 80, ""),
            16: (36, 35, ""),
            18: (40, 0, "78"),
            20: (75, 24, ""),
        },
    ),
    "2x12-DF-1": (
        "2x12",
        765,
        64,
        {12: (0, 4, ""), 14: (12, 0, ""), 16: (38, 11, ""), 18: (44, 0, "64"), 20: (88, 7, "")},
    ),
    "2x6-PT-2": ("2x6", 720, 126, {8: (0, 20, ""), 12: (10, 16, ""), 16: (42, 31, "")}),
}

# Sold by the piece or the foot: nominal, per, bundle, and per length: price, on hand, limit.
PIECES: dict[str, tuple[str, str, int, dict[str, tuple[str, int, str]]]] = {
    "2x3-SPF-STUD": (
        "2x3",
        "each",
        294,
        {
            "92-5/8": ("2.18", 90, ""),
            "96": ("2.29", 140, ""),
            "120": ("3.05", 36, ""),
            "144": ("3.72", 20, ""),
            "168": ("4.41", 34, ""),
            "192": ("5.22", 0, ""),
        },
    ),
    "2x4-SPF-STUD": (
        "2x4",
        "each",
        294,
        {
            "92-5/8": ("2.64", 160, ""),
            "96": ("2.83", 55, ""),
            "104-5/8": ("3.12", 40, ""),
            "120": ("3.66", 24, ""),
        },
    ),
    "2x6-SPF-STUD": (
        "2x6",
        "each",
        126,
        {
            "92-5/8": ("4.12", 210, ""),
            "104-5/8": ("4.88", 85, ""),
            "96": ("4.31", 60, ""),
            "120": ("5.62", 24, "252"),
        },
    ),
    "1x4-SPF-3": (
        "1x4",
        "LF",
        320,
        {
            "96": ("0.24", 75, ""),
            "120": ("0.25", 30, ""),
            "144": ("0.24", 48, ""),
            "192": ("0.27", 40, ""),
        },
    ),
}

# Sheets: per, bundle, and per (length, width): price, on hand, limit.
SHEETS: dict[str, tuple[str, int, dict[tuple[str, str], tuple[str, int, str]]]] = {
    "OSB-23/32-TG": ("MSF", 45, {("95-7/8", "47-1/2"): ("742", 60, "")}),
    "OSB-7/16": ("each", 66, {("95-7/8", "47-7/8"): ("12.35", 110, "")}),
    "PLY-23/32": ("each", 40, {("96", "48"): ("34.60", 22, ""), ("120", "48"): ("47.25", 6, "40")}),
    "SDG-PLY-19/32": (
        "each",
        50,
        {
            ("96", "48"): ("39.80", 35, ""),
            ("108", "48"): ("46.90", 18, ""),
            ("120", "48"): ("52.40", 0, ""),
        },
    ),
    "FC-5/16": (
        "each",
        42,
        {
            ("96", "48"): ("36.15", 44, ""),
            ("108", "48"): ("41.20", 27, ""),
            ("120", "48"): ("45.70", 12, ""),
        },
    ),
    "GYP-1/2": (
        "MSF",
        68,
        {
            ("96", "48"): ("338", 136, ""),
            ("108", "48"): ("346", 0, ""),
            ("120", "48"): ("346", 40, ""),
            ("144", "48"): ("352", 102, ""),
            ("144", "54"): ("398", 34, ""),
        },
    ),
    "GYP-CLG-1/2": (
        "MSF",
        34,
        {
            ("96", "48"): ("395", 20, ""),
            ("108", "48"): ("402", 0, ""),
            ("120", "48"): ("402", 12, ""),
            ("144", "48"): ("410", 26, ""),
            ("144", "54"): ("446", 8, "68"),
            ("168", "48"): ("431", 18, ""),
            ("168", "54"): ("462", 0, "68"),
            ("192", "48"): ("455", 10, ""),
        },
    ),
    "GYP-CLG-5/8": (
        "MSF",
        26,
        {
            ("144", "48"): ("452", 14, ""),
            ("168", "48"): ("474", 22, ""),
            ("168", "54"): ("512", 0, "52"),
            ("192", "48"): ("498", 4, ""),
        },
    ),
}

# The drop rack: kept ends, a row for a length, nothing to buy (limit 0), priced as the material.
RACK: tuple[tuple[str, str, int], ...] = (
    ("2x4-SPF-2", "31-1/4", 3),
    ("2x4-SPF-2", "46-1/2", 1),
    ("2x4-SPF-2", "58-3/4", 2),
    ("2x4-SPF-2", "71", 1),
    ("2x4-SPF-1650F", "62-3/8", 1),
    ("2x4-SPF-1650F", "88-1/2", 1),
    ("2x6-SPF-2", "41-3/4", 2),
    ("2x6-SPF-2", "67-7/8", 1),
    ("2x6-SPF-2", "84-1/4", 1),
    ("2x8-SPF-2", "29-5/8", 4),
    ("2x8-SPF-2", "35-1/2", 2),
    ("2x8-SPF-2", "77", 1),
    ("2x8-DF-2", "46-5/8", 1),
    ("2x8-DF-2", "70-1/8", 1),
    ("2x10-DF-2", "33-3/4", 2),
    ("2x10-DF-2", "92-1/2", 1),
    ("1x4-SPF-3", "53-1/2", 2),
)


def _rate(material: str) -> tuple[str, str, str]:
    """Nominal size, price and unit at which a drop of this material is carried."""
    if material in DIMENSION:
        nominal, base, _, _ = DIMENSION[material]
        return nominal, str(base), "MBF"
    nominal, per, _, lengths = PIECES[material]
    return nominal, next(iter(lengths.values()))[0], per


def offers(racked: int) -> list[Offer]:
    """All rows of a day, with the first ``racked`` of the drop rack still there."""
    rows: list[Offer] = []
    for material, (nominal, base, bundle, feet) in DIMENSION.items():
        for n, (premium, on_hand, limit) in feet.items():
            lot = f"26-{100 + 7 * len(rows)}" if on_hand else ""
            rows.append(
                Offer(
                    material,
                    "lumber",
                    nominal,
                    str(n * 12),
                    "",
                    str(base + premium),
                    "MBF",
                    on_hand,
                    limit,
                    bundle,
                    lot,
                )
            )
    for material, (nominal, per, bundle, lengths) in PIECES.items():
        for length, (price, on_hand, limit) in lengths.items():
            rows.append(
                Offer(material, "lumber", nominal, length, "", price, per, on_hand, limit, bundle)
            )
    for material, (per, bundle, sizes) in SHEETS.items():
        for (length, width), (price, on_hand, limit) in sizes.items():
            rows.append(
                Offer(material, "sheet", "", length, width, price, per, on_hand, limit, bundle)
            )
    for material, length, count in RACK[:racked]:
        nominal, price, per = _rate(material)
        rows.append(
            Offer(material, "lumber", nominal, length, "", price, per, count, "0", 1, "drop rack")
        )
    return rows
