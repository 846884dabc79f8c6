"""`min_order` in stock.csv: the fewest pieces that the mill sells at once."""

from __future__ import annotations

import pytest

from tests.cutlist.words import files, only, read

STOCK = """material,kind,nominal,length,width,price,per,on_hand,limit,bundle,lot,min_order
GYP,sheet,,96,48,14.00,each,3,{},,,{}
2x4-SPF,lumber,2x4,96,,600,MBF,,,,,
"""
CUTS = """section,jig,mark,material,length,width,qty
A,Wall,P,GYP,40,40,1
"""


def stock(limit: str, least: str):  # type: ignore[no-untyped-def]
    return files(stock=STOCK.format(limit, least), cuts=CUTS)


@pytest.mark.parametrize(("least", "right"), [("", 0), ("0", 0), ("12", 12), ("12.0", 12)])
def test_the_fewest_pieces_are_read(least: str, right: int) -> None:
    first, second = read(stock("", least)).days[0].offers
    assert (first.min_order, second.min_order) == (right, 0)


def test_what_must_be_bought() -> None:
    # By hand: 3 lie in the yard, no fewer than 12 are sold.
    (offer, _) = read(stock("20", "12")).days[0].offers
    assert [offer.bought(n) for n in (0, 3, 4, 12, 15, 16)] == [0, 0, 12, 12, 12, 13]


@pytest.mark.parametrize(
    ("limit", "least", "told"),
    [
        ("", "-1", "stock.csv:2:min_order: below zero, read '-1'"),
        ("", "ten", "stock.csv:2:min_order: not a whole number, read 'ten'"),
        (
            "5",
            "6",
            "stock.csv:2:min_order: above the limit of 5, so that none could be bought, read '6', "
            "would be right: 5 or less, or a limit of 6 and more (0: none is bought)",
        ),
    ],
)
def test_a_fault_in_the_fewest_pieces(limit: str, least: str, told: str) -> None:
    assert only(stock(limit, least)).startswith(told)


def test_what_can_not_be_bought_has_no_least_order() -> None:
    assert read(stock("0", "6")).days[0].offers[0].min_order == 6
