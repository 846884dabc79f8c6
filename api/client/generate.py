"""Makes the typed client from the service's description: shapes, problems, a method per call."""

from __future__ import annotations

import keyword
import re
import subprocess
import sys
import textwrap
from collections.abc import Iterator, Mapping
from typing import Any

from api.client.transport import _PROBLEM as PROBLEM

__all__ = ["make"]

_HEAD = '''\
"""Calls of the service, made from its description by `python -m api.client`; not to be edited."""

# ruff: noqa: N818

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any, ClassVar, Literal, NotRequired, TypedDict

from api.client.transport import Event, Files, ProblemError, Reply, Transport

'''
_JSON = "application/json"
_MULTIPART = "multipart/form-data"
_STREAM = "text/event-stream"
_PLAIN = {"string": "str", "integer": "int", "number": "float", "boolean": "bool", "null": "None"}
_ENDS = {"text/csv": "csv", "text/html": "html", "image/svg+xml": "svg"}
#: What headers are called among a method's words; the service's own are left out.
_WORDS = {"Idempotency-Key": "key"}
_WIDTH = 100


def make(document: Mapping[str, Any]) -> str:
    """The text of the module, formatted."""
    schemas = document["components"]["schemas"]
    parts = [_HEAD, *(_shape(name, schemas[name]) for name in sorted(schemas)), _problems(document)]
    parts.append(_client(document))
    names = [name for name in sorted(schemas) if name.isidentifier()]
    names += [_class_of(name) for name in _problem_names(document)]
    listed = "".join(f"    {name!r},\n" for name in sorted({"Client", *names}))
    parts.append(f"\n\n__all__ = [\n{listed}]\n")
    return _formatted("".join(parts))


def _formatted(text: str) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "ruff", "format", "--stdin-filename", "api/client/calls.py", "-"],
        input=text,
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout


# Shapes


def _shape(name: str, schema: Mapping[str, Any]) -> str:
    if "enum" in schema or schema.get("type") != "object" or "properties" not in schema:
        return f"\n{name} = {_quoted(_type(schema))}\n"
    fields = schema["properties"]
    needed = set(schema.get("required", []))
    types = {
        field: _type(inner) if field in needed else f"NotRequired[{_type(inner)}]"
        for field, inner in fields.items()
    }
    words = _first_words(schema.get("description", ""), f"A {name}.")
    if all(field.isidentifier() and not keyword.iskeyword(field) for field in types):
        lines = "".join(f"    {field}: {kind}\n" for field, kind in types.items())
        return f'\n\nclass {name}(TypedDict):\n    """{words}"""\n\n{lines}'
    pairs = "".join(f"    {field!r}: {_quoted(kind)},\n" for field, kind in types.items())
    return f"\n\n#: {words}\n{name} = TypedDict({name!r}, {{\n{pairs}}})\n"


def _quoted(kind: str) -> str:
    """A type where it is met at run time: a shape may come later in the file."""
    return kind if kind.startswith("Literal[") or kind == "Any" else repr(kind)


def _type(schema: Any) -> str:
    if not isinstance(schema, Mapping):
        return "Any"
    if "$ref" in schema:
        return str(schema["$ref"]).rpartition("/")[2]
    if "const" in schema:
        return f"Literal[{schema['const']!r}]"
    if "enum" in schema:
        return f"Literal[{', '.join(repr(value) for value in schema['enum'])}]"
    several = schema.get("anyOf") or schema.get("oneOf")
    if several:
        return " | ".join(dict.fromkeys(_type(inner) for inner in several))
    kind = schema.get("type")
    if isinstance(kind, list):
        return " | ".join(_PLAIN.get(name, "Any") for name in kind)
    if kind == "array":
        return f"list[{_type(schema.get('items'))}]"
    if kind == "object":
        inner = schema.get("additionalProperties")
        return f"dict[str, {_type(inner) if isinstance(inner, Mapping) else 'Any'}]"
    return _PLAIN.get(str(kind), "Any")


# Problems


def _problem_names(document: Mapping[str, Any]) -> dict[str, str]:
    """Every problem that an operation may answer with, and its title."""
    found: dict[str, str] = {}
    for _, _, operation in _operations(document):
        for answer in operation["responses"].values():
            problems = answer.get("content", {}).get(PROBLEM, {}).get("examples", {})
            for name, example in problems.items():
                found[name] = str(example["value"]["title"])
    return dict(sorted(found.items()))


def _class_of(name: str) -> str:
    return "".join(word.capitalize() for word in name.split("-")) + "Problem"


def _problems(document: Mapping[str, Any]) -> str:
    return "".join(
        f'\n\nclass {_class_of(name)}(ProblemError):\n    """{title}."""\n'
        for name, title in _problem_names(document).items()
    )


# Calls


def _operations(document: Mapping[str, Any]) -> Iterator[tuple[str, str, Mapping[str, Any]]]:
    for path, item in document["paths"].items():
        for method, operation in item.items():
            yield path, method.upper(), operation


def _client(document: Mapping[str, Any]) -> str:
    table = "".join(f"        {name!r}: {_class_of(name)},\n" for name in _problem_names(document))
    methods = "".join(
        _method(path, method, operation, sent, answered)
        for path, method, operation in _operations(document)
        for sent in _sent(operation)
        for answered in _answered(operation)
    )
    return (
        '\n\nclass Client(Transport):\n    """All calls of the service."""\n\n'
        f"    problems: ClassVar[Mapping[str, type[ProblemError]]] = {{\n{table}    }}\n{methods}"
    )


def _sent(operation: Mapping[str, Any]) -> list[str | None]:
    """The forms of its body, each a method of its own."""
    return list(operation.get("requestBody", {}).get("content", {})) or [None]


def _answered(operation: Mapping[str, Any]) -> list[str | None]:
    """The forms of its good answer, each a method of its own; JSON first."""
    forms = list(_good(operation).get("content", {}))
    return sorted(forms, key=lambda kind: kind != _JSON) or [None]


def _good(operation: Mapping[str, Any]) -> Mapping[str, Any]:
    found: Mapping[str, Any] = next(
        answer for status, answer in operation["responses"].items() if status.startswith("2")
    )
    return found


def _method(
    path: str, method: str, operation: Mapping[str, Any], sent: str | None, answered: str | None
) -> str:
    name = re.sub(r"(?<=[a-z])(?=[A-Z])", "_", operation["operationId"]).lower()
    forms = [kind for kind in _answered(operation) if kind]
    if sent == _MULTIPART:
        name += "_files"
    if answered is not None and len(forms) > 1 and answered != forms[0]:
        name += f"_{_ENDS.get(answered, answered.rpartition('/')[2])}"
    first, words, given = _parameters(operation)
    content = operation.get("requestBody", {}).get("content", {}).get(sent, {})
    if sent == _MULTIPART:
        first.append("files: Files")
    elif sent is not None:
        first.append(f"body: {_type(content['schema'])}")
    value, read = _read(operation, answered)
    signature = ", ".join(["self", *first, *(["*", *words] if words else [])])
    told = textwrap.fill(
        f"{operation['summary']}: {_lowered(_good(operation)['description'])}", _WIDTH - 16
    ).replace("\n", "\n        ")
    places = ", ".join(f"{place!r}: {_word(place)}" for place in given["path"])
    headers = [f"{header!r}: {_word(header)}" for header in given["header"]]
    if answered == _STREAM:
        return (
            f'\n    def {name}({signature}) -> Iterator[Event]:\n        """{told}"""\n'
            f"        return self.stream({path!r}, {{{places}}}, {{{', '.join(headers)}}})\n"
        )
    if answered is not None and len(forms) > 1:
        headers.append(f"'Accept': {answered!r}")
    call = [repr(method), repr(path), f"{{{places}}}"]
    if given["query"]:
        query = ", ".join(f"{key!r}: {_word(key)}" for key in given["query"])
        call.append(f"query={{{query}}}")
    if headers:
        call.append(f"headers={{{', '.join(headers)}}}")
    if sent == _MULTIPART:
        call.append("files=files")
    elif sent is not None:
        call.append("body=body")
    call.append(f"read={read}")
    return (
        f'\n    def {name}({signature}) -> Reply[{value}]:\n        """{told}"""\n'
        f"        return self.call({', '.join(call)})\n"
    )


def _read(operation: Mapping[str, Any], answered: str | None) -> tuple[str, str]:
    """The type of what is answered, and how it is read."""
    if answered is None:
        return "None", "lambda _: None"
    if answered == _JSON:
        return _type(_good(operation)["content"][answered].get("schema")), "json.loads"
    return "bytes", "bytes"


def _parameters(
    operation: Mapping[str, Any],
) -> tuple[list[str], list[str], dict[str, list[str]]]:
    """What a method takes first, what by word, and what of it goes where."""
    first, needed, more = [], [], []
    given: dict[str, list[str]] = {"path": [], "query": [], "header": []}
    for parameter in operation.get("parameters", []):
        name, place = parameter["name"], parameter["in"]
        if place not in given:
            continue
        given[place].append(name)
        kind = _type(parameter["schema"]) if place == "query" else "str"
        if place == "path":
            first.append(f"{_word(name)}: {kind}")
        elif parameter.get("required", False):
            needed.append(f"{_word(name)}: {kind}")
        else:
            kind = " | ".join(dict.fromkeys([*kind.split(" | "), "None"]))
            more.append(f"{_word(name)}: {kind} = None")
    return first, [*needed, *more], given


def _word(name: str) -> str:
    word = _WORDS.get(name) or re.sub(r"\W+", "_", name).lower()
    return f"{word}_" if keyword.iskeyword(word) else word


def _lowered(text: str) -> str:
    return text if text[1:2].isupper() else text[:1].lower() + text[1:]


def _first_words(text: str, otherwise: str) -> str:
    """The first line of a description, as a docstring's."""
    line = (text.split("\n")[0] or otherwise).replace('"""', "'''").replace("\\", "")
    return line if len(line) < _WIDTH - 12 else textwrap.shorten(line, _WIDTH - 12)
