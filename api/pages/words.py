"""The words of the pages: one file a language, every text under its key.

A text that counts something is a table with `one` and `other`; its `count` says which is meant.
A further language is one more file beside `en.toml` with the same keys and the same placeholders.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any

__all__ = ["LANGUAGES", "Words", "best_language", "texts_of"]

#: What can be chosen, the first where nothing else is asked for.
LANGUAGES = ("en", "es")


@cache
def texts_of(language: str) -> Mapping[str, str]:
    """Every text of a language, by its key with dots between its words."""
    text = files("api.pages").joinpath("texts", f"{language}.toml").read_text(encoding="utf-8")
    found: dict[str, str] = {}
    _flatten("", tomllib.loads(text), found)
    return found


def _flatten(head: str, texts: Mapping[str, Any], found: dict[str, str]) -> None:
    for name, value in texts.items():
        if isinstance(value, dict):
            _flatten(f"{head}{name}.", value, found)
        else:
            found[head + name] = value


class Words:
    """The texts of one language; called with a key and what stands in its place-holders."""

    def __init__(self, language: str) -> None:
        self.language = language
        self._texts = texts_of(language)

    def __call__(self, key: str, **words: object) -> str:
        """One text. Raises KeyError where the language has none of that key."""
        count = words.get("count")
        if isinstance(count, int):
            words["count"] = f"{count:,}"
            if key not in self._texts:
                key += ".one" if count == 1 else ".other"
        return self._texts[key].format_map(words)

    def has(self, key: str) -> bool:
        """Whether there is such a text."""
        return key in self._texts


def best_language(accept: str) -> str:
    """The language that an Accept-Language header likes best (RFC 9110, 12.5.4)."""
    best, weight = LANGUAGES[0], 0.0
    for entry in accept.split(","):
        name, *parameters = (word.strip() for word in entry.casefold().split(";"))
        language = name.split("-")[0]
        liking = 1.0
        for parameter in parameters:
            if parameter.startswith("q="):
                try:
                    liking = float(parameter[2:])
                except ValueError:
                    liking = 0.0
        if language in LANGUAGES and liking > weight:
            best, weight = language, liking
    return best
