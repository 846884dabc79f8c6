"""Raw days become days that are planned together; every fault of all of them is told in one go."""

from __future__ import annotations

import dataclasses
from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from cutopt.cutlist.part import Day
from cutopt.cutlist.reading.parts import PartReader
from cutopt.cutlist.reading.raw import RawDay, Reading
from cutopt.cutlist.reading.runs import check_mates
from cutopt.cutlist.reading.slips import find_repeats, find_slips
from cutopt.cutlist.reading.tables import find_table_slips
from cutopt.materials import RULE_TABLES, Config, Rules, Stock, read_rules, read_stock
from cutopt.measure import Unit, show_length
from cutopt.records import Faults, Place, known_or_nearest

__all__ = ["read_raw_days"]

_TOP = ("plant", "date", "unit", *RULE_TABLES, "materials")


def read_raw_days(raws: Sequence[RawDay]) -> Reading:
    """Read days that are planned together, against the stock and the rules of the first.

    Parameters
    ----------
    raws
        One or more days. Each reads in its own unit. A later day's stock may be absent.

    Returns
    -------
    Reading
        The days in the same order, with warnings sorted by place.

    Raises
    ------
    InputRefused
        With every fault of every file of every day, sorted. With several days each file's name
        has the day's name before it.
    """
    faults = Faults()
    if not raws:
        faults.add(Place("day"), "no day given", right="one day or more")
        faults.raise_if_any()
    named = _named(raws)
    for raw in named:
        faults.faults.extend(raw.faults)
        faults.warnings.extend(raw.warnings)
    days: list[Day] = []
    stock: Stock | None = None
    for number, raw in enumerate(named):
        for earlier in range(number):
            if _same(raws[earlier], raws[number]):
                faults.add(
                    Place(raw.config_name),
                    f"the same day as {named[earlier].config_name}, given twice",
                    right="each day once",
                )
                break
        day, stock = _day(raw, days[0] if days else None, stock, faults)
        days.append(day)
    assert stock is not None  # noqa: S101  raws is not empty
    find_repeats(days, faults)
    # What a part fits in can be told only where every size of the stock was read.
    if not any(f.place.file == named[0].stock_name for f in faults) and stock.offers:
        find_slips(days, stock, days[0].rules, faults)
    faults.raise_if_any()
    return Reading(tuple(days), tuple(sorted(set(faults.warnings))))


def _named(raws: Sequence[RawDay]) -> list[RawDay]:
    if len(raws) == 1:
        return list(raws)
    count = Counter(r.name for r in raws)
    seen: Counter[str] = Counter()
    named = []
    for raw in raws:
        seen[raw.name] += 1
        again = f" ({seen[raw.name]})" if count[raw.name] > 1 else ""
        named.append(raw.under(raw.name + again))
    return named


def _same(a: RawDay, b: RawDay) -> bool:
    return (a.config, a.stock, a.cuts) == (b.config, b.stock, b.cuts) and not a.faults


def _day(raw: RawDay, first: Day | None, stock: Stock | None, faults: Faults) -> tuple[Day, Stock]:
    config = Config(raw.config_name, raw.config, raw.config_rows)
    broken = raw.is_broken(raw.config_name)
    for key in raw.config:
        if key not in _TOP and not faults.full:
            faults.add(config.place(key), "no such key", key, _right_key(key))
    plant = _plant(config, broken, faults)
    when = _date(config, broken, faults)
    unit = _unit(config, faults)
    own = _own_stock(raw, unit, faults)
    if own is None and first is None and not raw.is_broken(raw.stock_name):
        faults.add(Place(raw.stock_name), "missing", right="what can be bought and is on hand")
    if own is None:
        own = stock or Stock((), {}, complete=False)
    elif stock is not None and first is not None:
        _within_first(raw, own, stock, faults)
    base = stock or own
    # What only a later day's own stock names is told there, not at every part as well.
    known = dataclasses.replace(
        base, kinds={**own.kinds, **base.kinds}, complete=own.complete and base.complete
    )
    rules = read_rules(config, unit, known.kinds, known.complete, faults)
    if first is None:
        _rips_too_wide(config, rules, base, unit, faults)
    find_table_slips(
        raw, own if raw.stock is not None else None, unit, config.place("unit"), faults
    )
    reader = PartReader(unit, known, faults)
    parts = reader.read(raw.cuts)
    check_mates(parts, reader.lost, not raw.faults, unit, faults)
    if not raw.cuts and not any(f.place.file.startswith(raw.cuts_name) for f in raw.faults):
        faults.add(Place(raw.cuts_name), "no cut list", right="one cut list or more")
    day = Day(
        name=raw.name,
        plant=plant,
        date=when,
        unit=unit,
        rules=rules,
        offers=own.offers if raw.stock is not None else (),
        parts=parts,
    )
    if first is not None:
        _rules_differ(config, first.rules, rules, base, faults)
    return day, base


def _right_key(key: str) -> str:
    homes = [f"[{table}]" for table, known in RULE_TABLES.items() if key in known]
    return f"{key} belongs under {' or '.join(homes)}" if homes else known_or_nearest(key, _TOP)


def _plant(config: Config, broken: bool, faults: Faults) -> str:
    value = config.values.get("plant")
    if isinstance(value, str) and value.strip():
        return value.strip()
    if not broken:
        wrong = "missing" if value is None else "not a name"
        faults.add(config.place("plant"), wrong, _read(value), 'the plant: plant = "..."')
    return ""


def _date(config: Config, broken: bool, faults: Faults) -> date:
    value: Any = config.values.get("date")
    if isinstance(value, str):
        try:
            return date.fromisoformat(value.strip())
        except ValueError:
            pass
    elif isinstance(value, date) and not isinstance(value, datetime):
        return value
    if not broken:
        wrong = "missing" if value is None else "not a date"
        faults.add(config.place("date"), wrong, _read(value), "a day: date = 2026-03-02")
    return date.min


def _unit(config: Config, faults: Faults) -> Unit:
    value = config.values.get("unit", "in")
    if value in ("in", "mm"):
        return "mm" if value == "mm" else "in"
    faults.add(config.place("unit"), "not a unit", _read(value), "in or mm")
    return "in"


def _read(value: object) -> str:
    return "" if value is None else str(value)


def _own_stock(raw: RawDay, unit: Unit, faults: Faults) -> Stock | None:
    if raw.stock is None:
        return None
    stock = read_stock(raw.stock, unit, faults)
    if raw.is_broken(raw.stock_name):
        return dataclasses.replace(stock, complete=False)
    return stock


def _within_first(raw: RawDay, own: Stock, base: Stock, faults: Faults) -> None:
    known = {(o.material, o.kind, o.length, o.width): o for o in base.offers if o.available != 0}
    if not base.complete:
        return
    for offer in own.offers:
        if offer.available == 0:
            continue
        first = known.get((offer.material, offer.kind, offer.length, offer.width))
        place = Place(raw.stock_name, offer.row)
        if first is None:
            faults.add(
                place,
                f"offers a size of {offer.material} that the first day's stock does not",
                right="several days are planned against the stock of the first: add it there",
            )
        elif first.cost != offer.cost:
            faults.warn(
                Place(raw.stock_name, offer.row, "price"),
                f"another price than at line {first.row} of the first day, whose price holds",
            )
        elif first.counts_as != offer.counts_as:
            faults.warn(
                Place(raw.stock_name, offer.row, "counts_as"),
                f"counts as another length than at line {first.row} of the first day, which holds",
            )
        elif first.edges is not offer.edges:
            faults.warn(
                Place(raw.stock_name, offer.row, "edges"),
                f"other factory edges than at line {first.row} of the first day, which hold",
                offer.edges.value,
                first.edges.value,
            )
        elif first.min_order != offer.min_order:
            faults.warn(
                Place(raw.stock_name, offer.row, "min_order"),
                f"another least order than at line {first.row} of the first day, which holds",
            )


def _rips_too_wide(config: Config, rules: Rules, stock: Stock, unit: Unit, faults: Faults) -> None:
    """A least_rip that no sheet is wider than, so that nothing could be ripped."""
    widest: dict[str, int] = {}
    for offer in stock.offers:
        if offer.width is not None and offer.available != 0:
            widest[offer.material] = max(widest.get(offer.material, 0), offer.width)
    told: dict[Place, list[str]] = {}
    for material, width in widest.items():
        if rules.for_sheets(material).least_rip > width:
            own = "least_rip" in (config.values.get("materials") or {}).get(material, {})
            keys = ("materials", material) if own else ("sheets",)
            told.setdefault(config.place(*keys, "least_rip"), []).append(material)
    for place, materials in told.items():
        narrow = min(materials, key=lambda m: widest[m])
        faults.warn(
            place,
            f"wider than any sheet of {', '.join(materials)}, so that none could be ripped",
            show_length(rules.for_sheets(narrow).least_rip, unit),
            f"less than {show_length(widest[narrow], unit)}",
        )


def _rules_differ(config: Config, first: Rules, own: Rules, stock: Stock, faults: Faults) -> None:
    other = []
    for table in RULE_TABLES:
        a, b = getattr(first, table), getattr(own, table)
        other += [f"{table}.{k}" for k in RULE_TABLES[table] if getattr(a, k) != getattr(b, k)]
    for material in stock.kinds:
        pairs: Mapping[str, tuple[Any, Any]] = {
            "lumber": (first.for_lumber(material), own.for_lumber(material)),
            "sheets": (first.for_sheets(material), own.for_sheets(material)),
            "ceiling": (first.for_ceiling(material), own.for_ceiling(material)),
        }
        for table, (a, b) in pairs.items():
            other += [
                f"materials.{material}.{k}"
                for k in RULE_TABLES[table]
                if getattr(a, k) != getattr(b, k) and f"{table}.{k}" not in other
            ]
    if other:
        faults.warn(
            Place(config.name),
            f"other rules than the first day's, which hold: {', '.join(dict.fromkeys(other))}",
        )
