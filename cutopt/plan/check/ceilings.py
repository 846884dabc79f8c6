"""Full-span ceiling fields: whole-board rows, one ripped at most, that add up to the run."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from cutopt.cutlist import Part, Rule
from cutopt.plan.check.asked import Asked, Shop, SpanKey, assign
from cutopt.plan.check.seen import SeenPlan
from cutopt.plan.check.told import Told, count

__all__ = ["check_ceilings", "fields_possible"]


@dataclass(slots=True)
class _Rows:
    """The rows laid for one kind of field from one material: number by width."""

    whole: Counter[int] = field(default_factory=Counter)
    ripped: Counter[int] = field(default_factory=Counter)
    known: bool = True
    layouts: list[str] = field(default_factory=list)

    @property
    def run(self) -> int:
        """What the rows cover, side by side."""
        return sum(w * n for c in (self.whole, self.ripped) for w, n in c.items())


def check_ceilings(plan: SeenPlan, asked: Asked, shop: Shop, told: Told) -> None:
    """Every field covered, and no more board lengths bought than the ceiling rules allow."""
    found: dict[SpanKey, dict[str, _Rows]] = defaultdict(lambda: defaultdict(_Rows))
    left_out: dict[SpanKey, dict[int, int]] = defaultdict(lambda: defaultdict(int))
    for material in plan.materials:
        lengths: set[int] = set()
        for layout in material.layouts:
            rows = [p for p in layout.parts if asked.span_rows(p, material.material)]
            offer = shop.stock(material, layout)
            if rows and layout.source == "buy":
                lengths.add(layout.length)
            for row in rows:
                laid = found[row.section, row.mark, row.length][material.material]
                laid.layouts.append(layout.id)
                width = row.width or 0
                if offer is None:
                    laid.known = False
                elif width == offer.width:
                    laid.whole[width] += layout.count
                else:
                    laid.ripped[width] += layout.count
        most = shop.rules.for_ceiling(material.material).order_lengths
        if most and len(lengths) > most:
            words = ", ".join(told.show(n) for n in sorted(lengths))
            told(
                material.material,
                f"{count(len(lengths), 'board length')} bought ({words}), order_lengths is {most}",
            )
        for missing in material.unplanned:
            fields = asked.left_out(missing, material.material)
            fields = [r for r in fields if r.rule is Rule.FULL_SPAN]
            if fields:
                key = (missing.section, missing.mark, missing.length)
                left_out[key][fields[0].width or 0] += missing.qty
    for key, asks in asked.spans.items():
        _fields(key, asks, found.get(key, {}), left_out.get(key, {}), told)


def _fields(
    key: SpanKey,
    asks: list[Part],
    found: Mapping[str, _Rows],
    left_out: Mapping[int, int],
    told: Told,
) -> None:
    section, mark, span = key
    targets: Counter[int] = Counter()
    for row in asks:
        targets[row.width or 0] += row.qty
    for run, qty in left_out.items():
        targets[run] -= qty
    where = f"{asks[0].material}, ceiling {mark} for {section}, span {told.show(span)}"
    if any(n < 0 for n in targets.values()):
        told(where, f"asked for {sum(r.qty for r in asks)}, more left out than that")
        return
    allowed = {m for row in asks for m in row.materials}
    for material, rows in found.items():
        if material not in allowed:
            place = f"{material}, layouts {', '.join(dict.fromkeys(rows.layouts))}"
            fault = f"rows are cut from {material}, allowed: {', '.join(sorted(allowed))}"
            told(place, f"ceiling {mark} for {section}, {fault}")
            return
    laid = sum(rows.run for rows in found.values())
    needed = sum(run * n for run, n in targets.items())
    if not all(rows.known for rows in found.values()):
        return
    if laid != needed:
        told(where, f"rows cover {told.show(laid)} of run, asked for {told.show(needed)}")
        return
    if len(targets) > 1:
        # Fields of several runs under one mark: which material covers which is left open.
        pool = _Rows()
        for rows in found.values():
            pool.whole.update(rows.whole)
            pool.ripped.update(rows.ripped)
        if not fields_possible(pool.whole, pool.ripped, targets):
            told(where, _unlayable(pool, needed, sum(targets.values()), told))
        return
    ((run, _),) = targets.items()
    numbers: list[int] = []
    for material, rows in found.items():
        fields, rest = divmod(rows.run, run)
        numbers.append(fields)
        if rest:
            told(where, f"rows from {material} cover {told.show(rows.run)}, no whole fields")
        elif not fields_possible(rows.whole, rows.ripped, {run: fields}):
            told(where, _unlayable(rows, rows.run, fields, told))
    materials = list(found)
    want = [row.qty for row in asks]
    if any(assign(numbers, want, lambda i, j: materials[i] in asks[j].materials)):
        told(where, "not every field gets a material that it allows")


def _unlayable(rows: _Rows, run: int, fields: int, told: Told) -> str:
    words = [f"{n} x {told.show(w)}" for w, n in sorted(rows.whole.items())]
    words += [f"{n} x {told.show(w)} ripped" for w, n in sorted(rows.ripped.items())]
    return (
        f"rows {', '.join(words)} can't be laid as {count(fields, 'field')} of "
        f"{told.show(run)} in all with at most one ripped row each"
    )


def fields_possible(
    whole: Mapping[int, int], ripped: Mapping[int, int], fields: Mapping[int, int]
) -> bool:
    """Whether the rows can be dealt out to the fields.

    Parameters
    ----------
    whole, ripped
        Number of rows by width.
    fields
        Number of fields by the run that the rows of each must add up to exactly; no field takes
        more than one ripped row.

    Returns
    -------
    bool
        Exact: every state that can be reached is followed, field by field. All rows are used.
    """
    widths = sorted((w for w, n in whole.items() if n), reverse=True)
    runs = sorted(run for run, n in fields.items() if n)
    if sum(ripped.values()) > sum(fields.values()):
        return False
    start = (tuple(whole[w] for w in widths), tuple(fields[run] for run in runs))
    states = {start}
    for width in sorted(ripped):
        for _ in range(ripped[width]):
            states = {
                after
                for rows, open_fields in states
                for i, run in enumerate(runs)
                if open_fields[i]
                for rest in _dealt(rows, widths, run - width)
                for after in [(rest, _less_one(open_fields, i))]
            }
    for i, run in enumerate(runs):
        while any(open_fields[i] for _, open_fields in states):
            states = {
                after
                for rows, open_fields in states
                for after in (
                    [(rest, _less_one(open_fields, i)) for rest in _dealt(rows, widths, run)]
                    if open_fields[i]
                    else [(rows, open_fields)]
                )
            }
    return any(not any(rows) for rows, _ in states)


def _less_one(values: tuple[int, ...], i: int) -> tuple[int, ...]:
    return (*values[:i], values[i] - 1, *values[i + 1 :])


def _dealt(rows: tuple[int, ...], widths: list[int], run: int) -> Iterator[tuple[int, ...]]:
    """What is left of the whole rows once some of them have covered `run`, every way."""
    if run < 0:
        return
    if not widths:
        if run == 0:
            yield ()
        return
    width = widths[0]
    if len(widths) == 1:
        n, rest = divmod(run, width)
        if not rest and n <= rows[0]:
            yield (rows[0] - n,)
        return
    for n in range(min(rows[0], run // width) + 1):
        for others in _dealt(rows[1:], widths[1:], run - n * width):
            yield (rows[0] - n, *others)
