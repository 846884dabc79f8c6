"""A small reader of day folders for these tests; it shares nothing with the library."""

from __future__ import annotations

import csv
import re
import tomllib
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

DEMO = Path(__file__).parents[2] / "demo_orders"
DAYS = ("2026-03-02", "2026-03-03", "2026-03-04")


def inches(text: str) -> Fraction:
    """Exact inches of ``92-5/8``, ``92 5/8``, ``92.625`` or ``7'-8 5/8"``."""
    found = re.fullmatch(r"(?:(\d+)'-)?(?:(\d+(?:\.\d+)?))?(?:[ -]?(\d+)/(\d+))?\"?", text)
    assert found, text
    feet, whole, above, below = found.groups()
    total = 12 * Fraction(feet or 0) + Fraction(whole or 0)
    return total + (Fraction(int(above), int(below)) if above else 0)


@dataclass
class Day:
    rules: dict[str, Any]
    stock: list[dict[str, str]]
    cuts: list[dict[str, str]]  # every row of every list, all columns, and `file`

    def rule(self, material: str, table: str, key: str) -> Any:
        own = self.rules.get("materials", {}).get(material, {})
        return own.get(key, self.rules[table][key])

    def unlimited(self, material: str) -> list[tuple[Fraction, Fraction | None]]:
        """Sizes of the material that can be bought without limit."""
        return [
            (inches(o["length"]), inches(o["width"]) if o["width"] else None)
            for o in self.stock
            if o["material"] == material and o["limit"] == ""
        ]

    def longest(self, material: str) -> Fraction:
        """Longest part that sticks bought without limit can give."""
        trim = Fraction(0)
        sizes = self.unlimited(material)
        if sizes[0][1] is None:
            trim = inches(self.rule(material, "lumber", "head_trim"))
        return max(length for length, _ in sizes) - trim


COLUMNS = (
    *("section", "jig", "mark", "material", "length", "width", "qty", "turn", "rule", "alt"),
    *("need", "joint_first", "joint_step", "joint_clear", "joint_mate", "note"),
)


def table(path: Path) -> list[dict[str, str]]:
    text = path.read_text(encoding="utf-8-sig")
    return list(csv.DictReader(text.splitlines()))


def read_day(folder: Path) -> Day:
    cuts: list[dict[str, str]] = []
    for path in sorted((folder / "cuts").glob("*.csv")):
        cuts += [
            {c: row.get(c) or "" for c in COLUMNS} | {"file": path.stem} for row in table(path)
        ]
    rules = tomllib.loads((folder / "day.toml").read_text(encoding="utf-8"))
    return Day(rules, table(folder / "stock.csv"), cuts)
