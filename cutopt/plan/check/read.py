"""The document's structure and types: what can be read becomes a `SeenPlan`, the rest is told.

A malformed document gives faults, never a traceback: numbers out of any reason (an exponent of a
million, a thousand digits) are refused before they are computed with.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import TypeVar

from cutopt.measure import INCH, LONGEST, MM
from cutopt.plan.check.seen import (
    SeenDrop,
    SeenLayout,
    SeenMaterial,
    SeenPart,
    SeenPlan,
    SeenUnplanned,
)
from cutopt.plan.check.told import Told

__all__ = ["exact_number", "read_plan"]

T = TypeVar("T")

_FORMAT = "cutopt-plan-1"
_COUNTS = {"in": INCH, "mm": MM}
_MOST = 10**15
_MOST_PLACES = 30
_MISSING = object()


class _UnreadableError(Exception):
    """The fault is told already; the object around it is left out."""


def exact_number(value: object) -> Fraction | None:
    """A JSON number exactly (a float by its shortest text); None where it is no usable number."""
    if isinstance(value, float):
        value = Decimal(repr(value))
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        return None
    if isinstance(value, Decimal):
        if not value.is_finite():
            return None
        exponent = value.as_tuple().exponent
        small = isinstance(exponent, int) and exponent >= -_MOST_PLACES
        if not small or (value and value.adjusted() > 15):
            return None
    elif abs(value) > _MOST:
        return None
    return Fraction(value)


def read_plan(document: object, told: Told) -> SeenPlan | None:
    """What the document says; None where not even its unit and materials can be found."""
    try:
        top = _mapping(document, "plan.json", told)
        reader = _Reader(told, _unit(top, told))
        if top.get("format") != _FORMAT:
            told("plan.json", f"format is {top.get('format')!r}, promised '{_FORMAT}'")
        materials = reader.each(top, "materials", "plan.json", reader.material)
    except _UnreadableError:
        return None
    return SeenPlan(reader.unit, materials, reader.whole)


def _mapping(value: object, where: str, told: Told) -> Mapping[str, object]:
    if not isinstance(value, Mapping):
        told(where, f"is {_kind(value)}, promised an object")
        raise _UnreadableError
    return value


def _unit(top: Mapping[str, object], told: Told) -> str:
    unit = top.get("unit")
    if not isinstance(unit, str) or unit not in _COUNTS:
        told("plan.json", f"unit is {unit!r}, promised 'in' or 'mm'")
        raise _UnreadableError
    return unit


def _kind(value: object) -> str:
    if value is _MISSING:
        return "missing"
    text = repr(value)
    return text if len(text) <= 40 else f"a {type(value).__name__}"


class _Reader:
    def __init__(self, told: Told, unit: str) -> None:
        self.told = told
        self.unit = unit
        self.whole = True

    def wrong(self, where: str, key: str, value: object, promised: str) -> _UnreadableError:
        self.told(where, f"{key} is {_kind(value)}, promised {promised}")
        return _UnreadableError()

    def text(self, of: Mapping[str, object], key: str, where: str) -> str:
        value = of.get(key, _MISSING)
        if not isinstance(value, str):
            raise self.wrong(where, key, value, "text")
        return value

    def maybe_text(self, of: Mapping[str, object], key: str, where: str) -> str | None:
        value = of.get(key)
        if value is not None and not isinstance(value, str):
            raise self.wrong(where, key, value, "text or null")
        return value

    def whole_number(self, of: Mapping[str, object], key: str, where: str, least: int) -> int:
        value = exact_number(of.get(key, _MISSING))
        if value is None or value.denominator != 1 or value < least:
            promised = f"a whole number, {least} or more"
            raise self.wrong(where, key, of.get(key, _MISSING), promised)
        return int(value)

    def flag(self, of: Mapping[str, object], key: str, where: str) -> bool:
        value = of.get(key, _MISSING)
        if not isinstance(value, bool):
            raise self.wrong(where, key, value, "true or false")
        return value

    def money(self, of: Mapping[str, object], key: str, where: str) -> Fraction:
        value = exact_number(of.get(key, _MISSING))
        if value is None:
            raise self.wrong(where, key, of.get(key, _MISSING), "a number")
        return value

    def length(self, of: Mapping[str, object], key: str, where: str) -> int:
        read = of.get(key, _MISSING)
        value = exact_number(read)
        if value is None:
            raise self.wrong(where, key, read, f"a length in {self.unit}")
        counts = value * _COUNTS[self.unit]
        if counts.denominator != 1 or not 0 <= counts <= LONGEST:
            promised = "a length, zero or more, that is a whole count of 1/1600 mm"
            raise self.wrong(where, key, read, promised)
        return int(counts)

    def maybe_length(self, of: Mapping[str, object], key: str, where: str) -> int | None:
        return None if of.get(key) is None else self.length(of, key, where)

    def each(
        self,
        of: Mapping[str, object],
        key: str,
        where: str,
        one: Callable[[Mapping[str, object], str], T],
    ) -> tuple[T, ...]:
        """Every member of a list that can be read; the others are told and left out."""
        value = of.get(key, _MISSING)
        if isinstance(value, str) or not isinstance(value, list | tuple):
            raise self.wrong(where, key, value, "a list")
        read: list[T] = []
        for i, member in enumerate(value):
            try:
                place = f"{where}, {key}[{i}]"
                read.append(one(_mapping(member, place, self.told), place))
            except _UnreadableError:
                self.whole = False
        return tuple(read)

    def material(self, of: Mapping[str, object], where: str) -> SeenMaterial:
        name = self.text(of, "material", where)
        return SeenMaterial(
            material=name,
            kind=self.text(of, "kind", name),
            kerf=self.length(of, "kerf", name),
            head_trim=self.length(of, "head_trim", name),
            cost=self.money(of, "cost", name),
            drop_credit=self.money(of, "drop_credit", name),
            joints=self.whole_number(of, "joints", name, 0),
            joint_cost=self.money(of, "joint_cost", name),
            objective=self.money(of, "objective", name),
            bound=self.money(of, "bound", name),
            gap=self.money(of, "gap", name),
            status=self.text(of, "status", name),
            stop=self.text(of, "stop", name),
            joint_with=self._joint_with(of, name),
            layouts=self.each(of, "layouts", name, self.layout),
            unplanned=self.each(of, "unplanned", name, self.unplanned),
            surplus=self.each(of, "surplus", name, self.surplus) if "surplus" in of else (),
            stack=self.whole_number(of, "stack", name, 1) if "stack" in of else 1,
            books=self.whole_number(of, "books", name, 0) if "books" in of else None,
        )

    def _joint_with(self, of: Mapping[str, object], where: str) -> tuple[str, ...]:
        if self.money(of, "seconds", where) < 0:
            raise self.wrong(where, "seconds", of.get("seconds"), "zero or more")
        value = of.get("joint_with", [])
        if not isinstance(value, list | tuple) or not all(isinstance(v, str) for v in value):
            raise self.wrong(where, "joint_with", value, "a list of material codes")
        return tuple(value)

    def layout(self, of: Mapping[str, object], where: str) -> SeenLayout:
        name = self.text(of, "id", where)
        where = f"{where.split(', layouts[', 1)[0]}, layout {name}"
        stock = _mapping(of.get("stock", _MISSING), f"{where}, stock", self.told)
        return SeenLayout(
            id=name,
            pattern=self.text(of, "pattern", where),
            count=self.whole_number(of, "count", where, 1),
            row=self.whole_number(stock, "row", f"{where}, stock", 1),
            length=self.length(stock, "length", f"{where}, stock"),
            width=self.maybe_length(stock, "width", f"{where}, stock"),
            source=self.text(stock, "source", f"{where}, stock"),
            lot=self.maybe_text(stock, "lot", f"{where}, stock"),
            parts=self.each(of, "parts", where, self.part),
            drops=self.each(of, "drops", where, self.drop),
            edges=self.maybe_text(stock, "edges", f"{where}, stock"),
        )

    def part(self, of: Mapping[str, object], where: str) -> SeenPart:
        return SeenPart(
            section=self.text(of, "section", where),
            mark=self.text(of, "mark", where),
            length=self.length(of, "length", where),
            width=self.maybe_length(of, "width", where),
            x=self.length(of, "x", where),
            y=self.length(of, "y", where),
            turned=self.flag(of, "turned", where),
            run=self.maybe_text(of, "run", where),
            run_at=self.maybe_length(of, "run_at", where),
            asked=self.maybe_text(of, "asked", where),
            edge=self.maybe_text(of, "edge", where) or "",
        )

    def drop(self, of: Mapping[str, object], where: str) -> SeenDrop:
        return SeenDrop(
            x=self.length(of, "x", where),
            y=self.length(of, "y", where),
            length=self.length(of, "length", where),
            width=self.maybe_length(of, "width", where),
            kept=self.flag(of, "kept", where),
        )

    def surplus(self, of: Mapping[str, object], where: str) -> tuple[int, int]:
        return self.whole_number(of, "row", where, 1), self.whole_number(of, "pieces", where, 1)

    def unplanned(self, of: Mapping[str, object], where: str) -> SeenUnplanned:
        return SeenUnplanned(
            section=self.text(of, "section", where),
            mark=self.text(of, "mark", where),
            length=self.length(of, "length", where),
            width=self.maybe_length(of, "width", where),
            qty=self.whole_number(of, "qty", where, 1) if "qty" in of else 1,
            reason=self.text(of, "reason", where),
        )
