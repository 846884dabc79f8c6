"""Whoever asks: a person or a station, of one plant or of the group."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from api.access.rights import RIGHTS, Right, Role

__all__ = ["Caller"]


@dataclass(frozen=True, slots=True)
class Caller:
    """Somebody who is known.

    Parameters
    ----------
    kind
        A person, or a station (which programs are too).
    number, name, role
        Of the person or station.
    plant, plant_id
        Number and id of the plant; None for people of the group, who see every plant.
    session
        The digest of the session that the request came with; blank where it came with a key.
    plant_name, zone, unit
        Of the plant: its name, its time zone, and the unit that its people read.
    """

    kind: Literal["person", "station"]
    number: int
    name: str
    role: Role
    plant: int | None
    plant_id: str | None
    session: str = ""
    plant_name: str = ""
    zone: str = "UTC"
    unit: str | None = None

    @property
    def rights(self) -> frozenset[Right]:
        """What the role may do."""
        return RIGHTS[self.role]

    def may(self, *rights: Right) -> bool:
        """Whether the role has all of these rights."""
        return self.rights.issuperset(rights)
