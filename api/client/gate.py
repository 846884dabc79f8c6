"""What a new description of the service would break for those who use the old one.

A request that was taken must still be taken; an answer must still be one that was described. So
schemas of requests may only grow wider, and schemas of answers only narrower, save that answers may
gain fields. Whatever else changes asks for the version's rise: the first number, or the second
while the first is 0.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

__all__ = ["breaks", "may_break"]

Document = Mapping[str, Any]

#: What bounds a value from below and from above.
_LEAST = ("minimum", "exclusiveMinimum", "minLength", "minItems", "minProperties")
_MOST = ("maximum", "exclusiveMaximum", "maxLength", "maxItems", "maxProperties")
_DEEPEST = 24


def may_break(before: Document, after: Document) -> bool:
    """Whether the version rose so far that anything may have changed."""
    old, new = (_version(document) for document in (before, after))
    return new > old if new[0] or old[0] else new[:2] > old[:2]


def _version(document: Document) -> tuple[int, ...]:
    numbers = tuple(int(part) for part in str(document["info"]["version"]).split(".")[:2])
    return numbers[:1] if numbers[0] else numbers


def breaks(before: Document, after: Document) -> list[str]:
    """Everything that is gone or stricter, each in words."""
    return list(_Comparison(before, after).faults())


class _Comparison:
    """Two descriptions of one service."""

    def __init__(self, before: Document, after: Document) -> None:
        self.before = before
        self.after = after

    def faults(self) -> Iterator[str]:
        for path, item in self.before["paths"].items():
            for method, old in item.items():
                where = f"{method.upper()} {path}"
                new = self.after["paths"].get(path, {}).get(method)
                if new is None:
                    yield f"{where}: the operation is gone"
                    continue
                if old["operationId"] != new["operationId"]:
                    yield f"{where}: its name {old['operationId']} is {new['operationId']} now"
                yield from self._parameters(where, old, new)
                yield from self._body(where, old.get("requestBody"), new.get("requestBody"))
                yield from self._answers(where, old["responses"], new["responses"])

    def _parameters(self, where: str, old: Document, new: Document) -> Iterator[str]:
        olds, news = (
            {(p["in"], p["name"]): p for p in operation.get("parameters", [])}
            for operation in (old, new)
        )
        for key, parameter in olds.items():
            place = f"{where} {key[0]}.{key[1]}"
            if key not in news:
                yield f"{place}: the parameter is gone"
                continue
            yield from self._taken(place, parameter["schema"], news[key]["schema"])
        for key, parameter in news.items():
            required = parameter.get("required", False)
            if required and not olds.get(key, {}).get("required", False):
                yield f"{where} {key[0]}.{key[1]}: it must be given now"

    def _body(self, where: str, old: Document | None, new: Document | None) -> Iterator[str]:
        if old is None:
            if new is not None and new.get("required", False):
                yield f"{where} body: it must be given now"
            return
        if new is None:
            yield f"{where} body: it is gone"
            return
        if new.get("required", False) and not old.get("required", False):
            yield f"{where} body: it must be given now"
        for kind, content in old["content"].items():
            if kind not in new["content"]:
                yield f"{where} body: {kind} is not taken now"
                continue
            now = new["content"][kind]
            yield from self._taken(
                f"{where} body", content.get("schema", {}), now.get("schema", {})
            )

    def _answers(self, where: str, old: Document, new: Document) -> Iterator[str]:
        for status, answer in old.items():
            place = f"{where} {status}"
            if status not in new:
                yield f"{place}: the answer is gone"
                continue
            for header in answer.get("headers", {}):
                if header not in new[status].get("headers", {}):
                    yield f"{place}: the header {header} is gone"
            for kind, content in answer.get("content", {}).items():
                now = new[status].get("content", {}).get(kind)
                if now is None:
                    yield f"{place}: {kind} is not answered now"
                    continue
                yield from self._given(place, content.get("schema", {}), now.get("schema", {}))
        for status in new:
            if status.startswith("2") and status not in old:
                yield f"{where} {status}: an answer that was not described"

    def _taken(self, where: str, old: Any, new: Any) -> Iterator[str]:
        """What was sent must still be taken."""
        yield from _within(where, (old, self.before), (new, self.after), False, 0)

    def _given(self, where: str, old: Any, new: Any) -> Iterator[str]:
        """What is answered must be as it was described."""
        yield from _within(where, (new, self.after), (old, self.before), True, 0)


_Schema = tuple[Any, Document]


def _within(where: str, narrow: _Schema, wide: _Schema, given: bool, depth: int) -> Iterator[str]:
    """Why `narrow` allows what `wide` does not; `given` where they are of an answer."""
    narrow, wide = _resolved(narrow), _resolved(wide)
    one, other = narrow[0], wide[0]
    if depth > _DEEPEST or not isinstance(one, dict) or not isinstance(other, dict):
        return
    alternatives = _alternatives(one)
    if alternatives:
        for alternative in alternatives:
            yield from _within(where, (alternative, narrow[1]), wide, given, depth + 1)
        return
    offered = _alternatives(other)
    if offered:
        found = [
            list(_within(where, narrow, (alternative, wide[1]), given, depth + 1))
            for alternative in offered
        ]
        if all(found):
            yield from min(found, key=len)
        return
    yield from _values(where, one, other, given)
    if "properties" in one or "properties" in other:
        yield from _fields(where, narrow, wide, given, depth)
    keys = (one.get("additionalProperties"), other.get("additionalProperties"))
    if all(isinstance(key, dict) for key in keys):
        inner = (keys[0], narrow[1]), (keys[1], wide[1])
        yield from _within(f"{where}.*", *inner, given, depth + 1)
    if "items" in other:
        inner = (one.get("items", {}), narrow[1]), (other["items"], wide[1])
        yield from _within(f"{where}[]", *inner, given, depth + 1)


def _values(where: str, one: Document, other: Document, given: bool) -> Iterator[str]:
    """Types, values and bounds."""
    was, now = (other, one) if given else (one, other)
    types, known = _types(one), _types(other)
    if known and (not types or not types <= known):
        yield f"{where}: its type {_said(_types(was))} is {_said(_types(now))} now"
        return
    listed, allowed = _listed(one), _listed(other)
    if allowed is not None and (listed is None or any(v not in allowed for v in listed)):
        yield f"{where}: its values {_said(_listed(was))} are {_said(_listed(now))} now"
    for name in _LEAST:
        if name in other and one.get(name, float("-inf")) < other[name]:
            yield f"{where}: {name} {was.get(name)} is {now.get(name)} now"
    for name in _MOST:
        if name in other and one.get(name, float("inf")) > other[name]:
            yield f"{where}: {name} {was.get(name)} is {now.get(name)} now"
    for name in ("pattern", "format"):
        if name in other and one.get(name) != other[name]:
            yield f"{where}: {name} {was.get(name)} is {now.get(name)} now"


def _fields(where: str, narrow: _Schema, wide: _Schema, given: bool, depth: int) -> Iterator[str]:
    one, other = narrow[0], wide[0]
    fields, known = one.get("properties", {}), other.get("properties", {})
    for name in other.get("required", []):
        if name in fields and name not in one.get("required", []):
            yield f"{where}.{name}: it {'may be absent' if given else 'must be given'} now"
    if given:
        for name in known:
            if name not in fields:
                yield f"{where}.{name}: the field is gone"
    else:
        for name in other.get("required", []):
            if name not in fields:
                yield f"{where}.{name}: it must be given now"
        if other.get("additionalProperties") is False:
            for name in fields:
                if name not in known:
                    yield f"{where}.{name}: it is not taken now"
            if one.get("additionalProperties") is not False:
                yield f"{where}: other keys are not taken now"
    for name in fields.keys() & known.keys():
        inner = (fields[name], narrow[1]), (known[name], wide[1])
        yield from _within(f"{where}.{name}", *inner, given, depth + 1)


def _resolved(schema: _Schema) -> _Schema:
    value, document = schema
    while isinstance(value, dict) and "$ref" in value:
        value = document["components"]["schemas"][value["$ref"].rpartition("/")[2]]
    return value, document


def _alternatives(schema: Document) -> list[Any]:
    return list(schema.get("anyOf") or schema.get("oneOf") or [])


def _types(schema: Document) -> set[str]:
    found = schema.get("type", [])
    types = {found} if isinstance(found, str) else set(found)
    return types | {"integer"} if "number" in types else types


def _listed(schema: Document) -> list[Any] | None:
    if "const" in schema:
        return [schema["const"]]
    return schema.get("enum")


def _said(values: Any) -> str:
    return "any" if not values else "|".join(sorted(str(value) for value in values))
