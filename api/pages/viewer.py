"""Who looks at a page: name and rights, the plant's name, zone and unit, the language."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import Depends, Request

from api.access.caller import Caller, CallerOf, csrf_for
from api.pages.words import LANGUAGES, best_language
from api.zone import zone_of
from cutopt.measure import Unit

__all__ = ["LANGUAGE_COOKIE", "Viewer", "ViewerOf", "language_of", "viewer_of"]

LANGUAGE_COOKIE = "cutopt_language"


@dataclass(frozen=True, slots=True)
class Viewer:
    """What a page needs to know of who looks at it; `name` is None where nobody is signed in.

    `unit` is the plant's, None where measures stand in the unit of the day.
    """

    name: str | None
    role: str | None
    rights: frozenset[str]
    plant: str
    zone: ZoneInfo
    unit: Unit | None
    language: str
    csrf: str

    def may(self, *rights: str) -> bool:
        """Whether they have every one of the rights."""
        return self.rights.issuperset(rights)


def language_of(request: Request) -> str:
    """The language chosen on this browser, else the one that it asks for."""
    chosen = request.cookies.get(LANGUAGE_COOKIE, "")
    if chosen in LANGUAGES:
        return chosen
    return best_language(request.headers.get("accept-language", ""))


def viewer_of(request: Request) -> Viewer:
    """Whoever asks, as far as they are known by now."""
    caller = getattr(request.state, "caller", None)
    if not isinstance(caller, Caller):
        return Viewer(
            name=None,
            role=None,
            rights=frozenset(),
            plant="",
            zone=zone_of("UTC"),
            unit=None,
            language=language_of(request),
            csrf="",
        )
    return Viewer(
        name=caller.name,
        role=caller.role.value,
        rights=frozenset(right.value for right in caller.rights),
        plant=caller.plant_name,
        zone=zone_of(caller.zone),
        unit="mm" if caller.unit == "mm" else "in" if caller.unit == "in" else None,
        language=language_of(request),
        csrf=csrf_for(request),
    )


def _signed_in(request: Request, caller: CallerOf) -> Viewer:
    return viewer_of(request)


#: Whoever is signed in. Raises as `CallerOf` does.
ViewerOf = Annotated[Viewer, Depends(_signed_in)]
