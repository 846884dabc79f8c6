"""day.toml's rules read: tables of keys become `Rules`, every fault told with its place."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from cutopt.materials.offer import Kind
from cutopt.materials.rules import CeilingRules, FirstCut, LumberRules, Rules, SheetRules
from cutopt.measure import (
    INCH,
    LengthError,
    Unit,
    length_from_number,
    parse_count,
    parse_length,
    show_length,
)
from cutopt.records import Faults, Place, known_or_nearest

__all__ = ["RULE_TABLES", "Config", "read_rules"]

#: A kerf above this is told: no saw of the trade takes so much.
_WIDE_KERF = INCH
_MOST_DOLLARS = Decimal(1_000_000)
#: Fewer set-ups may cost so much at most, as a share of the least cost: more is a slip.
_MOST_TOLERANCE = Decimal("0.1")


class _WrongError(Exception):
    """A value that can't be what its key asks for."""

    def __init__(self, wrong: str, right: str) -> None:
        super().__init__(wrong)
        self.right = right


@dataclass(frozen=True, slots=True)
class Config:
    """day.toml as read: nested mappings, and the line of each dotted key where it is known."""

    name: str
    values: Mapping[str, Any]
    rows: Mapping[str, int]

    def place(self, *keys: str) -> Place:
        """The place of a dotted key; the line of the nearest key above it that has one."""
        for n in range(len(keys), 0, -1):
            row = self.rows.get(".".join(keys[:n]))
            if row:
                return Place(self.name, row, ".".join(keys))
        return Place(self.name, 0, ".".join(keys))


def _length(value: Any, unit: Unit) -> int:
    if isinstance(value, bool) or not isinstance(value, str | int | float | Decimal):
        raise _WrongError("not a length", 'such as "1/8" or 3.2')
    try:
        return (
            parse_length(value, unit)
            if isinstance(value, str)
            else (length_from_number(value, unit))
        )
    except LengthError as error:
        raise _WrongError(error.wrong, error.right) from error


def _lengths(value: Any, unit: Unit) -> tuple[int, int]:
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise _WrongError(
            "not two lengths", 'the least length and width of a sheet drop: ["24", "24"]'
        )
    return _length(value[0], unit), _length(value[1], unit)


def _number(value: Any) -> Decimal:
    if isinstance(value, bool) or not isinstance(value, str | int | float | Decimal):
        raise _WrongError("not a number", "a number")
    if isinstance(value, int) and abs(value) > 10**18:
        raise _WrongError("too large", "a smaller number")
    try:
        number = Decimal(repr(value) if isinstance(value, float) else str(value).strip())
    except ArithmeticError as error:
        raise _WrongError("not a number", "digits with a point") from error
    exponent = number.as_tuple().exponent
    if not isinstance(exponent, int) or not -12 <= exponent <= 12 or number.adjusted() > 18:
        raise _WrongError("not a number that can be held", "at most 12 digits behind the point")
    return number


def _share(value: Any, unit: Unit) -> Decimal:
    number = _number(value)
    if not 0 <= number <= 1:
        raise _WrongError("not a share", "from 0 (no credit) to 1 (its full price)")
    return number


def _tolerance(value: Any, unit: Unit) -> Decimal:
    number = _number(value)
    if not 0 <= number <= _MOST_TOLERANCE:
        raise _WrongError(
            "not a tolerance", f"a share from 0 (no dearer) to {_MOST_TOLERANCE} of the least cost"
        )
    return number


def _dollars(value: Any, unit: Unit) -> Decimal:
    number = _number(value)
    if not 0 <= number <= _MOST_DOLLARS:
        raise _WrongError("not a price", "dollars, zero or more")
    return number


def _count(value: Any, unit: Unit) -> int:
    if isinstance(value, bool) or not isinstance(value, str | int | Decimal | float):
        raise _WrongError("not a whole number", "0 for no limit, or 1, 2, 3 ...")
    try:
        return parse_count(str(value).strip()[:40])
    except ValueError as error:
        raise _WrongError(str(error), "0 for no limit, or 1, 2, 3 ...") from error


def _stack(value: Any, unit: Unit) -> int:
    right = "1 for no stacking, or 2, 3 ... pieces of stock cut at once"
    if isinstance(value, bool) or not isinstance(value, str | int | Decimal | float):
        raise _WrongError("not a whole number", right)
    try:
        return parse_count(str(value).strip()[:40], least=1)
    except ValueError as error:
        raise _WrongError(str(error), right) from error


def _stages(value: Any, unit: Unit) -> int:
    if isinstance(value, bool) or str(value).strip() not in ("2", "3"):
        raise _WrongError("not a number of guillotine stages", "2 or 3")
    return int(value)


def _first_cut(value: Any, unit: Unit) -> FirstCut:
    words = {w.value: w for w in FirstCut}
    word = words.get(value.strip().casefold()) if isinstance(value, str) else None
    if word is None:
        raise _WrongError("not a first cut", known_or_nearest(str(value)[:40], words))
    return word


_Reader = Callable[[Any, Unit], Any]
_LUMBER: dict[str, _Reader] = {
    "kerf": _length,
    "head_trim": _length,
    "keep_drop": _length,
    "drop_value": _share,
    "joint_price": _dollars,
    "joint_min_piece": _length,
    "max_parts": _count,
    "stack": _stack,
    "setup_tolerance": _tolerance,
    "least_left": _length,
}
_SHEETS: dict[str, _Reader] = {
    "kerf": _length,
    "edge_trim": _length,
    "stages": _stages,
    "first_cut": _first_cut,
    "keep_drop": _lengths,
    "drop_value": _share,
    "least_rip": _length,
    "max_parts": _count,
    "stack": _stack,
    "setup_tolerance": _tolerance,
}
_CEILING: dict[str, _Reader] = {"order_lengths": _count}
#: What a jointed run of a sheet material still takes from the lumber rules.
_JOINTS = ("joint_price", "joint_min_piece")

#: The tables of day.toml that hold rules, each with its keys.
RULE_TABLES: Mapping[str, tuple[str, ...]] = {
    "lumber": tuple(_LUMBER),
    "sheets": tuple(_SHEETS),
    "ceiling": tuple(_CEILING),
}
_ANY_KEY = tuple(dict.fromkeys([*_LUMBER, *_SHEETS, *_CEILING]))


def read_rules(
    config: Config,
    unit: Unit,
    kinds: Mapping[str, Kind | None],
    complete: bool,
    faults: Faults,
) -> Rules:
    """Read `[lumber]`, `[sheets]`, `[ceiling]` and `[materials."X"]`.

    Parameters
    ----------
    config
        day.toml; lengths are words or numbers, bare numbers in `unit`.
    kinds
        The kind of every material of stock.csv: what a key such as `kerf` means for one material
        depends on it.
    complete
        Whether `kinds` holds every material; else an unknown code is no fault.
    faults
        Takes every fault; a key with a fault keeps its default.
    """
    lumber = _read(config, ("lumber",), _LUMBER, unit, faults)
    sheets = _read(config, ("sheets",), _SHEETS, unit, faults)
    ceiling = _read(config, ("ceiling",), _CEILING, unit, faults)
    rules = Rules(LumberRules(**lumber), SheetRules(**sheets), CeilingRules(**ceiling))
    of_material = _table(config, ("materials",), faults)
    lumber_of: dict[str, LumberRules] = {}
    sheets_of: dict[str, SheetRules] = {}
    ceiling_of: dict[str, CeilingRules] = {}
    for material in of_material:
        keys = ("materials", material)
        kind = kinds.get(material)
        if material not in kinds and complete and not faults.full:
            faults.add(
                config.place(*keys),
                "no such material in stock.csv",
                material,
                known_or_nearest(material, kinds) if kinds else "a code of stock.csv",
            )
        if kind is None:
            _read(config, keys, dict.fromkeys(_ANY_KEY, _anything), unit, faults)
            continue
        own = {**_CEILING, **{k: _LUMBER[k] for k in _JOINTS}, **_SHEETS}
        if kind is Kind.LUMBER:
            own = _LUMBER
        idle = [k for k in _ANY_KEY if k not in own]
        values = _read(config, keys, {**dict.fromkeys(idle, _anything), **own}, unit, faults)
        for key in idle:
            if key in values:
                faults.warn(
                    config.place(*keys, key), f"has no effect: {material} is {kind.value}", key
                )
        if kind is Kind.LUMBER:
            lumber_of[material] = dataclasses.replace(rules.lumber, **_only(values, _LUMBER))
            continue
        sheets_of[material] = dataclasses.replace(rules.sheets, **_only(values, _SHEETS))
        ceiling_of[material] = dataclasses.replace(rules.ceiling, **_only(values, _CEILING))
        joints = {k: values[k] for k in _JOINTS if k in values}
        if joints:
            lumber_of[material] = dataclasses.replace(rules.lumber, **joints)
    return dataclasses.replace(
        rules, lumber_of=lumber_of, sheets_of=sheets_of, ceiling_of=ceiling_of
    )


def _only(values: Mapping[str, Any], keys: Mapping[str, _Reader]) -> dict[str, Any]:
    return {k: v for k, v in values.items() if k in keys}


def _anything(value: Any, unit: Unit) -> Any:
    return value


def _table(config: Config, keys: tuple[str, ...], faults: Faults) -> Mapping[str, Any]:
    values: Any = config.values
    for key in keys:
        values = values.get(key, {})
    if isinstance(values, Mapping):
        return values
    header = "[" + keys[0] + "".join(f'."{k}"' for k in keys[1:]) + "]"
    faults.add(config.place(*keys), "not a table of keys", values, f"a table {header}")
    return {}


def _read(
    config: Config,
    keys: tuple[str, ...],
    readers: Mapping[str, _Reader],
    unit: Unit,
    faults: Faults,
) -> dict[str, Any]:
    found = {}
    for key, value in _table(config, keys, faults).items():
        if faults.full:
            break
        place = config.place(*keys, key)
        reader = readers.get(key)
        if reader is None:
            faults.add(place, "no such key", key, _right_key(key, keys[0], readers))
            continue
        try:
            found[key] = reader(value, unit)
        except _WrongError as error:
            faults.add(place, str(error), _shown(value), error.right)
            continue
        if key == "kerf" and isinstance(found[key], int) and found[key] > _WIDE_KERF:
            faults.warn(place, f"a kerf of {show_length(found[key], unit)}", _shown(value))
    return found


def _right_key(key: str, table: str, readers: Mapping[str, _Reader]) -> str:
    homes = [f"[{name}]" for name, known in RULE_TABLES.items() if key in known and name != table]
    if homes:
        return f"{key} belongs under {' or '.join(homes)}"
    return known_or_nearest(key, readers)


def _shown(value: Any) -> str:
    return repr(value) if isinstance(value, list | tuple) else str(value)
