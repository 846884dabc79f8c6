"""Roles, rights, and which role has which."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType

__all__ = ["RIGHTS", "Right", "Role"]


class Role(StrEnum):
    """What somebody does in the plant. `station` is for saws and programs, never for people."""

    PLANNER = "planner"
    PURCHASING = "purchasing"
    ACCOUNTANT = "accountant"
    ADMIN = "admin"
    STATION = "station"


class Right(StrEnum):
    """One thing that a route may ask for."""

    DAYS_READ = "days.read"
    DAYS_WRITE = "days.write"
    PLANS_READ = "plans.read"
    PLANS_START = "plans.start"
    ORDER_READ = "order.read"
    CUTS_READ = "cuts.read"
    YIELD_READ = "yield.read"
    STATE_READ = "state.read"
    PEOPLE_MANAGE = "people.manage"
    STATIONS_MANAGE = "stations.manage"
    AUDIT_READ = "audit.read"
    SETTINGS_MANAGE = "settings.manage"


RIGHTS: Mapping[Role, frozenset[Right]] = MappingProxyType(
    {
        Role.PLANNER: frozenset(
            {
                Right.DAYS_READ,
                Right.DAYS_WRITE,
                Right.PLANS_READ,
                Right.PLANS_START,
                Right.ORDER_READ,
                Right.CUTS_READ,
                Right.YIELD_READ,
                Right.STATE_READ,
            }
        ),
        Role.PURCHASING: frozenset(
            {Right.DAYS_READ, Right.PLANS_READ, Right.ORDER_READ, Right.STATE_READ}
        ),
        Role.ACCOUNTANT: frozenset(
            {
                Right.DAYS_READ,
                Right.PLANS_READ,
                Right.ORDER_READ,
                Right.YIELD_READ,
                Right.STATE_READ,
            }
        ),
        Role.STATION: frozenset({Right.PLANS_READ, Right.CUTS_READ, Right.STATE_READ}),
        Role.ADMIN: frozenset(Right),
    }
)
