"""What must hold once nothing is killed any more: all that was accepted is there, once, right."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import create_engine, inspect, text

from tests.bench.kills.clients import Accepted, Work, ask
from tests.bench.load.service import Service

__all__ = ["result", "sound_database", "wrong_after"]


def result(service: Service, headers: Mapping[str, str], plan: str) -> Any:
    """A plan's document without what a clock put into it."""
    answer, _ = ask(service, "GET", f"/plans/{plan}/plan.json", headers)
    for material in answer["materials"]:
        material.pop("seconds", None)
    return answer


def wrong_after(
    service: Service,
    headers: Mapping[str, str],
    accepted: Sequence[Accepted],
    expected: Mapping[int, Any],
) -> list[str]:
    """Everything lost, doubled, unfinished or different.

    `expected` holds what each work's plan is undisturbed, by `id(work)`.
    """
    wrong = [why for one in accepted for why in one.wrong]
    days = {name: id for one in accepted for name, id in one.days.items()}
    plans = {name: id for one in accepted for name, id in one.plans.items()}
    works: dict[str, Work] = {name: w for one in accepted for name, w in one.work.items()}
    there = _all(service, headers, "/days?limit=200")
    named = Counter(day["name"] for day in there if day["name"].startswith("p"))
    wrong += [f"day {name} is there {count} times" for name, count in named.items() if count > 1]
    ids = {day["id"]: day["name"] for day in there}
    wrong += [f"day {name} is lost" for name, id in days.items() if ids.get(id) != name]
    listed = _all(service, headers, "/plans?limit=200")
    uses = Counter(ids.get(plan["days"][0], "?") for plan in listed)
    wrong += [f"{uses[name]} plans of day {name}" for name in plans if uses[name] != 1]
    known = {plan["id"]: plan for plan in listed}
    for name, plan in plans.items():
        if plan not in known:
            wrong.append(f"plan {plan} is lost")
        elif known[plan]["status"] != "done":
            wrong.append(f"plan {plan} is {known[plan]['status']}")
        elif result(service, headers, plan) != expected[id(works[name])]:
            wrong.append(f"plan {plan} is not what it is undisturbed")
    return wrong


def _all(service: Service, headers: Mapping[str, str], path: str) -> list[dict[str, Any]]:
    items: list[dict[str, Any]] = []
    place: str | None = path
    while place is not None:
        page, _ = ask(service, "GET", place, headers)
        items += page["items"]
        place = page["next"]
    return items


def sound_database(address: str) -> list[str]:
    """What is wrong with a database that nobody writes to: its own checks, rows without a parent,
    events that are not numbered 1, 2, 3 ... or do not end once."""
    engine = create_engine(address.replace("postgresql://", "postgresql+psycopg://"))
    wrong = []
    with engine.connect() as connection:
        if engine.dialect.name == "sqlite":
            for check in ("integrity_check", "foreign_key_check"):
                rows = [tuple(row) for row in connection.exec_driver_sql(f"PRAGMA {check}")]
                if rows not in ([], [("ok",)]):
                    wrong.append(f"PRAGMA {check}: {rows[:3]}")
        found = inspect(connection)
        for table in found.get_table_names():
            for key in found.get_foreign_keys(table):
                here, there = key["constrained_columns"], key["referred_columns"]
                same = " AND ".join(f'p."{b}" = c."{a}"' for a, b in zip(here, there, strict=True))
                query = (
                    f'SELECT count(*) FROM "{table}" c WHERE c."{here[0]}" IS NOT NULL AND '
                    f'NOT EXISTS (SELECT 1 FROM "{key["referred_table"]}" p WHERE {same})'
                )
                count = connection.execute(text(query)).scalar_one()
                if count:
                    wrong.append(f"{count} rows of {table} without their {key['referred_table']}")
        query = (
            "SELECT plan, count(*), max(number), sum(CASE WHEN kind = 'ended' THEN 1 ELSE 0 END) "
            "FROM plan_events GROUP BY plan"
        )
        for plan, count, last, ends in connection.execute(text(query)):
            if count != last or ends != 1:
                wrong.append(f"plan {plan}: {count} events up to number {last}, {ends} ends")
    engine.dispose()
    return wrong
