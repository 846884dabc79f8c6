"""saws.toml read: `[all]` for every saw, `[saws."NAME"]` for one; every fault at once.

Touches no disk: `read_saws` takes the file's text.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import replace
from decimal import Decimal, InvalidOperation
from typing import Any

from cutopt.materials import Kind
from cutopt.measure import LengthError, Unit, length_from_number, parse_length
from cutopt.records import Faults, Place, known_or_nearest
from cutopt.saw.saws.saw import Saw, Seconds, Weights, usual_saws

__all__ = ["SAWS_FILE", "SAW_KEYS", "read_saws"]

SAWS_FILE = "saws.toml"
_LARGEST = 64 * 1024
_MOST_SAWS = 64
_MOST_COUNT = 10_000
_MOST_SECONDS = Decimal(86_400)
_MOST_WEIGHT = Decimal(1_000_000)


class _WrongError(Exception):
    """A value that can't be what its key asks for."""

    def __init__(self, wrong: str, right: str) -> None:
        super().__init__(wrong)
        self.right = right


def _number(value: Any) -> Decimal:
    if isinstance(value, bool) or not isinstance(value, int | Decimal | str):
        raise _WrongError("not a number", "a number, such as 12 or 4.5")
    try:
        number = Decimal(value)
    except InvalidOperation as error:
        raise _WrongError("not a number", "a number, such as 12 or 4.5") from error
    if not number.is_finite():
        raise _WrongError("not a number", "a number, such as 12 or 4.5")
    return number


def _thousandths(value: Any, most: Decimal, right: str) -> int:
    number = _number(value)
    if not 0 <= number <= most:
        raise _WrongError("out of range", right)
    if number * 1_000 != int(number * 1_000):
        raise _WrongError("too fine", "at most three digits behind the point")
    return int(number * 1_000)


def _seconds(value: Any, unit: Unit) -> int:
    return _thousandths(value, _MOST_SECONDS, f"seconds, 0 to {_MOST_SECONDS}")


def _weight(value: Any, unit: Unit) -> int:
    return _thousandths(value, _MOST_WEIGHT, f"a weight, 0 to {_MOST_WEIGHT}")


def _count(value: Any, unit: Unit) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= _MOST_COUNT:
        raise _WrongError("not a whole number", f"0 for no limit, or 1 to {_MOST_COUNT}")
    return value


def _length(value: Any, unit: Unit) -> int:
    if isinstance(value, bool) or not isinstance(value, str | int | Decimal):
        raise _WrongError("not a length", 'such as "12" or "300mm"')
    try:
        return (
            parse_length(value, unit) if isinstance(value, str) else length_from_number(value, unit)
        )
    except LengthError as error:
        raise _WrongError(error.wrong, error.right) from error


def _kind(value: Any, unit: Unit) -> Kind:
    kinds = {k.value: k for k in Kind}
    found = kinds.get(value.strip().casefold()) if isinstance(value, str) else None
    if found is None:
        raise _WrongError("not a kind of stock", known_or_nearest(str(value)[:40], kinds))
    return found


def _materials(value: Any, unit: Unit) -> tuple[str, ...]:
    right = 'codes of stock.csv: ["2x4-SPF-2", "2x6-SPF-2"]'
    if not isinstance(value, list) or not all(isinstance(v, str) and v.strip() for v in value):
        raise _WrongError("not a list of materials", right)
    codes = tuple(v.strip() for v in value)
    if len(set(codes)) < len(codes):
        raise _WrongError("a material named twice", right)
    return codes


_Reader = Callable[[Any, Unit], Any]
_SECONDS: dict[str, str] = {
    "cut_seconds": "cut",
    "stick_seconds": "stick",
    "setup_material": "material",
    "setup_stock": "stock",
    "setup_stop": "stop",
}
_WEIGHTS: dict[str, str] = {
    "weight_setups": "setups",
    "weight_picking": "picking",
    "weight_jigs": "jigs",
    "weight_carts": "carts",
}
_ALL: dict[str, _Reader] = {
    "carts": _count,
    "window": _count,
    "safe_hand": _length,
    **dict.fromkeys(_SECONDS, _seconds),
    **dict.fromkeys(_WEIGHTS, _weight),
}
_SAW: dict[str, _Reader] = {"kind": _kind, "materials": _materials, **_ALL}

#: Keys of one saw; those of `[all]` are the same but for `kind` and `materials`.
SAW_KEYS: tuple[str, ...] = tuple(_SAW)


def read_saws(
    text: str, unit: Unit, kinds: Mapping[str, Kind] | None = None, name: str = SAWS_FILE
) -> tuple[Saw, ...]:
    """Read the plant's saws.

    Parameters
    ----------
    text
        Of saws.toml.
    unit
        What a bare length is in: the day's.
    kinds
        The kind of every material of stock.csv, where it is known: then a material that is not in
        it, and one of another kind than its saw's, is told.
    name
        How faults name the file.

    Returns
    -------
    tuple of Saw
        In the order of the file; the usual two where it names none, with what `[all]` sets.

    Raises
    ------
    InputRefused
        With every fault, each with its line, what was read and what would be right.
    """
    faults = Faults()
    values = _toml(text, name, faults)
    faults.raise_if_any()
    rows = _rows(text)

    def place(*keys: str) -> Place:
        row = next((rows[k] for n in range(len(keys), 0, -1) if (k := keys[:n]) in rows), 0)
        return Place(name, row, ".".join(keys))

    for key in values:
        if key not in ("all", "saws"):
            faults.add(place(key), "no such table", key, known_or_nearest(key, ("all", "saws")))
    base = _read(values.get("all", {}), ("all",), _ALL, unit, place, faults)
    tables = values.get("saws", {})
    if not isinstance(tables, dict):
        faults.add(place("saws"), "not a table of saws", tables, '[saws."Lumber saw"]')
        tables = {}
    if len(tables) > _MOST_SAWS:
        faults.add(place("saws"), f"{len(tables)} saws", right=f"at most {_MOST_SAWS}")
        tables = {}
    saws = [_saw(replace(saw), base) for saw in usual_saws()] if not tables else []
    for saw_name, table in tables.items():
        own = _read(table, ("saws", saw_name), _SAW, unit, place, faults)
        saws.append(_saw(Saw(saw_name), {**base, **own}))
    for saw in saws:
        where = place("saws", saw.name) if tables else place("all")
        _steps(saw, where, faults)
    _shared(saws, kinds, place, faults)
    faults.raise_if_any()
    return tuple(saws)


def _toml(text: str, name: str, faults: Faults) -> dict[str, Any]:
    if len(text) > _LARGEST:
        faults.add(Place(name), f"{len(text)} characters", right=f"at most {_LARGEST}")
        return {}
    try:
        return tomllib.loads(text, parse_float=Decimal)
    except (ValueError, ArithmeticError, RecursionError) as error:
        wrong = "nested too deeply" if isinstance(error, RecursionError) else str(error)
        found = re.search(r"\(at line (\d+), column \d+\)", wrong)
        lines = text.splitlines()
        row = int(found[1]) if found else len(lines)
        read = lines[row - 1].strip() if 0 < row <= len(lines) else ""
        wrong = re.sub(r"\s*\(at [^)]*\)", "", wrong)
        faults.add(Place(name, row), f"not TOML: {wrong}", read, "such as carts = 8")
        return {}


def _read(
    table: Any,
    keys: tuple[str, ...],
    readers: Mapping[str, _Reader],
    unit: Unit,
    place: Callable[..., Place],
    faults: Faults,
) -> dict[str, Any]:
    if not isinstance(table, dict):
        faults.add(place(*keys), "not a table of keys", table, "a table, such as [all]")
        return {}
    found = {}
    for key, value in table.items():
        where = place(*keys, key)
        reader = readers.get(key)
        if reader is None:
            belongs = f'{key} belongs under one saw: [saws."Lumber saw"]' if key in _SAW else ""
            faults.add(where, "no such key", key, belongs or known_or_nearest(key, readers))
            continue
        try:
            found[key] = reader(value, unit)
        except _WrongError as error:
            faults.add(where, str(error), value, error.right)
    return found


def _saw(saw: Saw, values: Mapping[str, Any]) -> Saw:
    seconds = {_SECONDS[k]: v for k, v in values.items() if k in _SECONDS}
    weights = {_WEIGHTS[k]: v for k, v in values.items() if k in _WEIGHTS}
    own = {k: v for k, v in values.items() if k not in _SECONDS and k not in _WEIGHTS}
    return replace(
        saw,
        seconds=replace(Seconds(), **seconds),
        weights=replace(Weights(), **weights),
        **own,
    )


def _steps(saw: Saw, where: Place, faults: Faults) -> None:
    """A set-up for a material is one for stock and stops too: it can't take less."""
    s = saw.seconds
    if not s.material >= s.stock >= s.stop:
        read = ", ".join(f"{n / 1000:g}" for n in (s.material, s.stock, s.stop))
        right = "setup_material at least setup_stock, and that at least setup_stop"
        faults.add(where, "set-ups that take less than what they include", read, right)


def _shared(
    saws: list[Saw],
    kinds: Mapping[str, Kind] | None,
    place: Callable[..., Place],
    faults: Faults,
) -> None:
    """Every material has one saw at most, every kind one saw for what is left."""
    named: dict[str, str] = {}
    rest: dict[Kind, str] = {}
    for saw in saws:
        where = place("saws", saw.name, "materials")
        if not saw.materials and saw.kind in rest:
            right = f"materials for {saw.name} or for {rest[saw.kind]}"
            faults.add(where, f"a second saw for all other {saw.kind.value}", saw.name, right)
        if not saw.materials:
            rest.setdefault(saw.kind, saw.name)
        for m in saw.materials:
            if m in named:
                faults.add(where, f"already cut at {named[m]}", m, "each material at one saw")
            named.setdefault(m, saw.name)
            if kinds is None:
                continue
            if m not in kinds:
                faults.add(where, "no such material in stock.csv", m, known_or_nearest(m, kinds))
            elif kinds[m] is not saw.kind:
                faults.add(where, f"a {kinds[m].value} at a {saw.kind.value} saw", m)


_KEY = r"""(?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+)"""
_HEAD = re.compile(rf"\s*\[\s*({_KEY}(?:\s*\.\s*{_KEY})*)\s*\]")
_LINE = re.compile(rf"\s*({_KEY}(?:\s*\.\s*{_KEY})*)\s*=")


def _rows(text: str) -> dict[tuple[str, ...], int]:
    """The line of every key; for faults only."""
    rows: dict[tuple[str, ...], int] = {}
    table: tuple[str, ...] = ()
    for number, line in enumerate(text.splitlines(), start=1):
        head = _HEAD.match(line)
        if head:
            table = _dotted(head[1])
            rows.setdefault(table, number)
        elif key := _LINE.match(line):
            rows.setdefault((*table, *_dotted(key[1])), number)
    return rows


def _dotted(keys: str) -> tuple[str, ...]:
    return tuple(k.strip("\"'") for k in re.findall(_KEY, keys))
