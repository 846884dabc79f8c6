"""Little day folders, and the command run in this process."""

from __future__ import annotations

from pathlib import Path

import pytest

DAY = """plant = "Hask Lake Section Works"
date = 2026-03-02
unit = "in"
"""
STOCK = """material,kind,nominal,length,width,price,per,on_hand,limit,bundle,lot
2x4-SPF-2,lumber,2x4,96,,600,MBF,0,,208,
2x4-SPF-2,lumber,2x4,120,,600,MBF,2,,208,
2x4-SPF-2,lumber,2x4,53-3/8,,600,MBF,1,0,,rack
OSB-7/16,sheet,,96,48,500,MSF,0,,,
GYP-CLG,sheet,,144,48,500,MSF,0,,,
GYP-CLG,sheet,,168,48,500,MSF,0,,,
"""
CUTS = """section,jig,mark,material,length,width,qty,rule,joint_first,joint_step,turn,note
Alder,Wall table,STUD,2x4-SPF-2,92-5/8,,12,,,,,
Alder,Wall table,PLATE,2x4-SPF-2,240,,1,jointed,16,16,,
Alder,Wall table,BLOCK,2x4-SPF-2,14-1/2,,9,,,,,
Alder,Deck station,DECK,OSB-7/16,47-7/8,23-7/8,7,,,,yes,
Alder,Ceiling table,CEILING,GYP-CLG,142,204,1,full-span,,,,
"""


@pytest.fixture
def day(tmp_path: Path):  # type: ignore[no-untyped-def]
    """A maker of day folders: any of the three texts can be exchanged."""

    def make(
        name: str = "2026-03-02", day: str = DAY, stock: str = STOCK, cuts: str = CUTS
    ) -> Path:
        folder = tmp_path / name
        (folder / "cuts").mkdir(parents=True)
        (folder / "day.toml").write_text(day, encoding="utf-8")
        if stock:
            (folder / "stock.csv").write_text(stock, encoding="utf-8")
        (folder / "cuts" / "all.csv").write_text(cuts, encoding="utf-8")
        return folder

    return make
