"""Common slips across the rows of all days, caught and explained.

What is surely wrong refuses the day; a row whose note holds the word `checked` says that a person
has held it against the drawing, and then it is only told. What the plan can leave out and name
(a part longer than any stock) is told as well and does not refuse the day.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from cutopt.cutlist.part import Day, Part, Rule
from cutopt.cutlist.reading.likes import Slip, exchanged, twelvefold
from cutopt.cutlist.reading.runs import no_way
from cutopt.materials import Edge, Edges, Offer, Rules, Stock
from cutopt.measure import INCH, Unit, show_length
from cutopt.records import Faults, Place

__all__ = ["find_repeats", "find_slips"]

#: Ceilings over a closet or a chase can be narrow; under this one is asked about. Common practice,
#: no source.
_LEAST_SPAN = 24 * INCH

_CHECKED = "or the word 'checked' in the note once the drawing has been looked at"


def _is_checked(part: Part) -> bool:
    return "checked" in part.note.casefold().replace(",", " ").replace(".", " ").split()


def _at(part: Part, column: str) -> Place:
    return Place(part.place.file, part.place.row, column)


def _size(part: Part, unit: Unit) -> str:
    size = show_length(part.length, unit)
    return size if part.width is None else f"{size} x {show_length(part.width, unit)}"


def _tell(faults: Faults, checked: bool, place: Place, wrong: str, read: str, right: str) -> None:
    if checked:
        faults.warn(place, wrong + " (checked)", read, right)
    else:
        faults.add(place, wrong, read, f"{right}, {_CHECKED}" if right else _CHECKED)


def find_repeats(days: Sequence[Day], faults: Faults) -> None:
    """Rows, runs and whole sections that stand more than once."""
    runs: dict[tuple[str, str, str], Part] = {}
    for day in days:
        seen: dict[tuple[str, str, str], Part] = {}
        for part in day.parts:
            key = (part.section, part.mark, part.material)
            before = seen.get(key)
            if before is not None:
                _repeat(before, part, day.unit, faults)
                continue
            seen[key] = part
            if part.rule is not Rule.PART:
                other = runs.setdefault(key, part)
                if other is not part:
                    faults.add(
                        _at(part, "mark"),
                        f"this {_what(part)} of {part.section} is in another day too, at "
                        f"{other.place}",
                        part.mark,
                        "each once",
                    )
    _sections_again(days, faults)


def _what(part: Part) -> str:
    return "field" if part.rule is Rule.FULL_SPAN else "run"


def _repeat(before: Part, part: Part, unit: Unit, faults: Faults) -> None:
    same = (before.length, before.width) == (part.length, part.width)
    if before.rule is not Rule.PART or part.rule is not Rule.PART:
        whose = before if before.rule is not Rule.PART else part
        faults.add(
            _at(part, "mark"),
            f"{part.section} has a {_what(whose)} with this mark, whose rows are at "
            f"{before.place} and here",
            part.mark,
            "one row, with its qty",
        )
    elif not same:
        column = "length" if before.length != part.length else "width"
        _tell(
            faults,
            _is_checked(before) or _is_checked(part),
            _at(part, column),
            f"{part.mark} of {part.section} in {part.material} is {_size(before, unit)} at "
            f"{before.place} and {_size(part, unit)} here",
            _size(part, unit),
            "one size for a mark, or two marks",
        )
    elif before.jig == part.jig:
        faults.warn(
            part.place,
            f"{part.mark} of {part.section} in {part.material} stands at {before.place} already; "
            f"both rows are planned, {before.qty} and {part.qty}",
        )


def _sections_again(days: Sequence[Day], faults: Faults) -> None:
    known: dict[tuple[str, frozenset[tuple[object, ...]]], Part] = {}
    for day in days:
        sections: dict[str, list[Part]] = defaultdict(list)
        for part in day.parts:
            sections[part.section].append(part)
        for section, parts in sections.items():
            rows = frozenset((p.mark, p.material, p.length, p.width, p.qty, p.rule) for p in parts)
            before = known.setdefault((section, rows), parts[0])
            if before is not parts[0]:
                faults.warn(
                    parts[0].place,
                    f"the cut list of {section} is the same as at {before.place}, row for row: "
                    "it is planned twice",
                    section,
                    "each section once",
                )


#: The usable (length, width) of a size that can be had; the width of a stick is None.
_Room = tuple[int, int | None]


class _Sizes:
    """What the stock gives for a part, trims taken off, with the rules that hold for it."""

    def __init__(self, stock: Stock, rules: Rules) -> None:
        self._rules = rules
        self._offers: dict[str, list[Offer]] = defaultdict(list)
        for offer in stock.offers:
            if offer.available != 0:
                self._offers[offer.material].append(offer)
        self._rooms: dict[tuple[tuple[str, ...], bool], list[_Room]] = {}

    def rooms(self, part: Part) -> list[_Room]:
        """The usable sizes of the part's materials, without those that lie within another."""
        key = (part.materials, part.rule is Rule.FULL_SPAN)
        if key not in self._rooms:
            found = sorted(
                {self._room(o, key[1]) for m in part.materials for o in self._offers[m]},
                key=lambda room: (-room[0], -(room[1] or 0)),
            )
            widest = -1
            rooms = []
            for room in found:
                if (room[1] or 0) > widest:
                    widest = room[1] or 0
                    rooms.append(room)
            self._rooms[key] = rooms
        return self._rooms[key]

    def _room(self, offer: Offer, is_field: bool) -> _Room:
        if offer.width is None:
            return offer.counts_as - self._rules.for_lumber(offer.material).head_trim, None
        # The rows of a ceiling field keep their boards' factory edges: nothing is trimmed off.
        trim = 0 if is_field else 2 * self._rules.for_sheets(offer.material).edge_trim
        return offer.length - trim, offer.width - trim


def _fits(length: int, width: int | None, room: _Room) -> bool:
    return length <= room[0] and (width is None or room[1] is None or width <= room[1])


def find_slips(days: Sequence[Day], stock: Stock, rules: Rules, faults: Faults) -> None:
    """Slips that show against the stock and against the like of a part.

    Parameters
    ----------
    days
        With sound rows only.
    stock, rules
        The first day's: all days are planned against them. Every row of the stock is sound.
    faults
        Takes the faults and warnings.
    """
    sizes = _Sizes(stock, rules)
    parts: list[Part] = []
    unit_of: dict[Part, Unit] = {}
    longest: dict[Part, int] = {}
    for day in days:
        parts += day.parts
        for part in day.parts:
            rooms = sizes.rooms(part)
            if not any(_fits(part.length, part.width, r) for r in rooms):
                unit_of[part] = day.unit
                longest[part] = max((r[0] for r in rooms), default=0)
    kind_of = {m: k for m, k in stock.kinds.items() if k is not None}
    told: set[Part] = set()
    units = {d.unit for d in days}
    unit: Unit = days[0].unit if len(units) == 1 else "in"
    _lost_edges([p for p in parts if p not in longest], stock, rules, unit, faults)
    for day in days:
        for part in day.parts:
            if part.rule is Rule.FULL_SPAN and part not in longest and not _is_checked(part):
                _short_span(part, sizes.rooms(part), day.unit, faults)
    too_long = {p: n for p, n in longest.items() if p.length > n and p.rule is not Rule.JOINTED}
    for slip in twelvefold(parts, kind_of, too_long):
        told.add(slip.part)
        _tell_twelvefold(slip, unit, faults)
    for slip in exchanged(parts):
        told.add(slip.part)
        faults.warn(
            _at(slip.part, "width"),
            f"length and width exchanged beside its like at {slip.like.place}"
            + (f" and {slip.others - 1} more" if slip.others > 1 else ""),
            _size(slip.part, unit),
            _size(slip.like, unit),
        )
    for part in longest:
        if part not in told:
            _too_large(
                part,
                sizes.rooms(part),
                rules,
                unit_of[part],
                faults,
            )


def _short_span(part: Part, rooms: list[_Room], unit: Unit, faults: Faults) -> None:
    """A ceiling that could hardly be stood under, and whose feet would be a board's length."""
    feet = 12 * part.length
    if unit == "in" and part.length < _LEAST_SPAN and feet <= max(room[0] for room in rooms):
        faults.warn(
            _at(part, "length"),
            "a short span for a ceiling (feet typed for inches?)",
            _size(part, unit),
            f"{show_length(feet, unit)} x {show_length(12 * (part.width or 0), unit)} if so, "
            "or the word 'checked' in the note",
        )


def _lost_edges(
    parts: Sequence[Part], stock: Stock, rules: Rules, unit: Unit, faults: Faults
) -> None:
    """Parts that ask for factory edges which no sheet offered leaves them."""
    offered: dict[str, list[Offer]] = defaultdict(list)
    for offer in stock.offers:
        if offer.available != 0 and not rules.for_sheets(offer.material).edge_trim:
            offered[offer.material].append(offer)
    for part in parts:
        if not part.edge:
            continue
        offers = [o for m in part.materials for o in offered[m]]
        names = " or ".join(part.materials)
        read = part.edge.value
        if not offers:
            wrong = f"edge_trim cuts the factory edges of {names} away"
            faults.warn(_at(part, "edge"), wrong, read, "an edge_trim of 0 for it")
        elif part.edge is Edge.BOTH:
            widths = sorted({o.width or 0 for o in offers if o.edges is Edges.BOTH})
            if part.width not in widths:
                faults.warn(
                    _at(part, "width"),
                    f"a part with both factory edges is as wide as its sheet, and no {names} is "
                    f"{show_length(part.width or 0, unit)} wide with both",
                    show_length(part.width or 0, unit),
                    " or ".join(show_length(w, unit) for w in widths[:6]),
                )
        elif not any(part.edge in o.edges.squared | o.edges.far for o in offers):
            faults.warn(_at(part, "edge"), f"no {names} offered has such a factory edge", read)


def _tell_twelvefold(slip: Slip, unit: Unit, faults: Faults) -> None:
    part, like = slip.part, slip.like
    how = "long" if slip.long else "short"
    more = f" and in {slip.others - 1} more rows" if slip.others > 1 else ""
    why = "inches typed as feet" if slip.long else "feet typed for inches"
    wrong = (
        f"12 times too {how} beside its like ({why}?): {part.mark} in {part.material} is "
        f"{show_length(like.length, unit)} at {like.place}{more}"
    )
    place, read = _at(part, "length"), show_length(part.length, unit)
    right = show_length(like.length, unit)
    if slip.sure:
        _tell(faults, _is_checked(part), place, wrong, read, right)
    elif not _is_checked(part):
        faults.warn(place, wrong, read, right)


def _too_large(
    part: Part,
    rooms: list[_Room],
    rules: Rules,
    unit: Unit,
    faults: Faults,
) -> None:
    names = " or ".join(part.materials)
    size = _size(part, unit)
    if not rooms:
        faults.warn(_at(part, "material"), f"no piece of {names} can be had", part.material)
        return
    most = max(room[0] for room in rooms)
    if part.rule is Rule.FULL_SPAN:
        _long_span(part, most, unit, faults)
        return
    if part.rule is Rule.JOINTED:
        _long_run(part, rooms, rules, unit, faults)
        return
    turned = part.width is not None and any(_fits(part.width, part.length, r) for r in rooms)
    if turned and part.turn:
        return
    if turned:
        _tell(
            faults,
            _is_checked(part),
            _at(part, "length"),
            f"no sheet of {names} holds it as written, and with length and width exchanged one "
            "does",
            size,
            f"{show_length(part.width or 0, unit)} x {show_length(part.length, unit)}, or turn yes "
            "where the drawing lets it be turned",
        )
        return
    if part.width is None or part.length > most:
        what = "stick" if part.width is None else "sheet"
        faults.warn(
            _at(part, "length"),
            f"longer than any {what} of {names} offered, of which the longest gives "
            f"{show_length(most, unit)}",
            size,
            _as_feet(part.length, most, unit),
        )
        return
    faults.warn(_at(part, "width"), f"no sheet of {names} offered is as wide and long", size)


def _as_feet(length: int, most: int, unit: Unit) -> str:
    twelfth, rest = divmod(length, 12)
    if unit == "mm" or rest or twelfth % (INCH // 64) or not 3 * INCH <= twelfth <= most:
        return ""
    return f"{show_length(twelfth, unit)} if inches were typed as feet"


def _long_span(part: Part, most: int, unit: Unit, faults: Faults) -> None:
    if part.length <= most:
        return
    run = part.width or 0
    right = f"a board of {show_length(part.length, unit)} or longer"
    if run <= most:
        right += f", or span {show_length(run, unit)} if span and run were exchanged"
    faults.warn(
        _at(part, "length"),
        f"a span that no board of {' or '.join(part.materials)} covers; the longest is "
        f"{show_length(most, unit)}",
        show_length(part.length, unit),
        right,
    )


def _long_run(
    part: Part,
    rooms: list[_Room],
    rules: Rules,
    unit: Unit,
    faults: Faults,
) -> None:
    wide = [r[0] for r in rooms if part.width is None or r[1] is None or part.width <= r[1]]
    if part.turn:
        wide += [r[1] for r in rooms if r[1] is not None and (part.width or 0) <= r[0]]
    if not wide:
        faults.warn(
            _at(part, "width"),
            f"no sheet of {' or '.join(part.materials)} offered is as wide",
            _size(part, unit),
        )
        return
    joints = part.joints
    shortest = rules.for_lumber(part.material).joint_min_piece
    if joints is None:
        return
    why = no_way(part.length, joints.first, joints.step, shortest, max(wide), unit)
    if why:
        faults.warn(
            _at(part, "joint_step"),
            f"a run that its joints can't make: {why}",
            f"{show_length(part.length, unit)}, {show_length(joints.first, unit)} + k x "
            f"{show_length(joints.step, unit)}",
        )
