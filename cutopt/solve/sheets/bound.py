"""Proved lower bounds, in integers and fractions alone."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutopt.solve.sheets.model import Model
from cutopt.solve.sheets.points import Ints

__all__ = ["Certificate", "area_bound", "dual_bound"]


@dataclass(frozen=True, slots=True)
class Certificate:
    """A proof: a kind is worth `worth` / `unit` dollars, and no pattern is worth more than its
    sheet's cost and `gains` of it.

    `bound` is what any plan costs at least. Whatever a pattern costs more than it is worth, a
    plan that uses it costs more than the bound.
    """

    bound: Fraction
    worth: tuple[int, ...]
    unit: Fraction
    gains: tuple[Fraction, ...]


def dual_bound(
    model: Model,
    need: Iterable[int],
    worth: Sequence[int],
    scale: int,
    values: dict[int, int],
    runs: int = 0,
) -> Certificate:
    """What any plan costs at least, from integer worths.

    Parameters
    ----------
    need
        Demand per kind.
    worth
        Per kind, at least 0, in dollars / `scale`.
    values
        Per sheet the worth of its dearest pattern, or more; a sheet that is missing has none.
    runs
        What all jointed runs are worth at least, their joints with them: that only grows where
        worths are divided and joints are not.

    Returns
    -------
    Certificate
        Worths are divided by the most that any pattern on an unlimited sheet exceeds its cost
        (Farley's bound); a limited sheet takes its greatest gain off as often as it can be had.
    """
    total = runs + sum(n * w for n, w in zip(need, worth, strict=True))
    over = Fraction(1)
    gains = [Fraction(0)] * len(model.sheets)
    for q, value in values.items():
        sheet = model.sheets[q]
        if sheet.available is None and value > 0:
            if sheet.base <= 0:
                return Certificate(Fraction(0), tuple(worth), Fraction(0), tuple(gains))
            over = max(over, Fraction(value) / (sheet.base * scale))
    bound = Fraction(total) / (over * scale)
    for q, value in values.items():
        sheet = model.sheets[q]
        if sheet.available is not None:
            gains[q] = max(Fraction(0), Fraction(value) / (over * scale) - sheet.base)
            bound -= sheet.available * gains[q]
    return Certificate(max(bound, Fraction(0)), tuple(worth), over * scale, tuple(gains))


def area_bound(model: Model, scale: int, credit: Mapping[Fraction, Ints]) -> Certificate:
    """The bound by area: parts are worth theirs at one price, a kerf on each counted with them.

    Parameters
    ----------
    scale
        Whole worths in a dollar.
    credit
        Per credit of an area, what the area of each kind earns in whole worths; shape (kinds,).

    Returns
    -------
    Certificate
        The price is that of the dearest sheet among the cheapest which together are as large as
        the parts, so that no other price gives a better bound where parts may lie on any sheet.
    """
    kerf = min(b.kerf for b in model.benches)
    areas = [(k.length + kerf) * (k.width + kerf) for k in model.kinds]
    room = [s.length * s.width for s in model.sheets]
    left = sum(int(n) * a for n, a in zip(model.need, areas, strict=True))
    rate = Fraction(0)
    for q in sorted(range(len(room)), key=lambda q: (model.sheets[q].base / room[q], q)):
        rate = max(Fraction(0), model.sheets[q].base / room[q])
        available = model.sheets[q].available
        left -= left if available is None else available * room[q]
        if left <= 0:
            break
    least = [min((int(c[i]) for c in credit.values()), default=0) for i in range(len(areas))]
    price = rate * scale
    worth = [
        a * price.numerator // price.denominator + c for a, c in zip(areas, least, strict=True)
    ]
    values: dict[int, int] = {}
    for bench in model.benches:
        earned = credit[bench.credit] if bench.credit else None
        dearest = max(
            Fraction(worth[v.kind] - (0 if earned is None else int(earned[v.kind])))
            / (v.length * v.width)
            for v in bench.variants
        )
        for q in bench.sheets:
            values[q] = max(0, int(dearest * room[q]))
    return dual_bound(model, model.need.tolist(), worth, scale, values)
