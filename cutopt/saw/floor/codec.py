"""Everything of the saw floor as plain values for JSON, and back, exactly.

A dataclass is a mapping by field; tuples are lists; money and shares are text; moments are text in
ISO 8601; enums are their words. Nothing passes through a float.
"""

from __future__ import annotations

import dataclasses
import types
import typing
from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from enum import Enum
from fractions import Fraction
from functools import cache
from typing import Any, TypeVar

from cutopt.records import CutoptError

__all__ = ["CodecError", "as_dict", "from_dict"]

T = TypeVar("T")


class CodecError(CutoptError, ValueError):
    """A value that is not what its field holds; says where, what was read, what would be right."""


def as_dict(value: Any) -> Any:
    """A dataclass of the saw floor (or any value that one holds) as dicts, lists and text."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: as_dict(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, Decimal | Fraction):
        return str(value)
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, Mapping):
        return {str(k): as_dict(v) for k, v in value.items()}
    if isinstance(value, tuple | list):
        return [as_dict(v) for v in value]
    if value is None or isinstance(value, str | bool | int):
        return value
    raise TypeError(f"no plain value for {type(value).__name__}")


def from_dict(kind: type[T], value: object) -> T:
    """What `as_dict` made, as a `kind` again.

    Raises
    ------
    CodecError
        Where a field is missing, unknown or holds something else; the first that is found.
    """
    return typing.cast(T, _read(kind, value, kind.__name__))


def _wrong(where: str, value: object, right: str) -> CodecError:
    text = repr(value)
    return CodecError(f"{where}: read {text[:60]}, would be right: {right}")


@cache
def _hints(kind: type) -> dict[str, Any]:
    return typing.get_type_hints(kind)


def _read(kind: Any, value: object, where: str) -> Any:
    origin = typing.get_origin(kind)
    if origin is typing.Union or origin is types.UnionType:
        if value is None:
            return None
        (inner,) = (k for k in typing.get_args(kind) if k is not type(None))
        return _read(inner, value, where)
    if origin is typing.Literal:
        if value not in typing.get_args(kind):
            raise _wrong(where, value, " or ".join(map(repr, typing.get_args(kind))))
        return value
    if origin is tuple:
        return _tuple(typing.get_args(kind), value, where)
    if origin is not None and issubclass(origin, Mapping):
        if not isinstance(value, Mapping):
            raise _wrong(where, value, "an object")
        inner = typing.get_args(kind)[1]
        return {str(k): _read(inner, v, f"{where}.{k}") for k, v in value.items()}
    if dataclasses.is_dataclass(kind):
        return _dataclass(typing.cast(type, kind), value, where)
    return _plain(kind, value, where)


def _tuple(args: tuple[Any, ...], value: object, where: str) -> tuple[Any, ...]:
    if isinstance(value, str) or not isinstance(value, list | tuple):
        raise _wrong(where, value, "a list")
    if len(args) == 2 and args[1] is Ellipsis:
        return tuple(_read(args[0], v, f"{where}[{i}]") for i, v in enumerate(value))
    if len(value) != len(args):
        raise _wrong(where, value, f"a list of {len(args)}")
    pairs = zip(args, value, strict=True)
    return tuple(_read(k, v, f"{where}[{i}]") for i, (k, v) in enumerate(pairs))


def _dataclass(kind: type, value: object, where: str) -> Any:
    if not isinstance(value, Mapping):
        raise _wrong(where, value, "an object")
    fields = {f.name: f for f in dataclasses.fields(kind)}
    unknown = sorted(str(k) for k in value if k not in fields)
    if unknown:
        raise _wrong(where, ", ".join(unknown), f"no field but {', '.join(fields)}")
    hints = _hints(kind)
    found = {}
    for name, field in fields.items():
        if name in value:
            found[name] = _read(hints[name], value[name], f"{where}.{name}")
        elif field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING:
            raise _wrong(f"{where}.{name}", None, "a value")
    return kind(**found)


def _plain(kind: Any, value: object, where: str) -> Any:
    if kind is bool or kind is str:
        if not isinstance(value, kind):
            raise _wrong(where, value, "true or false" if kind is bool else "text")
        return value
    if kind is int:
        if isinstance(value, bool) or not isinstance(value, int):
            raise _wrong(where, value, "a whole number")
        return value
    if not isinstance(value, str):
        raise _wrong(where, value, "text")
    try:
        if issubclass(kind, Enum):
            return kind(value)
        if kind is datetime or kind is date:
            return kind.fromisoformat(value)
        if kind is Decimal or kind is Fraction:
            return kind(value)
    except (ValueError, InvalidOperation, ZeroDivisionError) as error:
        words = ", ".join(repr(m.value) for m in kind) if issubclass(kind, Enum) else kind.__name__
        raise _wrong(where, value, words) from error
    raise TypeError(f"{where}: no way to read a {kind}")
