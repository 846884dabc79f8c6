"""Whether the service can do its work now, part by part."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

__all__ = ["Health", "Part", "UnwellError"]


class UnwellError(Exception):
    """A part can't do its work; the words say why, and hold no address and no secret."""


@dataclass(frozen=True, slots=True)
class Part:
    """One part of the service: its name, whether it is well, and in words how it is."""

    name: str
    ok: bool
    told: str


class Health:
    """Looks at every part, whatever the others say."""

    def __init__(self, looks: Mapping[str, Callable[[], str]]) -> None:
        """Each look says how its part is, or raises UnwellError."""
        self._looks = dict(looks)

    def look(self) -> list[Part]:
        """Every part, in the order given."""
        return [_part(name, look) for name, look in self._looks.items()]


def _part(name: str, look: Callable[[], str]) -> Part:
    try:
        return Part(name, True, look())
    except UnwellError as error:
        return Part(name, False, str(error))
    except Exception as error:  # of other errors only the kind is told: words may hold an address
        return Part(name, False, f"it could not be looked at: {type(error).__name__}")
