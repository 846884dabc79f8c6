"""The plant's own clock: moments are kept in UTC, days are the plant's.

A day begins at the first moment at which the plant's calendar shows it and ends where the next
begins: it has 23 or 25 hours where clocks are changed. Zones are named as in the IANA time zone
database, which the package `tzdata` brings to machines without one.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from zoneinfo import ZoneInfo, available_timezones

from cutopt.records import CutoptError, nearest

__all__ = ["begin_of", "bounds_of", "day_in", "today_in", "with_zone", "zone_of"]


@cache
def _names() -> frozenset[str]:
    return frozenset(available_timezones())


def zone_of(name: str) -> ZoneInfo:
    """The zone of a name such as `America/Chicago`.

    Raises
    ------
    CutoptError
        Where there is no such zone; the nearest name is told.
    """
    if name not in _names():
        near = nearest(name, _names())
        right = "a name such as America/Chicago" if near is None else f"perhaps {near}"
        raise CutoptError(f"no such time zone: read '{name}', would be right: {right}")
    return ZoneInfo(name)


def with_zone(moment: datetime, zone: ZoneInfo) -> datetime:
    """A moment as the plant's clock shows it.

    Raises
    ------
    ValueError
        Where the moment has no zone of its own.
    """
    if moment.tzinfo is None:
        raise ValueError("a moment without a zone")
    return moment.astimezone(zone)


def day_in(zone: ZoneInfo, moment: datetime) -> date:
    """Which day it is in the plant at a moment. Raises ValueError as `with_zone` does."""
    return with_zone(moment, zone).date()


def today_in(zone: ZoneInfo) -> date:
    """Which day it is in the plant now."""
    return day_in(zone, datetime.now(UTC))


def begin_of(day: date, zone: ZoneInfo) -> datetime:
    """The moment, in UTC, at which a day begins in the plant.

    Where clocks go forward at midnight the day begins with the hour after; where they go back
    over midnight's hour, it begins with the first of the two. (PEP 495: fold=0 is read with the
    offset from before the change, which in a gap is the moment of the change itself.)
    """
    return datetime.combine(day, time(0), tzinfo=zone).astimezone(UTC)


def bounds_of(day: date, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """The moments, in UTC, between which it is a day in the plant; the second is the next day's."""
    return begin_of(day, zone), begin_of(day + timedelta(days=1), zone)
