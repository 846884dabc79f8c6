"""Reading and writing people, stations, sessions, links, tries and the audit trail."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeVar

from sqlalchemy import Select, delete, func, select, update
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from api.store.access_models import ActRow, LinkRow, PersonRow, SessionRow, StationRow, TryRow
from api.store.models import PlantRow

__all__ = ["AccessStore", "TryStore", "folded"]

_Row = TypeVar("_Row")
_AT_ONCE = 200


def folded(name: str) -> str:
    """A name as it is looked for: capitals and small letters are the same."""
    return name.casefold()[:240]


class AccessStore:
    """Access within one transaction: of one plant, or of all where it is None."""

    def __init__(self, session: Session, plant: int | None = None) -> None:
        self._session = session
        self._plant = plant

    def _mine(self, query: Select[_Row], column: Any) -> Select[_Row]:
        return query if self._plant is None else query.where(column == self._plant)

    def add(self, row: Any) -> None:
        """Keep a row, numbered."""
        self._session.add(row)
        self._session.flush()

    # Plants

    def plant(self, id: str) -> PlantRow | None:
        """One plant."""
        return self._session.scalar(
            self._mine(select(PlantRow).where(PlantRow.id == id), PlantRow.number)
        )

    def plants(self) -> Sequence[PlantRow]:
        """Every plant, in the order in which they came."""
        query = self._mine(select(PlantRow).order_by(PlantRow.number), PlantRow.number)
        return self._session.scalars(query).all()

    def plant_page(self, before: int | None, limit: int) -> Sequence[PlantRow]:
        """The newest plants, from below number `before`."""
        query = self._mine(select(PlantRow).order_by(PlantRow.number.desc()), PlantRow.number)
        if before is not None:
            query = query.where(PlantRow.number < before)
        return self._session.scalars(query.limit(limit)).all()

    # People

    def any_person(self) -> bool:
        """Whether anybody can sign in: the demo's people have no password."""
        query = select(PersonRow.number).where(PersonRow.password.is_not(None)).limit(1)
        return self._session.scalar(query) is not None

    def person_named(self, name: str) -> PersonRow | None:
        """Whoever signs in by this name, of any plant."""
        return self._session.scalar(select(PersonRow).where(PersonRow.folded == folded(name)))

    def person(self, id: str) -> PersonRow | None:
        """One person, locked until this transaction ends where the database can."""
        query = select(PersonRow).where(PersonRow.id == id).with_for_update(of=PersonRow)
        return self._session.scalar(self._mine(query, PersonRow.plant_number))

    def people(self, before: int | None, limit: int) -> Sequence[PersonRow]:
        """The newest first, from below number `before`."""
        query = select(PersonRow).order_by(PersonRow.number.desc()).limit(limit)
        if before is not None:
            query = query.where(PersonRow.number < before)
        return self._session.scalars(self._mine(query, PersonRow.plant_number)).all()

    def admins(self, plant: int | None) -> Sequence[int]:
        """The numbers of the active admins of a plant, or of the group; locked."""
        of = PersonRow.plant_number.is_(None) if plant is None else PersonRow.plant_number == plant
        query = select(PersonRow.number).where(of, PersonRow.role == "admin", PersonRow.active)
        return self._session.scalars(query.with_for_update(of=PersonRow)).all()

    # Stations

    def station(self, id: str) -> StationRow | None:
        """One station."""
        query = select(StationRow).where(StationRow.id == id).with_for_update(of=StationRow)
        return self._session.scalar(self._mine(query, StationRow.plant_number))

    def station_with(self, key: str) -> StationRow | None:
        """The station whose key has this digest."""
        return self._session.scalar(select(StationRow).where(StationRow.key == key))

    def stations(self, before: int | None, limit: int) -> Sequence[StationRow]:
        """The newest first, from below number `before`."""
        query = select(StationRow).order_by(StationRow.number.desc()).limit(limit)
        if before is not None:
            query = query.where(StationRow.number < before)
        return self._session.scalars(self._mine(query, StationRow.plant_number)).all()

    # Sessions

    def session(self, token: str) -> SessionRow | None:
        """The session whose token has this digest."""
        return self._session.get(SessionRow, token)

    def see(self, token: str, now: float) -> None:
        """A session was used."""
        self._session.execute(update(SessionRow).where(SessionRow.token == token).values(seen=now))

    def end(self, token: str) -> None:
        """End a session."""
        self._session.execute(delete(SessionRow).where(SessionRow.token == token))

    def end_of(self, person: int | None = None, station: int | None = None) -> None:
        """End every session of a person or a station."""
        of = (
            SessionRow.station_number == station
            if person is None
            else SessionRow.person_number == person
        )
        self._session.execute(delete(SessionRow).where(of))

    def forget_ended(self, now: float) -> None:
        """Remove sessions and links that ended."""
        for table, ends in ((SessionRow, SessionRow.ends), (LinkRow, LinkRow.ends)):
            self._session.execute(delete(table).where(ends < now))

    # Links

    def link(self, digest: str, kind: str, now: float) -> LinkRow | None:
        """A link that is still good."""
        query = select(LinkRow).where(
            LinkRow.digest == digest, LinkRow.kind == kind, LinkRow.ends >= now
        )
        return self._session.scalar(query)

    def use(self, link: LinkRow) -> bool:
        """Use a link, and with it all others to the same end; whether nobody was quicker."""
        same = [LinkRow.kind == link.kind]
        same.append(
            LinkRow.person_number.is_(None)
            if link.person_number is None
            else LinkRow.person_number == link.person_number
        )
        same.append(
            LinkRow.station_number.is_(None)
            if link.station_number is None
            else LinkRow.station_number == link.station_number
        )
        gone = self._session.execute(
            delete(LinkRow).where(*same).execution_options(synchronize_session=False)
        )
        return bool(gone.rowcount)  # type: ignore[attr-defined]

    def drop_links(self, person: int | None = None, station: int | None = None) -> None:
        """Links of a person or a station are no longer good."""
        of = (
            LinkRow.station_number == station if person is None else LinkRow.person_number == person
        )
        self._session.execute(delete(LinkRow).where(of))

    # The trail

    def acts(self, before: int | None, limit: int) -> Sequence[ActRow]:
        """The newest first, from below number `before`."""
        query = select(ActRow).order_by(ActRow.number.desc()).limit(limit)
        if before is not None:
            query = query.where(ActRow.number < before)
        return self._session.scalars(self._mine(query, ActRow.plant_number)).all()


class TryStore:
    """How often things were tried, within one transaction that writes."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def count(self, of: str, now: float, window: float, most: int, shut: float) -> None:
        """One more try. What is tried more than `most` times in a window is shut for a while.

        The window begins with the first try and is `window` seconds long; `shut` is for how many
        seconds it may then not be tried.
        """
        # Made first, where it is missing: of two that come at once, the second waits for the first.
        make = postgresql.insert if self._is_postgresql() else sqlite.insert
        self._session.execute(
            make(TryRow)
            .values(of=of, begun=now, count=0, until=0.0)
            .on_conflict_do_nothing(index_elements=[TryRow.of])
        )
        row = self._session.scalars(
            select(TryRow)
            .where(TryRow.of == of)
            .with_for_update()
            .execution_options(populate_existing=True)
        ).one()
        if row.begun + window < now:
            row.begun, row.count = now, 0
        row.count += 1
        if row.count > most:
            row.until = now + shut
        self._session.flush()

    def shut(self, of: str, now: float) -> float:
        """For how many seconds it may not be tried."""
        until = self._session.scalar(select(TryRow.until).where(TryRow.of == of))
        return max(0.0, (until or 0.0) - now)

    def uncount(self, of: str) -> None:
        """One try fewer: it came right."""
        self._session.execute(
            update(TryRow)
            .where(TryRow.of == of, TryRow.count > 0)
            .values(count=TryRow.count - 1)
            .execution_options(synchronize_session=False)
        )

    def forget(self, of: str) -> None:
        """It came right: what was tried before counts no more."""
        self._session.execute(delete(TryRow).where(TryRow.of == of))

    def forget_old(self, before: float) -> None:
        """Remove what was begun before a moment and is not shut."""
        # What another transaction holds is left to it, so that no two wait for each other.
        some = (
            select(TryRow.of)
            .where(TryRow.begun < before, TryRow.until < before)
            .limit(_AT_ONCE)
            .with_for_update(skip_locked=True)
        )
        names = self._session.scalars(some).all()
        if names:
            self._session.execute(
                delete(TryRow)
                .where(TryRow.of.in_(names))
                .execution_options(synchronize_session=False)
            )

    def _is_postgresql(self) -> bool:
        return self._session.get_bind().dialect.name == "postgresql"

    def how_many(self) -> int:
        """How many things are being counted."""
        return self._session.scalar(select(func.count()).select_from(TryRow)) or 0
