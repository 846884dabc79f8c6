"""People, stations and plants, managed by an admin: of one plant, or of the group.

An admin of a plant sees and makes people and stations of that plant alone. Nobody learns another's
password: who is let in gets a link that is good once, and chooses one.
"""

from __future__ import annotations

from typing import cast

from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from api.access.rights import Role
from api.access.secrets import digest, new_code, new_token
from api.access.who import Caller
from api.access_shapes import (
    Act,
    ActPage,
    Link,
    NewPerson,
    NewStation,
    PairingCode,
    Person,
    PersonChange,
    PersonPage,
    PersonRole,
    Plant,
    PlantChange,
    PlantPage,
    Station,
    StationPage,
    StationRole,
)
from api.services.audit import record
from api.services.errors import NotAllowed, NotFound, NotPossible, RequestInvalid
from api.services.keys import keep
from api.services.paging import cursor, next_page
from api.services.qr import qr_drawing
from api.services.seen import hold
from api.services.signing import (
    LINK_SECONDS,
    PAIRING_SECONDS,
    NewPlant,
    checked_name,
    checked_plant,
    new_person,
    new_plant,
    new_station,
)
from api.shapes import Fault
from api.store import Database
from api.store.access import AccessStore
from api.store.access_models import ActRow, LinkRow, PersonRow, StationRow
from api.store.models import PlantRow

__all__ = ["PeopleService"]


class PeopleService:
    """What an admin does, as the caller sees it."""

    def __init__(self, database: Database, caller: Caller | None = None) -> None:
        self._database = database
        self._caller = caller
        self._plant = None if caller is None else caller.plant

    def _store(self, session: Session) -> AccessStore:
        return AccessStore(session, self._plant)

    # People

    def people(self, after: int | None, limit: int) -> PersonPage:
        """The newest people, from behind a cursor."""
        with self._database.read() as session:
            rows = self._store(session).people(after, limit + 1)
            items = [_person(row) for row in rows[:limit]]
        return PersonPage(items=items, next=next_page("/people", limit, cursor(rows, limit)))

    def person(self, id: str) -> Person:
        """One of them. Raises NotFound."""
        with self._database.read() as session:
            return _person(self._found_person(session, id))

    def add_person(self, wanted: NewPerson) -> Link:
        """Let somebody in: the link by which they choose their password.

        Raises
        ------
        RequestInvalid
            Where the name is taken, or there is no such plant.
        NotAllowed
            Where an admin of a plant names the group.
        """
        checked_name(wanted.name)
        taken = Fault(place="body.name", wrong="somebody has this name", read=wanted.name)
        try:
            with self._database.write() as session:
                if wanted.group and self._plant is not None:
                    raise NotAllowed("only an admin of the group lets people into the group")
                plant = None if wanted.group else self._home(session, wanted.plant)
                if AccessStore(session).person_named(wanted.name) is not None:
                    raise RequestInvalid([taken])
                row = new_person(wanted.name, Role(wanted.role), plant, None)
                self._store(session).add(row)
                record(session, self._caller, "person.add", row.id, plant)
                return self._link(session, row)
        except IntegrityError as error:  # somebody else was quicker
            raise RequestInvalid([taken]) from error

    def change_person(self, id: str, change: PersonChange, seen: str | None = None) -> Person:
        """Give another role, or let in or out, where the person's tag is among `seen`.

        What a person was signed in to ends. Raises NotFound,
        ChangedMeanwhile, or NotPossible where nobody would be left to manage.
        """
        with self._database.write() as session:
            store = self._store(session)
            row = self._found_person(session, id)
            hold(f"person '{id}'", _person(row), seen)
            role = row.role if change.role is None else change.role
            active = row.active if change.active is None else change.active
            admins = set(store.admins(row.plant_number))
            if row.number in admins and (role != Role.ADMIN or not active):
                above = set() if row.plant_number is None else set(store.admins(None))
                if not (admins | above) - {row.number}:
                    raise NotPossible(f"'{row.name}' is the only admin")
            if (role, active) != (row.role, row.active):
                row.role, row.active = role, active
                store.end_of(person=row.number)
                if not active:
                    store.drop_links(person=row.number)
                record(session, self._caller, "person.change", row.id, row.plant_number)
            view = _person(row)
            keep(session, view)
            return view

    def link_person(self, id: str) -> Link:
        """A new link by which somebody chooses a new password. Raises NotFound."""
        with self._database.write() as session:
            row = self._found_person(session, id)
            if not row.active:
                raise NotPossible(f"'{row.name}' is not let in")
            record(session, self._caller, "person.link", row.id, row.plant_number)
            return self._link(session, row)

    def _link(self, session: Session, row: PersonRow) -> Link:
        store, token = self._store(session), new_token()
        store.drop_links(person=row.number)
        ends = self._database.clock(session) + LINK_SECONDS
        store.add(
            LinkRow(digest=digest(token), kind="password", person_number=row.number, ends=ends)
        )
        return Link(person=_person(row), path=f"/password/{token}", seconds=int(LINK_SECONDS))

    def _found_person(self, session: Session, id: str) -> PersonRow:
        row = self._store(session).person(id)
        if row is None:
            raise NotFound(f"there is no person '{id[:64]}'")
        return row

    # Stations

    def stations(self, after: int | None, limit: int) -> StationPage:
        """The newest stations, from behind a cursor."""
        with self._database.read() as session:
            rows = self._store(session).stations(after, limit + 1)
            items = [_station(row) for row in rows[:limit]]
        return StationPage(items=items, next=next_page("/stations", limit, cursor(rows, limit)))

    def station(self, id: str) -> Station:
        """One of them. Raises NotFound."""
        with self._database.read() as session:
            return _station(self._found_station(session, id))

    def add_station(self, wanted: NewStation) -> Station:
        """Let a station in; it has no key before it is paired. Raises RequestInvalid."""
        checked_name(wanted.name)
        with self._database.write() as session:
            plant = self._home(session, wanted.plant)
            row = new_station(wanted.name, Role(wanted.role), plant, None)
            self._store(session).add(row)
            record(session, self._caller, "station.add", row.id, plant)
            view = _station(row)
            keep(session, view)
            return view

    def pair_station(self, id: str, at: str) -> PairingCode:
        """A code by which a station gets its key; `at` is the service's address.

        Raises NotFound, or NotPossible where the station was ended.
        """
        with self._database.write() as session:
            store, row = self._store(session), self._found_station(session, id)
            if not row.active:
                raise NotPossible(f"'{row.name}' was ended")
            code = new_code()
            store.drop_links(station=row.number)
            ends = self._database.clock(session) + PAIRING_SECONDS
            store.add(
                LinkRow(digest=digest(code), kind="pairing", station_number=row.number, ends=ends)
            )
            record(session, self._caller, "station.pair", row.id, row.plant_number)
            path = f"/pair/{code}"
            return PairingCode(
                station=_station(row),
                code=f"{code[:5]}-{code[5:]}",
                path=path,
                qr=qr_drawing(at.rstrip("/") + path),
                seconds=int(PAIRING_SECONDS),
            )

    def end_station(self, id: str, seen: str | None = None) -> None:
        """Its key and its screens are no longer good. Raises NotFound or ChangedMeanwhile."""
        with self._database.write() as session:
            store, row = self._store(session), self._found_station(session, id)
            hold(f"station '{id}'", _station(row), seen)
            row.active, row.key = False, None
            store.end_of(station=row.number)
            store.drop_links(station=row.number)
            record(session, self._caller, "station.end", row.id, row.plant_number)
            keep(session, None)

    def _found_station(self, session: Session, id: str) -> StationRow:
        row = self._store(session).station(id)
        if row is None:
            raise NotFound(f"there is no station '{id[:64]}'")
        return row

    # Plants

    def plants(self, after: int | None, limit: int) -> PlantPage:
        """The newest plants that the caller sees, from behind a cursor."""
        with self._database.read() as session:
            rows = self._store(session).plant_page(after, limit + 1)
            items = [_plant(row) for row in rows[:limit]]
        return PlantPage(items=items, next=next_page("/plants", limit, cursor(rows, limit)))

    def plant(self, id: str) -> Plant:
        """One of them. Raises NotFound."""
        with self._database.read() as session:
            return _plant(self._found_plant(session, id))

    def add_plant(self, wanted: PlantChange) -> Plant:
        """Make a plant. Raises NotAllowed, but for the group, or RequestInvalid."""
        plant = NewPlant(wanted.name, wanted.zone, wanted.unit)
        if self._plant is not None:
            raise NotAllowed("only an admin of the group makes plants")
        checked_plant(plant)
        with self._database.write() as session:
            row = new_plant(plant)
            self._store(session).add(row)
            record(session, self._caller, "plant.add", row.id, row.number)
            view = _plant(row)
            keep(session, view)
            return view

    def change_plant(self, id: str, wanted: PlantChange, seen: str | None = None) -> Plant:
        """Give a plant another name, zone or unit, where its tag is among `seen`.

        Raises NotFound, ChangedMeanwhile or RequestInvalid.
        """
        checked_plant(NewPlant(wanted.name, wanted.zone, wanted.unit))
        with self._database.write() as session:
            row = self._found_plant(session, id)
            hold(f"plant '{id}'", _plant(row), seen)
            row.name, row.zone, row.unit = wanted.name, wanted.zone, wanted.unit
            record(session, self._caller, "plant.change", row.id, row.number)
            view = _plant(row)
            keep(session, view)
            return view

    def _found_plant(self, session: Session, id: str) -> PlantRow:
        row = self._store(session).plant(id)
        if row is None:
            raise NotFound(f"there is no plant '{id[:64]}'")
        return row

    def _home(self, session: Session, named: str | None) -> int:
        """The plant that somebody new belongs to. Raises RequestInvalid."""
        plants = self._store(session).plants()
        found = [row for row in plants if named in (None, row.id)]
        if len(found) == 1:
            return found[0].number
        wrong = "missing" if named is None else "there is no such plant"
        raise RequestInvalid(
            [Fault(place="body.plant", wrong=wrong, right="the id of one of /plants")]
        )

    # The trail

    def acts(self, after: int | None, limit: int) -> ActPage:
        """The newest acts, from behind a cursor."""
        with self._database.read() as session:
            rows = self._store(session).acts(after, limit + 1)
        return ActPage(
            items=[_act(row) for row in rows[:limit]],
            next=next_page("/audit", limit, cursor(rows, limit)),
        )


def _person(row: PersonRow) -> Person:
    return Person(
        id=row.id,
        name=row.name,
        role=cast(PersonRole, row.role),
        plant=None if row.plant is None else row.plant.id,
        active=row.active,
        password_set=row.password is not None,
        created=row.created,
    )


def _station(row: StationRow) -> Station:
    return Station(
        id=row.id,
        name=row.name,
        role=cast(StationRole, row.role),
        plant=row.plant.id,
        active=row.active,
        paired=row.key is not None,
        created=row.created,
    )


def _plant(row: PlantRow) -> Plant:
    return Plant(
        id=row.id,
        name=row.name,
        zone=row.zone,
        unit="mm" if row.unit == "mm" else "in",
        created=row.created,
    )


def _act(row: ActRow) -> Act:
    return Act.model_validate(
        {
            "number": row.number,
            "moment": row.moment,
            "who": row.who,
            "name": row.who_name,
            "act": row.act,
            "target": row.target,
            "request": row.request,
            "outcome": row.outcome,
        }
    )
