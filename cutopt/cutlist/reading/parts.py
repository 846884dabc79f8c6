"""Cut lists read row by row: each row alone, against the materials that are known."""

from __future__ import annotations

from collections.abc import Iterable

from cutopt.cutlist.part import Joints, Part, Rule
from cutopt.materials import Edge, Kind, Stock
from cutopt.measure import Cells, Unit, check_columns
from cutopt.records import Faults, Place, Table, known_or_nearest

__all__ = ["CUT_COLUMNS", "PartReader"]

CUT_COLUMNS = (
    *("section", "jig", "mark", "material", "length", "width", "qty", "turn", "rule", "alt"),
    *("need", "joint_first", "joint_step", "joint_clear", "joint_mate", "note", "edge"),
)
_REQUIRED = ("section", "jig", "mark", "material", "length", "qty")
_JOINT_COLUMNS = ("joint_first", "joint_step", "joint_clear", "joint_mate")
_TURN = {
    "": False,
    **dict.fromkeys(("no", "n", "false", "0"), False),
    **dict.fromkeys(("yes", "y", "true", "1"), True),
}
#: Unknown codes for which a like is looked for, among at most so many known ones.
_MOST_ASKED = 200
_MOST_CODES = 2_000
_RULES = {r.value: r for r in Rule}
_EDGES = {e.value: e for e in Edge}


class PartReader:
    """Reads cut lists in one unit against the materials of the stock that they are planned on.

    Where that stock is not complete an unknown code is no fault. `lost` gathers the (section,
    mark) of rows that had faults.
    """

    def __init__(self, unit: Unit, stock: Stock, faults: Faults) -> None:
        self._unit = unit
        self._kinds = stock.kinds
        self._nominals = stock.nominals
        self._complete = stock.complete
        self._faults = faults
        self.lost: set[tuple[str, str]] = set()
        self._asked: dict[str, str] = {}

    def read(self, tables: Iterable[Table]) -> tuple[Part, ...]:
        """Every sound row of every table, in order; the others have told their faults."""
        parts = []
        for table in tables:
            if not check_columns(table, CUT_COLUMNS, _REQUIRED, self._faults):
                continue
            self._without_width(table)
            for row in table.rows:
                if self._faults.full:
                    break
                part = self._part(Cells(table, row, self._unit, self._faults))
                if part is not None:
                    parts.append(part)
                else:
                    self.lost.add((row.cells.get("section", ""), row.cells.get("mark", "")))
        return tuple(parts)

    def _part(self, cells: Cells) -> Part | None:
        section = cells.required("section", "the home section that the part goes into")
        mark = cells.required("mark", "the piece mark")
        material = cells.required("material", "a code of stock.csv")
        kind = self._kind(cells, "material", material)
        rule = cells.word("rule", _RULES)
        length = cells.length("length", "the length, long point to long point")
        qty = cells.count("qty", "pieces, 1 or more", least=1)
        if not cells.text("qty"):
            cells.fault("qty", "blank", "pieces, 1 or more")
        width = self._width(cells, kind, rule)
        turn = cells.word("turn", _TURN, "yes, no or blank")
        if turn and rule is Rule.FULL_SPAN:
            cells.warn("turn", "a full-span field is not turned: its rows run along the span")
            turn = False
        edge = _edge(cells, kind, rule, bool(turn))
        alt = self._alternates(cells, material, kind)
        need = cells.count("need", "the order in which the line wants it, a whole number")
        joints = None
        if rule is Rule.JOINTED:
            joints = _joints(cells, mark)
        elif rule is not None:
            for column in _JOINT_COLUMNS:
                cells.refuse(column, "a joint rule on a row that is not jointed")
        if rule is Rule.FULL_SPAN and kind is Kind.LUMBER:
            cells.fault("rule", f"full-span on {material}, which is lumber", "a sheet material")
        if not cells.sound or length is None or qty is None or rule is None or edge is None:
            return None
        return Part(
            place=cells.place(),
            section=section,
            jig=cells.text("jig"),
            mark=mark,
            material=material,
            length=length,
            width=width,
            qty=qty,
            turn=bool(turn),
            rule=rule,
            alt=alt,
            need=need,
            joints=joints,
            note=cells.text("note"),
            edge=edge,
        )

    def _without_width(self, table: Table) -> None:
        """Sheets in a table without the column: told once at its header, not row by row."""
        if "width" in table.columns:
            return
        if any(self._kinds.get(r.cells.get("material", "")) is Kind.SHEET for r in table.rows):
            self._faults.add(
                Place(table.name, table.header, "width"),
                "the column 'width' is missing, and sheets are asked for",
                right="a header with width, before or behind any other column",
            )

    def _kind(self, cells: Cells, column: str, code: str) -> Kind | None:
        if code and code not in self._kinds and self._complete:
            cells.fault(column, "no such material in stock.csv", self._nearest(code), code)
        return self._kinds.get(code)

    def _nearest(self, code: str) -> str:
        # A code misspelt once is misspelt a thousand times: look for its like once. Where every
        # row has another unknown code the file is of another plant, and none has a like.
        if code not in self._asked:
            if len(self._asked) >= _MOST_ASKED or len(self._kinds) > _MOST_CODES:
                return "a code of stock.csv"
            self._asked[code] = known_or_nearest(code, self._kinds)
        return self._asked[code]

    def _width(self, cells: Cells, kind: Kind | None, rule: Rule | None) -> int | None:
        if kind is Kind.LUMBER:
            cells.refuse_width(self._nominals.get(cells.text("material")))
            return None
        if kind is Kind.SHEET and "width" not in cells.table.columns:
            cells.sound = False
            return None
        if kind is Kind.SHEET or cells.text("width"):
            right = "the width of the part"
            if rule is Rule.FULL_SPAN:
                right = "the run of the field along the section"
            return cells.length("width", right)
        return None

    def _alternates(self, cells: Cells, material: str, kind: Kind | None) -> tuple[str, ...]:
        text = cells.text("alt")
        if not text:
            return ()
        by_comma = [c.strip() for c in text.split(",")]
        if len(by_comma) > 1 and all(c in self._kinds for c in by_comma):
            cells.fault("alt", "a comma between codes", ";".join(by_comma))
            return ()
        codes: list[str] = []
        for code in (c.strip() for c in text.split(";")):
            if not code:
                continue
            other = self._kind(cells, "alt", code)
            if other is not None and kind is not None and other is not kind:
                cells.fault(
                    "alt",
                    f"{code} is {other.value}, {material} is {kind.value}",
                    "materials of one kind",
                )
            if code == material or code in codes:
                cells.warn("alt", f"{code} is named twice")
            else:
                codes.append(code)
        return tuple(codes)


def _edge(cells: Cells, kind: Kind | None, rule: Rule | None, turn: bool) -> Edge | None:
    """The factory edges that the row asks for; None with a fault told."""
    if not cells.text("edge"):
        return Edge.NONE
    if kind is Kind.LUMBER:
        cells.fault("edge", "a factory edge on lumber", "a blank")
        return None
    if rule is Rule.FULL_SPAN:
        cells.fault(
            "edge", "a full-span field, whose rows meet on factory edges without it", "a blank"
        )
        return None
    if rule is Rule.JOINTED:
        cells.fault(
            "edge", "a factory edge on a jointed run", "a blank, or a row of its own for each piece"
        )
        return None
    edge = cells.word("edge", _EDGES)
    if edge is not None and turn:
        cells.fault(
            "turn",
            f"a part with edge '{edge.value}' is not turned: its length lies along the sheet's",
            "no or a blank",
        )
        return None
    return edge


def _joints(cells: Cells, mark: str) -> Joints | None:
    first = cells.length("joint_first", "where the first joint may be", positive=False)
    step = cells.length("joint_step", "from one place for a joint to the next, above zero")
    mate = cells.text("joint_mate") or None
    clear = 0
    if cells.text("joint_clear"):
        clear = cells.length("joint_clear", "the least distance", positive=False) or 0
        if mate is None and clear:
            cells.fault(
                "joint_mate", "blank, with a joint_clear", "the mark of the run to keep clear of"
            )
    elif mate is not None:
        cells.fault(
            "joint_clear",
            f"blank, with the mate {mate}",
            "the least distance from the mate's joints",
        )
    if mate == mark:
        cells.fault("joint_mate", "a run that is its own mate", "the mark of another run")
    if first is None or step is None:
        return None
    return Joints(first, step, clear, mate)
