"""Why a sheet plan can't cost less: what the certificate of its bound says of parts and limits."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

import numpy as np

from cutopt.materials import Kind
from cutopt.plan import Group
from cutopt.plan.shortage import Cause, Shortage, counted_marks
from cutopt.solve.demand import Item
from cutopt.solve.runs import Unit
from cutopt.solve.sheets.bound import Certificate
from cutopt.solve.sheets.jointed import Jointed
from cutopt.solve.sheets.model import Model, want_of

__all__ = ["reasons"]


def reasons(
    group: Group,
    model: Model,
    jointed: Jointed,
    scale: int,
    certificate: Certificate | None,
    items: Sequence[Item],
) -> tuple[tuple[str, Shortage], ...]:
    """What is dear and what is short, each beside the material that was asked for.

    Parameters
    ----------
    scale
        Whole worths in a dollar before the certificate divided them.
    certificate
        None where no bound was found.
    items
        What was planned; pieces of jointed runs among them are told with their runs.
    """
    if certificate is None or not certificate.unit:
        return ()
    price = _prices(model)
    return (
        *_parts(group, model, certificate, items, price),
        *_runs(group, jointed, scale, certificate, price),
        *_limits(model, certificate),
    )


def _prices(model: Model) -> dict[str, Fraction]:
    """Per material, the least price of an area, kerfs added, without a limit."""
    prices: dict[str, Fraction] = {}
    for material in {s.material for s in model.sheets}:
        offered = [s for s in model.sheets if s.material == material]
        free = [s for s in offered if s.available is None] or offered
        prices[material] = min(s.cost / (s.length * s.width) for s in free)
    return prices


def _plain(
    group: Group,
    price: dict[str, Fraction],
    length: int,
    width: int,
    materials: Sequence[str],
) -> Fraction:
    found = []
    for m in materials:
        if m in price:
            kerf = group.rules.for_sheets(m).kerf
            found.append((length + kerf) * (width + kerf) * price[m])
    return min(found, default=Fraction(0))


def _parts(
    group: Group,
    model: Model,
    certificate: Certificate,
    items: Sequence[Item],
    price: dict[str, Fraction],
) -> Iterator[tuple[str, Shortage]]:
    for item in items:
        pieces = [p for p in item.pieces if p.run is None]
        i = model.kind_of.get(want_of(item))
        if not pieces or i is None or item.width is None:
            continue
        marks, more = counted_marks((p.part.mark, p.qty) for p in pieces)
        yield (
            max(pieces, key=lambda p: p.qty).part.material,
            Shortage(
                Cause.PART,
                Kind.SHEET,
                item.length,
                item.width,
                sum(p.qty for p in pieces),
                certificate.worth[i] / certificate.unit,
                _plain(group, price, item.length, item.width, item.materials),
                marks,
                more,
            ),
        )


def _runs(
    group: Group,
    jointed: Jointed,
    scale: int,
    certificate: Certificate,
    price: dict[str, Fraction],
) -> Iterator[tuple[str, Shortage]]:
    if not jointed:
        return
    least, _ = jointed.price(np.array(certificate.worth, dtype=np.int64), scale)
    for unit, worth in zip(jointed.units, least, strict=True):
        if unit.copies:
            yield _run(group, unit, worth / certificate.unit, price)


def _run(
    group: Group, unit: Unit, worth: Fraction, price: dict[str, Fraction]
) -> tuple[str, Shortage]:
    marks, more = counted_marks((m.part.mark, 1) for copy in unit.members for m in copy)
    plain = (_plain(group, price, r.length, r.width, r.materials) for r in unit.runs)
    return (
        unit.members[0][0].part.material,
        Shortage(
            Cause.RUN,
            Kind.SHEET,
            sum(r.length for r in unit.runs),
            unit.runs[0].width,
            unit.copies,
            worth,
            sum(plain, Fraction(0)),
            marks,
            more,
            mates=len(unit.runs),
        ),
    )


def _limits(model: Model, certificate: Certificate) -> Iterator[tuple[str, Shortage]]:
    for sheet, gain in zip(model.sheets, certificate.gains, strict=True):
        if gain > 0 and sheet.available is not None:
            offer = sheet.offers[0]
            yield (
                sheet.material,
                Shortage(
                    Cause.LIMIT,
                    Kind.SHEET,
                    offer.length,
                    offer.width,
                    sheet.available,
                    gain,
                    rows=tuple(o.row for o in sheet.offers),
                ),
            )
