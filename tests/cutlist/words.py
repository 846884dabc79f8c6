"""A small day as words, for the tests of reading: change a line and see what is told."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from cutopt.cutlist import Reading, read_raw_days
from cutopt.files import raw_day_from_files
from cutopt.records import Fault, InputRefused

DAY = """plant = "Test Works"
date = 2026-03-02
unit = "in"
"""

STOCK = """material,kind,nominal,length,width,price,per,on_hand,limit,bundle,lot
2x4-SPF,lumber,2x4,192,,600,MBF,5,,208,A1
2x4-SPF,lumber,2x4,240,,620,MBF,,,,
2x4-DF,lumber,2x4,192,,640,MBF,,,,
OSB,sheet,,96,48,14.50,each,,,,
GYP,sheet,,144,48,450,MSF,,10,,
"""

CUTS = """section,jig,mark,material,length,width,qty,turn,rule,alt,need,\
joint_first,joint_step,joint_clear,joint_mate,note
A,Wall,STUD,2x4-SPF,92-5/8,,20,,,2x4-DF,1,,,,,
A,Wall,TOP-1,2x4-SPF,480,,1,,jointed,,1,16,16,24,TOP-2,
A,Wall,TOP-2,2x4-SPF,480,,1,,jointed,,1,16,16,24,TOP-1,
A,Deck,D1,OSB,95-7/8,47-1/2,4,no,,,2,,,,,
A,Ceiling,C,GYP,143,400,1,,full-span,,3,,,,,
B,Wall,STUD,2x4-SPF,92-5/8,,20,,,,4,,,,,
"""

Files = dict[str, bytes]


def files(day: str = DAY, stock: str | None = STOCK, cuts: str | Mapping[str, str] = CUTS) -> Files:
    """The contents of a day folder; `cuts` may be one cut list or several by name."""
    lists = {"walls": cuts} if isinstance(cuts, str) else cuts
    made = {"day.toml": day} | {f"cuts/{name}.csv": text for name, text in lists.items()}
    if stock is not None:
        made["stock.csv"] = stock
    return {name: text.encode() for name, text in made.items()}


def row(line: int, text: str = CUTS, **cells: str) -> str:
    """The csv text with some cells of one line (the header is 1) replaced."""
    lines = text.splitlines()
    columns = lines[0].split(",")
    fields = lines[line - 1].split(",")
    for column, value in cells.items():
        fields[columns.index(column)] = value
    lines[line - 1] = ",".join(fields)
    return "\n".join(lines) + "\n"


def without(column: str, text: str = CUTS) -> str:
    """The csv text without one column."""
    lines = [line.split(",") for line in text.splitlines()]
    at = lines[0].index(column)
    return "".join(",".join(f[:at] + f[at + 1 :]) + "\n" for f in lines)


def more(*rows: str, text: str = CUTS) -> str:
    """The csv text with further rows, each short of as many trailing blanks as it needs."""
    width = text.splitlines()[0].count(",")
    return text + "".join(r + "," * (width - r.count(",")) + "\n" for r in rows)


def read(*days: Files) -> Reading:
    """The days, named d1, d2 ..., read together."""
    return read_raw_days([raw_day_from_files(f"d{i}", d) for i, d in enumerate(days, 1)])


def refused(*days: Files) -> list[Fault]:
    """The faults for which the days are refused."""
    with pytest.raises(InputRefused) as caught:
        read(*days)
    assert list(caught.value.faults) == sorted(set(caught.value.faults))
    return list(caught.value.faults)


def only(*days: Files) -> str:
    """The one fault for which the days are refused, as told."""
    faults = refused(*days)
    assert len(faults) == 1, "\n".join(map(str, faults))
    return str(faults[0])


def warned(*days: Files) -> list[str]:
    """The warnings, as told."""
    return [str(w) for w in read(*days).warnings]
