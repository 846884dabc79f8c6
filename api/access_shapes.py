"""The documents of access: sessions, people, stations, plants, the audit trail."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from api.access.rights import Right, Role
from api.access.secrets import LONGEST_PASSWORD, SHORTEST_PASSWORD
from api.shapes import Moment

__all__ = [
    "Act",
    "ActPage",
    "ChosenPassword",
    "Link",
    "Me",
    "NewPerson",
    "NewStation",
    "Pairing",
    "PairingCode",
    "Person",
    "PersonChange",
    "PersonPage",
    "Plant",
    "PlantChange",
    "PlantPage",
    "SetUp",
    "SignIn",
    "Station",
    "StationKey",
    "StationPage",
]

Unit = Literal["in", "mm"]
PersonRole = Literal["planner", "purchasing", "accountant", "admin"]
StationRole = Literal["station", "planner", "purchasing", "accountant"]
_PASSWORD = Field(
    max_length=LONGEST_PASSWORD,
    description=f"At least {SHORTEST_PASSWORD} characters, such as four words.",
)
_LINK = Field(max_length=100, description="What stands behind the last slash of the link.")
_NAME = Field(min_length=1, max_length=80)
_PLANT_OF = Field(
    default=None,
    max_length=64,
    description="The id of the plant; absent, the caller's own. Only people of the group name it.",
)


class _Shape(BaseModel):
    """What is sent in may hold nothing unknown; the password is shown in no message."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, hide_input_in_errors=True)


class SignIn(_Shape):
    """Who signs in."""

    name: Annotated[str, _NAME]
    password: Annotated[str, Field(min_length=1, max_length=LONGEST_PASSWORD)]


class SetUp(_Shape):
    """The first person, an admin, and the first plant."""

    link: Annotated[str, _LINK]
    name: Annotated[str, _NAME]
    password: Annotated[str, _PASSWORD]
    plant: str = Field(min_length=1, max_length=80, examples=["Hask Lake Section Works"])
    zone: str = Field(default="UTC", max_length=64, examples=["America/Chicago"])
    unit: Unit = "in"


class ChosenPassword(_Shape):
    """A password that a person chose for themselves."""

    link: Annotated[str, _LINK]
    password: Annotated[str, _PASSWORD]


class Pairing(_Shape):
    """A pairing code, as it was shown or read from the QR code."""

    code: str = Field(min_length=1, max_length=40, examples=["7K2M9-QX4TD"])


class Plant(_Shape):
    """A plant."""

    id: str
    name: str
    zone: str = Field(description="Its IANA time zone: in it a day begins and ends.")
    unit: Unit = Field(description="What its people read measures in.")
    created: Moment


class PlantPage(_Shape):
    """Plants, the newest first."""

    items: list[Plant]
    next: str | None = Field(description="The next page, where there is one.")


class PlantChange(_Shape):
    """A plant's name, zone and unit."""

    name: Annotated[str, _NAME]
    zone: str = Field(max_length=64, examples=["America/Chicago"])
    unit: Unit


class Me(_Shape):
    """Who is signed in, and what they may do."""

    kind: Literal["person", "station"]
    name: str
    role: Role
    rights: list[Right]
    plant: str | None = Field(description="The id of the plant; null for people of the group.")
    plant_name: str
    zone: str
    csrf: str = Field(
        description="What a session sends as X-CSRF-Token with whatever changes something; blank "
        "for those who came with a key."
    )


class Person(_Shape):
    """A person."""

    id: str
    name: str
    role: PersonRole
    plant: str | None = Field(description="The id of the plant; null for the group.")
    active: bool
    password_set: bool = Field(description="Whether a password was chosen.")
    created: Moment


class PersonPage(_Shape):
    """People, the newest first."""

    items: list[Person]
    next: str | None


class NewPerson(_Shape):
    """Somebody to be let in."""

    name: Annotated[str, _NAME]
    role: PersonRole
    plant: Annotated[str | None, _PLANT_OF] = None
    group: bool = Field(default=False, description="Of the group, who see every plant.")


class PersonChange(_Shape):
    """What is to be otherwise; what is absent stays."""

    role: PersonRole | None = None
    active: bool | None = None


class Link(_Shape):
    """A link that is good once. It is told this once, and kept as a digest only."""

    person: Person
    path: str = Field(description="Behind the address of the service.")
    seconds: int = Field(description="How long it is good.")


class Station(_Shape):
    """A saw's screen, or a program."""

    id: str
    name: str
    role: StationRole
    plant: str = Field(description="The id of the plant.")
    active: bool
    paired: bool = Field(description="Whether it has a key.")
    created: Moment


class StationPage(_Shape):
    """Stations, the newest first."""

    items: list[Station]
    next: str | None


class NewStation(_Shape):
    """A station to be let in; a program may have another role, but never an admin's."""

    name: Annotated[str, _NAME]
    role: StationRole = "station"
    plant: Annotated[str | None, _PLANT_OF] = None


class PairingCode(_Shape):
    """A code that is good once, for a few minutes, and takes the place of the one before."""

    station: Station
    code: str
    path: str = Field(description="Where a screen enters it, behind the address of the service.")
    qr: str = Field(description="The same address as a QR code: an SVG drawing.")
    seconds: int = Field(description="How long it is good.")


class StationKey(_Shape):
    """A station's key. It is told this once, and kept as a digest only."""

    station: str = Field(description="The station's name.")
    role: StationRole
    key: str = Field(description="To be sent as `Authorization: Bearer KEY`.")


class Act(_Shape):
    """Who did what, and what came of it."""

    number: int
    moment: Moment
    who: Literal["person", "station", "nobody"]
    name: str
    act: str = Field(examples=["day.post"])
    target: str = Field(description="The id of what it was done to.")
    request: str = Field(description="The request's id, as in the log.")
    outcome: str = Field(examples=["done"])


class ActPage(_Shape):
    """Acts, the newest first."""

    items: list[Act]
    next: str | None
