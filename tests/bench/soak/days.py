"""Days of many plants: the demo days with other plants' names and some of their sections."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from random import Random

__all__ = ["DEMO", "days_of"]

DEMO = Path(__file__).resolve().parents[3] / "demo_orders"


def days_of(
    plant: int, count: int, share: float, lists: tuple[str, ...]
) -> dict[str, dict[str, bytes]]:
    """A plant's days by name, as files; no two are alike.

    Parameters
    ----------
    plant
        Its number, from 1.
    count
        How many days.
    share
        Of each list's sections that a day keeps; at least one.
    lists
        Names of the cut lists that a day keeps; none: all.
    """
    bases = sorted(day.parent for day in DEMO.glob("*/day.toml"))
    found = {}
    for day in range(count):
        base = bases[(plant + day) % len(bases)]
        random = Random(1000 * plant + day)
        name = f"Plant {plant:02}"
        files = {"stock.csv": _stock(base)}
        config = (base / "day.toml").read_text(encoding="utf-8-sig")
        old = next(line for line in config.splitlines() if line.startswith("plant"))
        files["day.toml"] = config.replace(old, f'plant = "{name}"').encode()
        for path in sorted(base.glob("cuts/*.csv")):
            if not lists or path.stem in lists:
                files[f"cuts/{path.name}"] = _some(path, share, random)
        found[f"{name}, day {day + 1}"] = files
    return found


def _stock(base: Path) -> bytes:
    """The day's stock, or that of the day before it where it has none of its own."""
    for day in sorted(base.parent.glob("*/stock.csv"), reverse=True):
        if day.parent.name <= base.name:
            return day.read_bytes()
    raise FileNotFoundError(f"no stock.csv for {base.name}")


def _some(path: Path, share: float, random: Random) -> bytes:
    rows = list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8-sig"))))
    sections = sorted({row["section"] for row in rows})
    kept = set(random.sample(sections, max(1, round(share * len(sections)))))
    text = io.StringIO()
    writer = csv.DictWriter(text, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(row for row in rows if row["section"] in kept)
    return text.getvalue().encode()
