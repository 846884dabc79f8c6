"""Which day it is in the plant: around midnight, and where clocks are changed.

The changes that are checked stand in the IANA time zone database (files northamerica,
southamerica, europe, australasia); each is named beside its check.
"""

from __future__ import annotations

import os
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta, timezone
from itertools import pairwise
from pathlib import Path

import pytest

from api.zone import begin_of, bounds_of, day_in, today_in, with_zone, zone_of
from cutopt.records import CutoptError

CHICAGO = zone_of("America/Chicago")
#: Zones whose clocks change at 2 in the morning, at 1, at midnight, by half an hour, or never.
ZONES = [
    "America/Chicago",
    "America/Phoenix",
    "America/St_Johns",
    "America/Havana",
    "America/Santiago",
    "Europe/Madrid",
    "Australia/Lord_Howe",
    "Pacific/Auckland",
    "Asia/Kathmandu",
    "UTC",
]


def utc(*parts: int) -> datetime:
    return datetime(*parts, tzinfo=UTC)  # type: ignore[arg-type, misc]


def test_the_day_turns_at_the_plants_midnight_not_at_utcs() -> None:
    """Chicago is six hours behind UTC in winter."""
    assert day_in(CHICAGO, utc(2026, 3, 3, 0, 0)) == date(2026, 3, 2)
    assert day_in(CHICAGO, utc(2026, 3, 3, 5, 59, 59, 999_999)) == date(2026, 3, 2)
    assert day_in(CHICAGO, utc(2026, 3, 3, 6, 0)) == date(2026, 3, 3)
    auckland = zone_of("Pacific/Auckland")
    assert day_in(auckland, utc(2026, 3, 2, 11, 0)) == date(2026, 3, 3)


def test_a_moment_of_any_zone_is_read_and_one_of_none_is_refused() -> None:
    east = timezone(timedelta(hours=9))
    assert day_in(CHICAGO, datetime(2026, 3, 3, 14, 59, tzinfo=east)) == date(2026, 3, 2)
    with pytest.raises(ValueError, match="without a zone"):
        day_in(CHICAGO, datetime(2026, 3, 3))  # noqa: DTZ001


def test_days_have_23_and_25_hours_where_clocks_are_changed() -> None:
    """United States: second Sunday in March and first in November, at 2:00 (Rule US 2007 on)."""
    hours = {
        day: (bounds_of(day, CHICAGO)[1] - bounds_of(day, CHICAGO)[0]) / timedelta(hours=1)
        for day in (date(2026, 3, 7), date(2026, 3, 8), date(2026, 11, 1), date(2026, 11, 2))
    }
    assert list(hours.values()) == [24, 23, 25, 24]
    assert begin_of(date(2026, 3, 8), CHICAGO) == utc(2026, 3, 8, 6)
    assert begin_of(date(2026, 3, 9), CHICAGO) == utc(2026, 3, 9, 5)
    half = zone_of("Australia/Lord_Howe")  # clocks change by half an hour, first Sunday in April
    begin, end = bounds_of(date(2026, 4, 5), half)
    assert end - begin == timedelta(hours=24, minutes=30)


def test_the_hour_that_comes_twice_is_of_one_day() -> None:
    for hour in (6, 7):  # 1:30 in Chicago, summer time first
        assert day_in(CHICAGO, utc(2026, 11, 1, hour, 30)) == date(2026, 11, 1)
    shown = [with_zone(utc(2026, 11, 1, hour, 30), CHICAGO).isoformat() for hour in (6, 7)]
    assert shown == ["2026-11-01T01:30:00-05:00", "2026-11-01T01:30:00-06:00"]


def test_a_day_without_a_midnight_begins_at_one() -> None:
    """Chile's and Cuba's clocks go forward at midnight (Rule Chile from 2023 on, Rule Cuba)."""
    for name, day in (
        ("America/Santiago", date(2026, 9, 6)),
        ("America/Havana", date(2026, 3, 8)),
    ):
        zone = zone_of(name)
        begin, end = bounds_of(day, zone)
        assert with_zone(begin, zone).hour == 1
        assert end - begin == timedelta(hours=23)
        assert day_in(zone, begin) == day
        assert day_in(zone, begin - timedelta(microseconds=1)) == day - timedelta(days=1)


def test_a_day_with_two_midnights_begins_with_the_first() -> None:
    """Cuba's clocks go back from 1:00 to 0:00 (Rule Cuba, first Sunday in November)."""
    havana = zone_of("America/Havana")
    begin, end = bounds_of(date(2026, 11, 1), havana)
    assert end - begin == timedelta(hours=25)
    assert day_in(havana, begin) == date(2026, 11, 1)
    assert day_in(havana, begin - timedelta(seconds=1)) == date(2026, 10, 31)


def test_a_day_that_a_zone_left_out_is_empty() -> None:
    """Samoa had no 30 December 2011 (Zone Pacific/Apia)."""
    apia = zone_of("Pacific/Apia")
    begin, end = bounds_of(date(2011, 12, 30), apia)
    assert begin == end == utc(2011, 12, 30, 10)


@pytest.mark.parametrize("name", ZONES)
def test_days_follow_one_another_without_gap_or_overlap(name: str) -> None:
    zone = zone_of(name)
    days = [date(2026, 1, 1) + timedelta(days=n) for n in range(730)]
    for day, after in pairwise(days):
        begin, end = bounds_of(day, zone)
        assert end == bounds_of(after, zone)[0]
        assert day_in(zone, begin) == day
        assert day_in(zone, end - timedelta(microseconds=1)) == day
        assert day_in(zone, end) == after


def test_today_is_the_plants_day() -> None:
    apart = {today_in(zone_of(name)) for name in ("Pacific/Kiritimati", "Pacific/Pago_Pago")}
    assert len(apart) == 2  # they are 25 hours apart


@pytest.mark.parametrize(
    "name", ["America/Chicagoo", "", "America", "../UTC", "/etc/localtime", "posixrules", "a\0b"]
)
def test_names_of_no_zone_are_refused(name: str) -> None:
    with pytest.raises(CutoptError, match="no such time zone"):
        zone_of(name)


def test_the_nearest_zone_is_told() -> None:
    with pytest.raises(CutoptError, match="America/Chicago"):
        zone_of("America/Chicagoo")


def test_a_machine_without_zones_of_its_own_has_them() -> None:
    code = "from api.zone import zone_of; print(zone_of('America/Chicago'))"
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=Path(__file__).parents[2],
        env=os.environ | {"PYTHONTZPATH": ""},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.stdout, done.stderr) == ("America/Chicago\n", "")
