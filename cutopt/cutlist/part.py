"""A row of a cut list: a part, a full-span ceiling field or a jointed run; and a day of them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from cutopt.materials import Edge, Offer, Rules
from cutopt.measure import Unit
from cutopt.records import Place

__all__ = ["Day", "Joints", "Part", "Rule"]


class Rule(StrEnum):
    """What a row asks for."""

    PART = ""
    FULL_SPAN = "full-span"
    JOINTED = "jointed"


@dataclass(frozen=True, slots=True)
class Joints:
    """Where a jointed run may be joined: at `first` + k × `step` from its start.

    `clear` is the least distance to every joint of the run marked `mate` in the same section,
    copy by copy; 0 and None where there is no mate.
    """

    first: int
    step: int
    clear: int = 0
    mate: str | None = None


@dataclass(frozen=True, slots=True)
class Part:
    """One row of a cut list, lengths in counts of 1/1600 mm.

    For `Rule.FULL_SPAN` `length` is the span and `width` the run along the section; for
    `Rule.JOINTED` `length` is the whole run. `joints` is set for `Rule.JOINTED` alone. `alt` holds
    other material codes that the released drawing allows. `edge` says which factory long edges of
    its sheet a part keeps; it then lies with its length along the sheet's.
    """

    place: Place
    section: str
    jig: str
    mark: str
    material: str
    length: int
    width: int | None
    qty: int
    turn: bool = False
    rule: Rule = Rule.PART
    alt: tuple[str, ...] = ()
    need: int | None = None
    joints: Joints | None = None
    note: str = ""
    edge: Edge = Edge.NONE

    @property
    def materials(self) -> tuple[str, ...]:
        """The material asked for, then the allowed alternates."""
        return (self.material, *self.alt)


@dataclass(frozen=True, slots=True)
class Day:
    """A day folder, read: its rules, what can be had, what is needed. `name` is the folder's."""

    name: str
    plant: str
    date: date
    unit: Unit
    rules: Rules
    offers: tuple[Offer, ...]
    parts: tuple[Part, ...]
