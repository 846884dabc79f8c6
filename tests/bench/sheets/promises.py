"""What must be shown, each a named check with what was measured and what is required."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from statistics import mean, median

from tests.bench.common.measure import Ours, Row
from tests.bench.common.promises import Check, Clock, by_set, named, none, worst_gap
from tests.bench.sheets.instance import Instance

__all__ = ["checks_of_rows"]


def _within_a_sheet(row: Row[Instance]) -> bool:
    """Whether the plan costs less than one sheet more than the bound."""
    return row.ours.optimal or row.ours.objective - row.ours.bound <= row.instance.sheet


def _slowest(name: str, rows: Sequence[Row[Instance]], most: float, clock: Clock) -> Check:
    worst = max(rows, key=lambda r: clock(r.ours))
    seconds = clock(worst.ours)
    said = f"{seconds:.2f} s ({worst.instance.name})"
    return Check(f"{name}: seconds", said, f"at most {most:g} s", seconds <= most)


def _proved(
    name: str, rows: Sequence[Row[Instance]], share: float, seconds: float, clock: Clock
) -> tuple[Check, list[Row[Instance]]]:
    """The check, and the rows that are not proved in time."""
    open_ = [r for r in rows if not r.ours.optimal or clock(r.ours) > seconds]
    said = f"{len(rows) - len(open_)} of {len(rows)}"
    if open_:
        said += f": not {named(open_)}"
    required = f"{'all' if share == 1 else f'{100 * share:g} %'}, within {seconds:g} s"
    kept = len(rows) - len(open_) >= share * len(rows)
    return Check(f"{name}: proved optimal", said, required, kept), open_


def _dataset_c(rows: Sequence[Row[Instance]], clock: Clock) -> Iterable[Check]:
    yield _proved("dataset C", rows, 1, 60, clock)[0]
    middle = mean(clock(r.ours) for r in rows)
    yield Check("dataset C: mean", f"{middle:.2f} s", "at most 0.5 s", middle <= 0.5)
    missed = [r for r in rows if r.instance.optimum != r.ours.objective]
    yield none("dataset C: published optima missed", missed)


def _wood(rows: Sequence[Row[Instance]], clock: Clock) -> Iterable[Check]:
    known = [r for r in rows if r.instance.optimum is not None]
    missed = [r for r in known if r.ours.objective != r.instance.optimum]
    yield none("wood-industry orders: known optima missed", missed)
    far = [r for r in rows if r.instance.optimum is None and not _within_a_sheet(r)]
    yield none("wood-industry orders: the rest more than a sheet above the bound", far)
    yield _slowest("wood-industry orders", rows, 30, clock)


def _typical(rows: Sequence[Row[Instance]], clock: Clock) -> Iterable[Check]:
    check, open_ = _proved("40 to 80 types, one size", rows, 0.95, 2, clock)
    yield check
    far = [r for r in open_ if not _within_a_sheet(r)]
    yield none("40 to 80 types, one size: the rest more than a sheet above", far)


def _gypsum(rows: Sequence[Row[Instance]], clock: Clock) -> Iterable[Check]:
    yield worst_gap("gypsum, 12 sizes, 60 remnants", rows, 0.001)
    yield _slowest("gypsum, 12 sizes, 60 remnants", rows, 5, clock)


def _large(rows: Sequence[Row[Instance]], clock: Clock) -> Iterable[Check]:
    yield worst_gap("200 types, 10,000 pieces", rows, 0.001)
    yield _slowest("200 types, 10,000 pieces", rows, 10, clock)


def _small(rows: Sequence[Row[Instance]], clock: Clock) -> Iterable[Check]:
    yield _proved("small orders", rows, 0.95, 10, clock)[0]
    middle = median(clock(r.ours) for r in rows)
    yield Check("small orders: median", f"{middle:.2f} s", "at most 1 s", middle <= 1)
    yield worst_gap("small orders", rows, 0.004)
    yield _slowest("small orders", rows, 10.5, clock)


def _dense(rows: Sequence[Row[Instance]], clock: Clock) -> Iterable[Check]:
    thirty = [r for r in rows if r.instance.cell.startswith("30 ")]
    sixty = [r for r in rows if r.instance.cell == "60 pieces, 12 sizes"]
    if thirty:
        yield _proved("dense orders of 30 pieces", thirty, 0.8, 10.5, clock)[0]
    if sixty:
        yield worst_gap("dense orders of 60 pieces, 12 sizes", sixty, 0.01)


def _ceilings(rows: Sequence[Row[Instance]], clock: Clock) -> Iterable[Check]:
    asked = [r for r in rows if r.instance.pieces == 300 and r.instance.cell == "both"]
    if asked:
        yield worst_gap("ceilings, 300 sections, both widths", asked, 0.005)
        yield _slowest("ceilings, 300 sections, both widths", asked, 5, clock)
    single = [r for r in rows if r.instance.cell == "48"]
    if single:
        yield _proved("ceilings of one width", single, 1, 60, clock)[0]


_OF_SET: dict[str, Callable[[Sequence[Row[Instance]], Clock], Iterable[Check]]] = {
    "dataset-c": _dataset_c,
    "wood": _wood,
    "typical": _typical,
    "gypsum": _gypsum,
    "large": _large,
    "small": _small,
    "dense": _dense,
    "ceilings": _ceilings,
}


def checks_of_rows(rows: Sequence[Row[Instance]], cpu: bool = False) -> list[Check]:
    """The promises of every set that was measured, and what holds for every plan.

    `cpu` judges CPU seconds in the place of wall seconds.
    """

    def clock(ours: Ours) -> float:
        return ours.cpu if cpu else ours.wall

    sets = by_set(rows)
    found = [c for name, own in sets.items() if name in _OF_SET for c in _OF_SET[name](own, clock)]
    found.append(none("plans that do not check", [r for r in rows if r.ours.faults]))
    found.append(none("plans that leave something out", [r for r in rows if r.ours.left_out]))
    wrong = [r for r in rows if _wrong(r)]
    found.append(none("bounds above, or plans below, what is known", wrong))
    dearer = [
        r
        for r in rows
        if r.instance.plain and any(cost < r.ours.objective for cost in r.costs.values())
    ]
    found.append(none("plans dearer than a comparison's", dearer))
    return found


def _wrong(row: Row[Instance]) -> bool:
    """Whether something known from outside contradicts the plan or its bound."""
    best = row.instance.optimum
    if best is not None:
        if row.ours.objective < best:
            return True
        if row.ours.bound > best and not row.instance.freer:
            return True
    # Comparisons obey the day's own rule; where parts have alternates they see less than the plan.
    return any(cost < row.ours.bound for cost in row.costs.values())
