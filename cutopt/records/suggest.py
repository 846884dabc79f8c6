"""The nearest known word to an unknown one, for 'did you mean'."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

__all__ = ["known_or_nearest", "nearest"]


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word most like `word`, ignoring case; None where nothing is near."""
    by_fold = {k.casefold(): k for k in known}
    hits = difflib.get_close_matches(word.casefold(), sorted(by_fold), n=1, cutoff=0.5)
    return by_fold[hits[0]] if hits else None


def known_or_nearest(word: str, known: Iterable[str]) -> str:
    """What to say would be right: the nearest known word, else all of them (at most 12)."""
    names = sorted(set(known))
    hit = nearest(word, names)
    if hit is not None:
        return f"did you mean '{hit}'?"
    shown = ", ".join(names[:12])
    return f"one of {shown}" + (" ..." if len(names) > 12 else "")
