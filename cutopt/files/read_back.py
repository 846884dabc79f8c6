"""A plan read back from its own files: the layouts as they were found, ready to be drawn again."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

from cutopt.cutlist.part import Rule
from cutopt.materials import Edge, Kind, Offer
from cutopt.measure import Unit, length_from_number
from cutopt.plan import Layout, MaterialPlan, Plan, Problem
from cutopt.plan.layout import Drop, Placed, Source, Status, Stop

__all__ = ["plan_from"]

_Place = tuple[str, int, int]


def plan_from(
    problem: Problem, document: Mapping[str, Any], cuts: Iterable[Mapping[str, str]]
) -> Plan:
    """The plan that a plan.json and its cut list tell.

    Parameters
    ----------
    problem
        The days as they were planned: stock and rules are taken from them.
    document
        A plan.json that checks, as `parse_document` reads it.
    cuts
        The rows of the cut_list.csv written with it: jig and need stand only there.

    Returns
    -------
    Plan
        Layouts are those that were written, exactly. Money is rounded as in the document. Reasons
        why it can't cost less, and what could not be planned, are left to the document.
    """
    unit: Unit = document["unit"]
    offers = {offer.row: offer for offer in problem.offers}
    spans = {(p.section, p.mark) for p in problem.parts if p.rule is Rule.FULL_SPAN}
    goes: dict[_Place, tuple[str, int | None]] = {}
    for row in cuts:
        across = length_from_number(row["stop_across"], unit) if row["stop_across"] else 0
        place = (row["layout"], length_from_number(row["stop"], unit), across)
        goes[place] = (row["jig"], int(row["need"]) if row["need"] else None)
    return Plan(
        unit=problem.unit,
        materials=tuple(_material(m, unit, offers, spans, goes) for m in document["materials"]),
        plant=document.get("plant", ""),
        days=tuple(document.get("days", ())),
    )


def _material(
    held: Mapping[str, Any],
    unit: Unit,
    offers: Mapping[int, Offer],
    spans: set[tuple[str, str]],
    goes: Mapping[_Place, tuple[str, int | None]],
) -> MaterialPlan:
    name = held["material"]

    def layout(one: Mapping[str, Any]) -> Layout:
        return Layout(
            id=one["id"],
            pattern=one["pattern"],
            count=one["count"],
            offer=offers[one["stock"]["row"]],
            source=Source(one["stock"]["source"]),
            parts=tuple(_part(p, one["id"], name, unit, spans, goes) for p in one["parts"]),
            drops=tuple(_drop(d, unit) for d in one["drops"]),
        )

    return MaterialPlan(
        material=name,
        kind=Kind(held["kind"]),
        kerf=_length(held["kerf"], unit),
        head_trim=_length(held["head_trim"], unit),
        layouts=tuple(layout(one) for one in held["layouts"]),
        cost=Fraction(held["cost"]),
        drop_credit=Fraction(held["drop_credit"]),
        joints=held["joints"],
        joint_cost=Fraction(held["joint_cost"]),
        bound=Fraction(held["bound"]),
        status=Status(held["status"]),
        stop=Stop(held["stop"]),
        seconds=float(held["seconds"]),
        joint_with=tuple(held.get("joint_with", ())),
        cutting_rule=held.get("cutting_rule", ""),
        surplus=tuple((offers[s["row"]], s["pieces"]) for s in held.get("surplus", ())),
        stack=held.get("stack", 1),
    )


def _part(
    held: Mapping[str, Any],
    layout: str,
    material: str,
    unit: Unit,
    spans: set[tuple[str, str]],
    goes: Mapping[_Place, tuple[str, int | None]],
) -> Placed:
    width = _maybe(held["width"], unit)
    part = Placed(
        section=held["section"],
        jig="",
        mark=held["mark"],
        asked=held.get("asked", material),
        length=_length(held["length"], unit),
        width=width,
        x=_length(held["x"], unit),
        y=_length(held["y"], unit),
        turned=held["turned"],
        run=held["run"],
        run_at=_maybe(held["run_at"], unit),
        full_span=width is not None and (held["section"], held["mark"]) in spans,
        edge=Edge(held.get("edge", "")),
    )
    jig, need = goes[layout, part.x + part.along, 0 if width is None else part.y + part.across]
    return replace(part, jig=jig, need=need)


def _drop(held: Mapping[str, Any], unit: Unit) -> Drop:
    return Drop(
        x=_length(held["x"], unit),
        y=_length(held["y"], unit),
        length=_length(held["length"], unit),
        width=_maybe(held["width"], unit),
        kept=held["kept"],
    )


def _length(value: int | Decimal, unit: Unit) -> int:
    return length_from_number(value, unit)


def _maybe(value: int | Decimal | None, unit: Unit) -> int | None:
    return None if value is None else length_from_number(value, unit)
