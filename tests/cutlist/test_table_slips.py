"""Slips of whole tables."""

from __future__ import annotations

from tests.cutlist.words import CUTS, DAY, files, read, refused, warned

HEAD = CUTS.split("\n", 1)[0] + "\n"


def test_an_empty_list_beside_others_is_told() -> None:
    given = files() | {"cuts/none.csv": HEAD.encode()}
    assert any("cuts/none.csv:1: no rows below the header" in str(w) for w in warned(given))


def test_a_day_of_empty_lists_is_refused() -> None:
    given = {k: v for k, v in files().items() if not k.startswith("cuts/")}
    faults = refused(given | {"cuts/none.csv": HEAD.encode()})
    assert any("cuts/none.csv:1: no rows below the header" in str(f) for f in faults)


def test_a_list_given_twice_is_refused_whatever_its_name_and_order() -> None:
    rows = "A,wall,S1,2x4,90,,3\nA,wall,S2,2x4,80,,3\n"
    back = "A,wall,S2,2x4,80,,3\nA,wall,S1,2x4,90,,3\n"
    head = "section,jig,mark,material,length,width,qty\n"
    stock = "material,kind,nominal,length,width,price,per\n2x4,lumber,2x4,96,,3,each\n"
    given = {
        "day.toml": DAY.encode(),
        "stock.csv": stock.encode(),
        "cuts/a.csv": (head + rows).encode(),
        "cuts/a copy.csv": (head + back).encode(),
    }
    faults = refused(given)
    assert [str(f) for f in faults if "row for row" in str(f)] == [
        "cuts/a.csv: the same list as cuts/a copy.csv, row for row, would be right: "
        "each list once; raise qty where more is wanted"
    ]


def test_stock_counted_twice_is_told() -> None:
    stock = (
        "material,kind,nominal,length,width,price,per,on_hand,lot\n"
        "2x4,lumber,2x4,96,,3,each,20,26-100\n"
        "2x4,lumber,2x4,96,,3,each,20,26-101\n"
        "2x4,lumber,2x4,96,,3,each,20,26-100\n"
    )
    cuts = "section,jig,mark,material,length,width,qty\nA,wall,S1,2x4,90,,3\n"
    given = {"day.toml": DAY.encode(), "stock.csv": stock.encode(), "cuts/a.csv": cuts.encode()}
    (told,) = [str(w) for w in warned(given) if "count twice" in str(w)]
    assert told.startswith("stock.csv:4:on_hand: 2x4 says the same as row 2")


def test_lengths_in_the_other_unit_are_told() -> None:
    day = DAY.replace('"in"', '"mm"')
    assert 'unit = "mm"' in day
    stock = "material,kind,nominal,length,width,price,per\n2x4,lumber,2x4,192,,3,each\n"
    cuts = "section,jig,mark,material,length,width,qty\nA,wall,S1,2x4,90,,3\n"
    given = {"day.toml": day.encode(), "stock.csv": stock.encode(), "cuts/a.csv": cuts.encode()}
    assert any("the longest stock would be 192 mm" in str(w) for w in warned(given))
    assert not [w for w in read(files()).warnings if "longest stock" in str(w)]
