"""Whether the service can do its work now, part by part."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

__all__ = ["Health", "Part", "UnwellError"]


class UnwellError(Exception):
    """A part can't do its work; the words say why, and hold no address and no secret."""


@dataclass(frozen=True, slots=True)
class Part:
    """One part of the service: its name, whether it is well, and in words how it is.

    What is not `needed` may be unwell while the service is ready: it does less then.
    """

    name: str
    ok: bool
    told: str
    needed: bool = True


class Health:
    """Looks at every part, whatever the others say."""

    def __init__(
        self,
        looks: Mapping[str, Callable[[], str]],
        beside: Mapping[str, Callable[[], str]] | None = None,
    ) -> None:
        """Each look says how its part is, or raises UnwellError; those `beside` are not needed."""
        self._looks = dict(looks)
        self._beside = dict(beside or {})

    def look(self) -> list[Part]:
        """Every part, in the order given."""
        return [
            _part(name, look, needed)
            for looks, needed in ((self._looks, True), (self._beside, False))
            for name, look in looks.items()
        ]


def _part(name: str, look: Callable[[], str], needed: bool) -> Part:
    try:
        return Part(name, True, look(), needed)
    except UnwellError as error:
        return Part(name, False, str(error), needed)
    except Exception as error:  # of other errors only the kind is told: words may hold an address
        told = f"it could not be looked at: {type(error).__name__}"
        return Part(name, False, told, needed)
