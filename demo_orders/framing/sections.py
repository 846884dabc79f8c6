"""What the plant's (invented) approved drawings say of its five models, and of each section."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from .floors import Floor
from .lengths import Inch
from .walls import PLATE, Opening, Placed

__all__ = ["SCHEDULE", "Section", "bunkhouse", "cabin", "classroom", "comfort", "office"]


def _opening(
    tag: str,
    size: tuple[str, str],
    header: str,
    depth: str,
    *,
    plies: int = 2,
    jacks: int = 1,
    head: str = "82.5",
) -> tuple[str, Opening]:
    width, height = size
    o = Opening(tag, Inch(width), Inch(height), header, Inch(depth), plies, jacks, Inch(head))
    return tag, o


# Rough openings and headers. D doors, N windows, P doors in partitions (headers flat, not bearing).
SCHEDULE = dict(
    (
        _opening("D1", ("38", "82.5"), "2x6-SPF-2", "5.5"),
        _opening("D3", ("62", "82.5"), "2x8-DF-2", "7.25"),
        _opening("N1", ("36.5", "48.5"), "2x6-SPF-2", "5.5"),
        _opening("N2", ("60.5", "48.5"), "2x8-DF-2", "7.25"),
        _opening("N3", ("24.5", "24.5"), "2x6-SPF-2", "5.5"),
        _opening("N6", ("84.5", "60.5"), "2x10-DF-2", "9.25", jacks=2),
        # in 7-1/2-ft sidewalls, the header tight under the plate
        _opening("D2", ("38", "82.625"), "2x6-SPF-2", "5.5", head="82.625"),
        _opening("N4", ("36.5", "48.5"), "2x6-SPF-2", "5.5", head="82.625"),
        _opening("N5", ("60.5", "48.5"), "2x8-DF-2", "7.25", head="80.875"),
        _opening("P1", ("34", "82.5"), "2x3-SPF-STUD", "1.5", plies=1),
        _opening("P2", ("38", "82.5"), "2x3-SPF-STUD", "1.5", plies=1),
        _opening("P3", ("38", "82.5"), "2x4-SPF-2", "1.5", plies=1),
    )
)

Where = Sequence[tuple[str, float]]  # tag of the schedule, left edge from the start of the wall


@dataclass(frozen=True)
class Section:
    """One home section on the line: its model's frame, and what this order has chosen."""

    name: str
    model: str
    length: Inch
    width: Inch
    stud: Inch
    floor: Floor
    pitch: Inch
    overhang: Inch
    siding: str
    siding_height: Inch
    front: tuple[Placed, ...]
    back: tuple[Placed, ...] = ()
    gable: tuple[Placed, ...] = ()
    doors: tuple[Inch, ...] = ()  # of the cross partitions, from the start of each
    ridge_plies: int = 2
    braces: bool = False

    @property
    def height(self) -> Inch:
        """Height of the wall frame: stud and three plates."""
        return self.stud + 3 * PLATE


def _placed(where: Where) -> tuple[Placed, ...]:
    return tuple(Placed(SCHEDULE[tag], Inch(at)) for tag, at in where)


def _doors(doors: Sequence[float]) -> tuple[Inch, ...]:
    return tuple(Inch(at) for at in doors)


def cabin(
    name: str, feet: int, front: Where, back: Where, doors: Sequence[float], *, steep: bool = False
) -> Section:
    """Ranger cabin, 13 ft 4 in wide: flat ceiling, king-post trusses at 4/12, braced at 6/12."""
    return Section(
        name,
        "cabin",
        length=Inch(12 * feet),
        width=Inch(160),
        stud=Inch("92.625"),
        floor=Floor("2x8-SPF-2", blocking_alt="2x8-DF-2", doublers=len(doors)),
        pitch=Inch(6 if steep else 4, 12),
        overhang=Inch(20) if steep else Inch("10.5"),
        siding="SDG-PLY-19/32",
        siding_height=Inch(104),
        front=_placed(front),
        back=_placed(back),
        gable=_placed([("N1", 54)]),
        doors=_doors(doors),
        braces=steep,
    )


def office(name: str, feet: int, front: Where, back: Where, doors: Sequence[float]) -> Section:
    """Field office, 15 ft 4 in wide: 9-ft walls, flat ceiling, Fink trusses at 5/12."""
    return Section(
        name,
        "office",
        length=Inch(12 * feet),
        width=Inch(184),
        stud=Inch("104.625"),
        floor=Floor("2x10-DF-2", doublers=len(doors)),
        pitch=Inch(5, 12),
        overhang=Inch(16),
        siding="FC-5/16",
        siding_height=Inch(116),
        front=_placed(front),
        back=_placed(back),
        gable=_placed([("N2", 58.5)]),
        doors=_doors(doors),
    )


def classroom(
    name: str, feet: int, front: Where, doors: Sequence[float], *, ridge_plies: int = 2
) -> Section:
    """Half of a classroom pair, 13 ft 8 in wide: sloped ceiling from sidewall to ridge beam."""
    return Section(
        name,
        "classroom",
        length=Inch(12 * feet),
        width=Inch(164),
        stud=Inch("86.625"),
        floor=Floor("2x10-DF-2", doublers=len(doors)),
        pitch=Inch(3, 12),
        overhang=Inch(12),
        siding="FC-5/16",
        siding_height=Inch(96),
        front=_placed(front),
        gable=_placed([("N1", 42.5)]),
        doors=_doors(doors),
        ridge_plies=ridge_plies,
    )


def bunkhouse(name: str, inches: int, front: Where, back: Where, doors: Sequence[float]) -> Section:
    """Bunkhouse, 13 ft 8 in wide: rafters to a lumber ridge beam, ceiling sloped both ways."""
    return Section(
        name,
        "bunkhouse",
        length=Inch(inches),
        width=Inch(164),
        stud=Inch("86.625"),
        floor=Floor("2x8-SPF-2", blocking_alt="2x8-DF-2", doublers=len(doors)),
        pitch=Inch(4, 12),
        overhang=Inch("8.5"),
        siding="SDG-PLY-19/32",
        siding_height=Inch(96),
        front=_placed(front),
        back=_placed(back),
        doors=_doors(doors),
    )


def comfort(name: str, feet: int, front: Where, back: Where, doors: Sequence[float]) -> Section:
    """Comfort station, 11 ft 8 in wide: treated soles, rafters at 6/12 to a ridge board."""
    return Section(
        name,
        "comfort",
        length=Inch(12 * feet),
        width=Inch(140),
        stud=Inch("92.625"),
        floor=Floor("2x8-SPF-2", blocking_rows=1, doublers=len(doors)),
        pitch=Inch(6, 12),
        overhang=Inch(12),
        siding="FC-5/16",
        siding_height=Inch(104),
        front=_placed(front),
        back=_placed(back),
        gable=_placed([("N3", 54.5)]),
        doors=_doors(doors),
    )
