"""Signing in and out: people by name and password, stations and programs by key.

Whoever tries too often, by name or from one address, is shut out for a while; that is counted in
the database, so that it holds over all processes. What is counted is committed before the answer
goes out, also where the answer is a refusal. A wrong name takes as long as a wrong password, and is
answered and shut out alike.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from math import ceil
from typing import Literal, TypeVar

from sqlalchemy.orm import Session

from api.access.rights import Role
from api.access.secrets import (
    LONGEST_PASSWORD,
    SHORTEST_PASSWORD,
    csrf_of,
    digest,
    hash_password,
    new_token,
    read_code,
    verify_password,
)
from api.access.who import Caller
from api.services.audit import record
from api.services.errors import NotAllowed, NotSignedIn, RequestInvalid, TooMany
from api.shapes import Fault
from api.store import Database
from api.store.access import AccessStore, TryStore, folded
from api.store.access_models import LinkRow, PersonRow, SessionRow, StationRow
from api.store.models import PlantRow
from api.zone import zone_of
from cutopt.records import CutoptError

__all__ = [
    "LINK_SECONDS",
    "PAIRING_SECONDS",
    "AccessService",
    "NewPlant",
    "SignedIn",
    "checked_name",
    "checked_plant",
    "new_person",
    "new_plant",
    "new_station",
]

HOUR = 3600.0
#: A link to set up or to choose a password, a code to pair a station.
LINK_SECONDS = 24 * HOUR
PAIRING_SECONDS = 600.0
#: A person's session: without a request, and in all. A station's screen stays signed in.
_PERSON = (2 * HOUR, 12 * HOUR)
_STATION = (30 * 24 * HOUR, 365 * 24 * HOUR)
_SEEN_EVERY = 60.0
#: NIST SP 800-63B-4 allows at most 100 failures in a row on one account; five in a quarter of an
#: hour, then a quarter of an hour's rest, stay far below it without shutting a shift out for long.
_WINDOW = 900.0
_MOST_OF_NAME = 5
_MOST_OF_ADDRESS = 30
#: What one caller may change in a minute: a saw that confirms each piece needs far less.
_WRITE_WINDOW = 60.0
_MOST_WRITES = 1200
#: The people of the demo's invented plant.
_OF_DEMO = {
    Role.PLANNER: "Marit Dahl",
    Role.PURCHASING: "Owen Pryce",
    Role.ACCOUNTANT: "Lucia Ferro",
    Role.ADMIN: "Ines Kolb",
}

Kind = Literal["set-up", "password", "pairing"]
_Made = TypeVar("_Made")


@dataclass(frozen=True, slots=True)
class NewPlant:
    """A plant to be made: name, IANA time zone, unit."""

    name: str
    zone: str = "UTC"
    unit: str = "in"


@dataclass(frozen=True, slots=True)
class SignedIn:
    """A session that has begun: its token, for the cookie alone, and for how many seconds."""

    caller: Caller
    token: str
    seconds: int

    @property
    def csrf(self) -> str:
        """What must come with whatever changes something."""
        return csrf_of(self.token)


class AccessService:
    """Who is who."""

    def __init__(self, database: Database, demo: bool = False) -> None:
        self._database = database
        self.demo = demo

    # Who asks

    def caller_of_session(self, token: str) -> Caller | None:
        """Whoever a session's token belongs to; None where it has ended or never began."""
        if not token:
            return None
        name = digest(token)
        with self._database.read() as session:
            now = self._database.clock(session)
            row = AccessStore(session).session(name)
            if row is None or now >= row.ends or now >= row.seen + row.idle:
                return None
            who = row.person or row.station
            caller = None if who is None or not who.active else replace(_caller(who), session=name)
            stale = now >= row.seen + _SEEN_EVERY
        if caller is not None and stale:
            with self._database.write() as session:
                AccessStore(session).see(name, self._database.clock(session))
        return caller

    def caller_of_key(self, key: str) -> Caller | None:
        """Whoever a key belongs to."""
        with self._database.read() as session:
            row = AccessStore(session).station_with(digest(key))
            return None if row is None or not row.active else _caller(row)

    def still_in(self, caller: Caller) -> bool:
        """Whether a caller of a while ago would still be let in, in the same role."""
        with self._database.read() as session:
            store = AccessStore(session)
            if not caller.session:
                row = session.get(StationRow, caller.number)
                return row is not None and row.active and row.key is not None
            found = store.session(caller.session)
            now = self._database.clock(session)
            return found is not None and now < found.ends

    def count_write(self, caller: Caller) -> None:
        """One more change by a caller. Raises TooMany."""
        of = f"write:{caller.kind}:{caller.number}"
        with self._database.write() as session:
            tries = TryStore(session)
            now = self._database.clock(session)
            tries.count(of, now, _WRITE_WINDOW, _MOST_WRITES, _WRITE_WINDOW)
            shut = tries.shut(of, now)
        if shut:
            raise TooMany(f"more than {_MOST_WRITES} changes in a minute", ceil(shut))

    # Signing in and out

    def sign_in(self, name: str, password: str, address: str) -> SignedIn:
        """Begin a session. Raises NotSignedIn, or TooMany where it was tried too often."""
        self._try("sign-in", address, name)
        with self._database.read() as session:
            row = AccessStore(session).person_named(name)
            kept = None if row is None or not row.active else row.password
        if not verify_password(password[:LONGEST_PASSWORD], kept) or row is None:
            self._missed("sign-in", name, None if row is None else row.plant_number)
            raise NotSignedIn("the name or the password is wrong")
        with self._database.write() as session:
            self._came_right(session, address, name)
            found = AccessStore(session).person(row.id)
            if found is None or found.password != kept or not found.active:
                raise NotSignedIn("the name or the password is wrong")
            return self._begin(session, found, "sign-in")

    def sign_in_as(self, role: Role) -> SignedIn:
        """Begin a session of the demo's person of a role. Raises NotAllowed beyond the demo."""
        if not self.demo or role is Role.STATION:
            raise NotAllowed("without a password only the demo is entered")
        with self._database.write() as session:
            row = AccessStore(session).person_named(_OF_DEMO[role])
            if row is None:
                raise NotAllowed("the demo has nobody of this role")
            return self._begin(session, row, "sign-in")

    def people_of_demo(self) -> None:
        """Make the demo's people, one of each role, where they are missing."""
        with self._database.write() as session:
            store = AccessStore(session)
            plants = store.plants()
            for role, name in _OF_DEMO.items():
                if store.person_named(name) is None:
                    plant = plants[0].number if len(plants) == 1 else None
                    store.add(new_person(name, role, plant, None))

    def sign_out(self, caller: Caller) -> None:
        """End the session that a caller came with."""
        with self._database.write() as session:
            AccessStore(session).end(caller.session)
            record(session, caller, "sign-out", "", caller.plant)

    def _begin(self, session: Session, row: PersonRow | StationRow, act: str) -> SignedIn:
        now = self._database.clock(session)
        idle, whole = _PERSON if isinstance(row, PersonRow) else _STATION
        token = new_token()
        store = AccessStore(session)
        store.forget_ended(now)
        of_person = row.number if isinstance(row, PersonRow) else None
        store.add(
            SessionRow(
                token=digest(token),
                person_number=of_person,
                station_number=None if of_person is not None else row.number,
                seen=now,
                idle=idle,
                ends=now + whole,
            )
        )
        caller = replace(_caller(row), session=digest(token))
        record(session, caller, act, row.id, row.plant_number)
        return SignedIn(caller, token, int(whole))

    # Tries

    def _try(self, act: str, address: str, name: str | None = None) -> None:
        """Count a try, before it is known how it ends: many at once are no way around.

        Raises TooMany where the address, or the name that signs in, was tried too often.
        """
        counted = [(_of_address(address), _MOST_OF_ADDRESS)]
        if name is not None:
            counted.append((_of_name(name), _MOST_OF_NAME))
        with self._database.write() as session:
            tries = TryStore(session)
            now = self._database.clock(session)
            tries.forget_old(now - 2 * _WINDOW)
            shut = max(tries.shut(of, now) for of, _ in counted)
            if not shut:
                for of, most in counted:
                    tries.count(of, now, _WINDOW, most, _WINDOW)
                    shut = max(shut, tries.shut(of, now))
                if shut:
                    record(session, None, act, "", None, "shut out", _shown(name or ""))
        if shut:
            raise TooMany("it was tried too often", ceil(shut))

    def _came_right(self, session: Session, address: str, name: str | None = None) -> None:
        tries = TryStore(session)
        tries.uncount(_of_address(address))
        if name is not None:
            tries.forget(_of_name(name))

    def _missed(self, act: str, name: str, plant: int | None) -> None:
        """Tell the trail what failed."""
        with self._database.write() as session:
            record(session, None, act, "", plant, "refused", _shown(name))

    # The first start, and links

    def set_up_link(self) -> str | None:
        """The token of a new link to set up; None where there is somebody already."""
        with self._database.write() as session:
            store = AccessStore(session)
            if store.any_person():
                return None
            token = new_token()
            ends = self._database.clock(session) + LINK_SECONDS
            store.add(LinkRow(digest=digest(token), kind="set-up", ends=ends))
            return token

    def set_up(
        self, link: str, name: str, password: str, plant: NewPlant, address: str
    ) -> SignedIn:
        """Make the first person: an admin of the first plant. The link is good once.

        Raises NotSignedIn where it is not good, RequestInvalid with every fault, TooMany.
        """
        faults = [*_name_faults(name), *_password_faults(password, name), *_plant_faults(plant)]

        def make(session: Session, found: LinkRow) -> SignedIn:
            store = AccessStore(session)
            if store.any_person():
                raise NotSignedIn("the service was set up already")
            known = store.plants()
            if known:
                home = known[0]
                home.name, home.zone, home.unit = plant.name, plant.zone, plant.unit
            else:
                home = new_plant(plant)
                store.add(home)
            row = new_person(name, Role.ADMIN, None, hash_password(password))
            store.add(row)
            return self._begin(session, row, "set-up")

        return self._with_link("set-up", link, address, faults, make)

    def choose_password(self, link: str, password: str, address: str) -> SignedIn:
        """Choose the password of the person that a link is for, and sign in. As `set_up`."""

        def choose(session: Session, found: LinkRow) -> SignedIn:
            row = session.get(PersonRow, found.person_number, with_for_update={"of": PersonRow})
            if row is None or not row.active:
                raise NotSignedIn("the link is not good, or no longer")
            refused = _password_faults(password, row.name)
            if refused:
                raise RequestInvalid(refused)
            row.password = hash_password(password)
            AccessStore(session).end_of(person=row.number)
            TryStore(session).forget(_of_name(row.name))
            return self._begin(session, row, "password")

        return self._with_link("password", link, address, _password_faults(password, ""), choose)

    def pair(self, code: str, address: str) -> tuple[Caller, str]:
        """Exchange a pairing code for a station's key, which is told this once."""

        def exchange(session: Session, found: LinkRow) -> tuple[Caller, str]:
            row = self._paired(session, found)
            key = new_token()
            row.key = digest(key)
            record(session, _caller(row), "pair", row.id, row.plant_number)
            return _caller(row), key

        return self._with_link("pairing", read_code(code), address, [], exchange)

    def pair_screen(self, code: str, address: str) -> SignedIn:
        """Exchange a pairing code for a session of the browser that stands at a station."""

        def exchange(session: Session, found: LinkRow) -> SignedIn:
            return self._begin(session, self._paired(session, found), "pair")

        return self._with_link("pairing", read_code(code), address, [], exchange)

    def _paired(self, session: Session, found: LinkRow) -> StationRow:
        row = session.get(StationRow, found.station_number)
        if row is None or not row.active:
            raise NotSignedIn("the code is not good, or no longer")
        row.key = None
        AccessStore(session).end_of(station=row.number)
        return row

    def _with_link(
        self,
        kind: Kind,
        secret: str,
        address: str,
        faults: list[Fault],
        act: Callable[[Session, LinkRow], _Made],
    ) -> _Made:
        """Act once with a link. What has faults does not use it up."""
        self._try(kind, address)
        name = digest(secret)
        with self._database.read() as session:
            good = AccessStore(session).link(name, kind, self._database.clock(session)) is not None
        if not good:
            self._missed(kind, "", None)
            word = "code" if kind == "pairing" else "link"
            raise NotSignedIn(f"the {word} is not good, or no longer")
        if faults:
            with self._database.write() as session:
                self._came_right(session, address)
            raise RequestInvalid(faults)
        with self._database.write() as session:
            self._came_right(session, address)
            store = AccessStore(session)
            found = store.link(name, kind, self._database.clock(session))
            if found is None or not store.use(found):
                raise NotSignedIn("the link was used already")
            return act(session, found)


def new_plant(plant: NewPlant) -> PlantRow:
    """A plant as a row that is not kept yet."""
    return PlantRow(
        id=uuid.uuid4().hex,
        name=plant.name,
        zone=plant.zone,
        unit=plant.unit,
        created=datetime.now(UTC),
    )


def new_person(name: str, role: Role, plant: int | None, password: str | None) -> PersonRow:
    """A person as a row that is not kept yet."""
    return PersonRow(
        id=uuid.uuid4().hex,
        plant_number=plant,
        name=name,
        folded=folded(name),
        role=role.value,
        password=password,
        active=True,
        created=datetime.now(UTC),
    )


def new_station(name: str, role: Role, plant: int, key: str | None) -> StationRow:
    """A station as a row that is not kept yet; `key` is its key's digest."""
    return StationRow(
        id=uuid.uuid4().hex,
        plant_number=plant,
        name=name,
        role=role.value,
        key=key,
        active=True,
        created=datetime.now(UTC),
    )


def checked_name(name: str) -> None:
    """Raises RequestInvalid where it is no name."""
    faults = _name_faults(name)
    if faults:
        raise RequestInvalid(faults)


def checked_plant(plant: NewPlant) -> None:
    """Raises RequestInvalid where its name, zone or unit is none."""
    faults = _plant_faults(plant)
    if faults:
        raise RequestInvalid(faults)


def _caller(row: PersonRow | StationRow) -> Caller:
    plant = row.plant
    return Caller(
        kind="person" if isinstance(row, PersonRow) else "station",
        number=row.number,
        name=row.name,
        role=Role(row.role),
        plant=row.plant_number,
        plant_id=None if plant is None else plant.id,
        plant_name="" if plant is None else plant.name,
        zone="UTC" if plant is None else plant.zone,
        unit=None if plant is None else plant.unit,
    )


def _of_name(name: str) -> str:
    return f"name:{digest(folded(name))}"


def _of_address(address: str) -> str:
    return f"address:{digest(address)}"


def _shown(name: str) -> str:
    return name if name.isprintable() else ""


def _name_faults(name: str) -> list[Fault]:
    if name.isprintable() and name == name.strip() and 0 < len(name) <= 80:
        return []
    right = "1 to 80 letters and signs, no space before or behind"
    return [Fault(place="body.name", wrong="not a name", right=right)]


def _password_faults(password: str, name: str) -> list[Fault]:
    right = f"{SHORTEST_PASSWORD} to {LONGEST_PASSWORD} characters, such as four words"
    place = "body.password"
    if not SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD:
        return [Fault(place=place, wrong="too short or too long", right=right)]
    folded_password = password.casefold()
    if len(set(folded_password)) < 5 or (name and folded_password.count(name.casefold())):
        wrong = "too easy to guess: few different characters, or the name in it"
        return [Fault(place=place, wrong=wrong, right=right)]
    return []


def _plant_faults(plant: NewPlant) -> list[Fault]:
    faults = []
    if not (plant.name.isprintable() and 0 < len(plant.name.strip()) <= 80):
        faults.append(Fault(place="body.plant", wrong="not a name", right="1 to 80 characters"))
    try:
        zone_of(plant.zone)
    except CutoptError as error:
        faults.append(
            Fault(
                place="body.zone", wrong="no such time zone", right=str(error).split("right: ")[-1]
            )
        )
    if plant.unit not in ("in", "mm"):
        faults.append(Fault(place="body.unit", wrong="not a unit", right="in or mm"))
    return faults
