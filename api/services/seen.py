"""What is changed or removed must be as it was seen."""

from __future__ import annotations

from pydantic import BaseModel

from api.services.errors import ChangedMeanwhile
from api.tags import is_among, view_tag

__all__ = ["hold"]


def hold(what: str, view: BaseModel, seen: str | None) -> None:
    """Go on where the document's tag is among `seen`, or nothing is said of it.

    Within the transaction that changes it. Raises ChangedMeanwhile.
    """
    if seen is not None and not is_among(view_tag(view), seen):
        raise ChangedMeanwhile(f"{what} is not as If-Match says")
