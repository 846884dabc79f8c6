"""What must be shown, each a named check with what was measured and what is required."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction
from statistics import median

from tests.bench.common.measure import Row
from tests.bench.common.promises import Check, by_set, none, percent, worst_gap
from tests.bench.lumber.instance import Instance

__all__ = ["checks_of_rows"]


def _worst_wall(name: str, rows: Sequence[Row[Instance]], most: float) -> Check:
    worst = max(rows, key=lambda r: r.ours.wall)
    return Check(
        f"{name}: seconds",
        f"{worst.ours.wall:.2f} s, CPU {worst.ours.cpu:.2f} ({worst.instance.name})",
        f"at most {most:g} s",
        worst.ours.wall <= most,
    )


def _all_proved(name: str, rows: Sequence[Row[Instance]], seconds: float) -> Check:
    open_ = [r.instance.name for r in rows if not r.ours.optimal or r.ours.wall > seconds]
    said = f"{len(rows) - len(open_)} of {len(rows)}"
    if open_:
        said += ": not " + ", ".join(open_[:12]) + (" ..." if len(open_) > 12 else "")
    return Check(f"{name}: proved optimal", said, f"all, within {seconds:g} s each", not open_)


def _published(rows: Sequence[Row[Instance]]) -> Iterable[Check]:
    yield _all_proved("published", rows, 60)
    middle = median(r.ours.wall for r in rows)
    yield Check("published: median", f"{middle:.2f} s", "at most 0.5 s", middle <= 0.5)


def _plant(rows: Sequence[Row[Instance]]) -> Iterable[Check]:
    asked = [r for r in rows if r.instance.lengths == 120 and r.instance.pieces == 3000]
    yield worst_gap("120 lengths, 3,000 pieces", asked, 0.0001)
    yield _worst_wall("120 lengths, 3,000 pieces", asked, 1)


def _plant_300(rows: Sequence[Row[Instance]]) -> Iterable[Check]:
    yield worst_gap("300 lengths", rows, 0.0005)
    yield _worst_wall("300 lengths", rows, 3)


def _pieces(rows: Sequence[Row[Instance]]) -> Iterable[Check]:
    walls: dict[int, list[float]] = {}
    for row in rows:
        walls.setdefault(row.instance.pieces, []).append(row.ours.wall)
    middles = {n: median(w) for n, w in sorted(walls.items())}
    least = min(middles)
    ratio = max(middles.values()) / middles[least]
    said = ", ".join(f"{n:,}: {wall:.2f} s" for n, wall in middles.items())
    yield Check(
        "from 10^3 to 10^6 pieces",
        f"{ratio:.2f} x ({said})",
        f"at most 1.5 x the seconds of {least:,}",
        ratio <= 1.5,
    )


def _remnants(rows: Sequence[Row[Instance]]) -> Iterable[Check]:
    asked = [r for r in rows if r.instance.name.startswith("remnants-200")]
    yield worst_gap("200 single remnants beside 120 lengths", asked, 0.0001)
    yield _worst_wall("200 single remnants beside 120 lengths", asked, 5)


def _runs(rows: Sequence[Row[Instance]]) -> Iterable[Check]:
    yield worst_gap("30 to 100 jointed runs", rows, 0.0001)
    yield _worst_wall("30 to 100 jointed runs", rows, 6)


def _hard(rows: Sequence[Row[Instance]]) -> Iterable[Check]:
    yield _all_proved("hard classes, unseen", rows, 60)


def _day(rows: Sequence[Row[Instance]]) -> Iterable[Check]:
    for row in rows:
        yield _worst_wall("25 materials, 85,000 pieces", [row], 8)
        worst, middle = max(row.ours.gaps), median(row.ours.gaps)
        name = "25 materials, 85,000 pieces"
        yield Check(f"{name}: worst gap", percent(worst), "at most 0.05 %", worst <= 0.0005)
        yield Check(f"{name}: median gap", percent(middle), "at most 0.002 %", middle <= 0.00002)


_OF_SET: dict[str, Callable[[Sequence[Row[Instance]]], Iterable[Check]]] = {
    "published": _published,
    "plant": _plant,
    "plant-300": _plant_300,
    "pieces": _pieces,
    "remnants": _remnants,
    "runs": _runs,
    "hard": _hard,
    "day": _day,
}


def checks_of_rows(rows: Sequence[Row[Instance]]) -> list[Check]:
    """The promises of every set that was measured, and what holds for every plan."""
    sets = by_set(rows)
    found = [c for name, own in sets.items() if name in _OF_SET for c in _OF_SET[name](own)]
    found.append(none("plans that do not check", [r for r in rows if r.ours.faults]))
    wrong = [r for r in rows if _wrong(r)]
    found.append(none("bounds above, or plans below, what is known", wrong))
    dearer = [r for r in rows if _cheaper_than(r, r.ours.objective)]
    found.append(none("plans dearer than a comparison's", dearer))
    return found


def _wrong(row: Row[Instance]) -> bool:
    """Whether something known from outside contradicts the plan or its bound."""
    best = row.instance.optimum
    if best is not None and (row.ours.bound > best or row.ours.objective < best):
        return True
    return _cheaper_than(row, row.ours.bound)


def _cheaper_than(row: Row[Instance], cost: Fraction) -> bool:
    """Whether a comparison costs less, where it obeys the same rules as the plan."""
    return _plain(row) and any(other < cost for other in row.costs.values())


def _plain(row: Row[Instance]) -> bool:
    return all(p.joints is None for p in row.instance.day.parts) and not row.ours.left_out
