"""Who did what: rows that are written in the transaction of the act itself."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from api.access.who import Caller
from api.operation import current_request
from api.services.errors import RequestInvalid
from api.shapes import Fault
from api.store.access_models import ActRow
from api.store.models import PlantRow

__all__ = ["plant_for", "record"]

_LONGEST_NAME = 80
_LONGEST_TARGET = 64


def record(
    session: Session,
    caller: Caller | None,
    act: str,
    target: str,
    plant: int | None,
    outcome: str = "done",
    name: str = "",
) -> None:
    """Add an act to the trail.

    Parameters
    ----------
    caller
        Who did it; None: the service itself, or somebody who is not known (yet).
    act, target
        What was done, such as `day.post`, and the id of what it was done to.
    plant
        The number of the plant that it belongs to.
    outcome
        `done`, or why it was refused.
    name
        What somebody who is not known called themselves.
    """
    session.add(
        ActRow(
            moment=datetime.now(UTC),
            who="nobody" if caller is None else caller.kind,
            who_number=None if caller is None else caller.number,
            who_name=(name if caller is None else caller.name)[:_LONGEST_NAME],
            act=act,
            target=target[:_LONGEST_TARGET],
            plant_number=plant,
            request=current_request(),
            outcome=outcome,
        )
    )
    session.flush()


def plant_for(
    session: Session, caller: Caller | None, named: str | None, says: tuple[str, str]
) -> int:
    """The number of the plant that something new belongs to.

    Parameters
    ----------
    caller
        Somebody of one plant makes things there alone; somebody of the group names the plant,
        unless there is one only. None, the service itself, may be the first to need one.
    named
        The id of the plant, where it was named.
    says
        Name and unit of the plant, as what is made says.

    Raises
    ------
    RequestInvalid
        Where there is no such plant, or it must be named.
    """
    if caller is not None and caller.plant is not None:
        if named not in (None, caller.plant_id):
            raise RequestInvalid([_no_such(named or "")])
        return caller.plant
    plants = select(PlantRow).order_by(PlantRow.number)
    if named is not None:
        found = session.scalar(plants.where(PlantRow.id == named))
        if found is None:
            raise RequestInvalid([_no_such(named)])
        return found.number
    some = list(session.scalars(plants.limit(2)))
    if len(some) == 1:
        return some[0].number
    if not some and caller is None:
        name, unit = says
        made = PlantRow(
            id=uuid.uuid4().hex, name=name, zone="UTC", unit=unit, created=datetime.now(UTC)
        )
        session.add(made)
        session.flush()
        return made.number
    wrong = Fault(place="query.plant", wrong="missing", right="the id of one of /plants")
    raise RequestInvalid([wrong])


def _no_such(named: str) -> Fault:
    return Fault(place="query.plant", wrong="there is no such plant", read=named[:64])
