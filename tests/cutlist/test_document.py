"""A day as one JSON document: the same as its files, or told where it is not."""

from __future__ import annotations

import csv
import json
from contextlib import suppress
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutopt.cutlist import raw_day_from_json, read_raw_days
from cutopt.records import InputRefused
from tests.cutlist.words import CUTS, STOCK, files, read


def document() -> dict[str, Any]:
    return {
        "day": {"plant": "Test Works", "date": "2026-03-02", "unit": "in"},
        "stock": [dict(r) for r in csv.DictReader(STOCK.splitlines())],
        "cuts": [dict(r) for r in csv.DictReader(CUTS.splitlines())],
    }


def faults_of(doc: Any) -> list[str]:
    with pytest.raises(InputRefused) as caught:
        read_raw_days([raw_day_from_json("d1", doc)])
    return [str(f) for f in caught.value.faults]


def test_the_same_day_as_json_and_as_files() -> None:
    doc = document()
    for entry in doc["cuts"]:
        entry["file"] = "walls"
    one = read_raw_days([raw_day_from_json("d1", json.loads(json.dumps(doc)))]).days[0]
    two = read(files()).days[0]
    assert (one.plant, one.date, one.unit, one.rules) == (two.plant, two.date, two.unit, two.rules)
    assert one.offers == two.offers
    assert [p.place.row for p in one.parts] == [p.place.row for p in two.parts]
    assert {p.place.file for p in one.parts} == {"cuts/walls"}
    assert [(p.mark, p.length, p.width, p.qty, p.alt, p.joints) for p in one.parts] == [
        (p.mark, p.length, p.width, p.qty, p.alt, p.joints) for p in two.parts
    ]


def test_values_of_every_kind() -> None:
    doc = document()
    doc["day"]["lumber"] = {"kerf": 0.1, "drop_value": 0.3}
    doc["cuts"][0] |= {"length": 92.625, "qty": 20, "alt": ["2x4-DF"], "turn": False, "note": None}
    doc["cuts"][3] |= {"length": Decimal("95.875"), "qty": 4.0, "turn": True}
    day = read_raw_days([raw_day_from_json("d1", doc)]).days[0]
    assert day.parts[0].length == read(files()).days[0].parts[0].length
    assert day.parts[0].alt == ("2x4-DF",)
    assert (day.parts[3].qty, day.parts[3].turn) == (4, True)
    assert day.rules.lumber.kerf == 4064


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"stok": []}, "stok: no such key, read 'stok', would be right: did you mean 'stock'?"),
        ({"day": []}, "day: not a JSON object, read '[]', would be right: the keys of day.toml"),
        ({"stock": {}}, "stock: not a JSON list, read '{}'"),
        ({"cuts": "x"}, "cuts: not a JSON list, read 'x'"),
        ({"cuts": ["x"]}, "cuts:2: not a JSON object, read 'x'"),
    ],
)
def test_a_document_of_another_shape(change: dict[str, Any], told: str) -> None:
    assert any(f.startswith(told) for f in faults_of(document() | change))


@pytest.mark.parametrize("doc", [None, [], "x", 3, {}])
def test_what_is_no_day(doc: Any) -> None:
    assert faults_of(doc)


def test_faults_name_the_list_the_entry_and_the_key() -> None:
    doc = document()
    doc["stock"][1]["length"] = -1
    doc["cuts"][2]["qty"] = {"a": 1}
    doc["cuts"][3]["widht"] = 3
    doc["cuts"][4]["qty"] = float("nan")
    doc["cuts"][5]["file"] = "b"
    doc["cuts"][5]["qty"] = 2.5
    assert [f.split(", would")[0] for f in faults_of(doc)] == [
        "cuts::widht: no such column, read 'widht'",
        "cuts:4:qty: not a cell, read '{'a': 1}'",
        "cuts:6:qty: not a cell, read 'nan'",
        "cuts/b:2:qty: not a whole number, read '2.5'",
        "stock:3:length: a length below zero, read '-1'",
    ]


def test_limits() -> None:
    doc = document()
    doc["cuts"][0]["note"] = "x" * 3000
    doc["cuts"][1]["qty"] = 10**50
    told = faults_of(doc)
    assert told[0].startswith("cuts:2:note: not a cell")
    assert told[1].startswith("cuts:3:qty: not a cell")
    doc["cuts"] = [{}] * 200_001
    assert "cuts: 200001 rows, would be right: at most 200000 rows" in faults_of(doc)


def test_too_many_columns() -> None:
    doc = document() | {"cuts": [{f"c{i}": 1} for i in range(100)]}
    assert faults_of(doc) == ["cuts: 100 columns, would be right: at most 64"]


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(
                ["day", "stock", "cuts", "file", "length", "qty", "material", "lumber", ""]
            )
            | st.text(max_size=8),
            inner,
            max_size=4,
        )
    ),
    max_leaves=20,
)


@settings(max_examples=200, deadline=None)
@given(JSON, st.sampled_from(["whole", "day", "stock", "cuts"]))
def test_no_json_breaks_the_reader(value: Any, where: str) -> None:
    doc = value if where == "whole" else document() | {where: value}
    with suppress(InputRefused):
        read_raw_days([raw_day_from_json("d1", doc)])
