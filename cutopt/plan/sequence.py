"""The saw cuts of a sheet, one by one, as a person makes them.

Every cut is made on a piece that lies on the saw whole: the sheet, a strip, a stack. It is told by
its running measure, which is read from an edge of that piece with a tape laid once for all cuts of
the piece, and by what the fence or stop is set to, which is read from the fresh edge that the cut
before it left. Both give the finished size: the kerf lies beyond them.

Cuts come stage by stage, within a stage piece by piece, within a piece from its squared edge or
head on. Parts and drops are what the layout says; no cut goes through one of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

from cutopt.materials import SheetRules
from cutopt.plan.guillotine import Axis, Rect, first_axes
from cutopt.plan.layout import Layout

__all__ = [
    "CutSequence",
    "Datum",
    "Form",
    "Piece",
    "SawCut",
    "cut_sequence",
    "letters",
    "usable_edge",
]


class Form(StrEnum):
    """What a piece is when it comes off the saw.

    A strip comes off the sheet; a stack off a strip, with several parts in it; a blank holds one
    part that is not yet at its size. The rest holds drops alone.
    """

    SHEET = "sheet"
    STRIP = "strip"
    STACK = "stack"
    BLANK = "blank"
    REST = "rest"
    PART = "part"
    KEPT = "kept drop"
    WASTE = "waste"


class Datum(StrEnum):
    """The edge of a piece that its running measures are read from.

    The near edge is the one towards the squared edge of the sheet, the head the end towards its
    squared head.
    """

    FACTORY = "factory edge"
    SQUARED = "squared edge"
    SAWN = "sawn edge"
    FAR_FACTORY = "far factory edge"
    FAR_SQUARED = "far squared edge"
    FAR_SAWN = "far sawn edge"
    HEAD = "head"
    SQUARED_HEAD = "squared head"
    SAWN_END = "sawn end"
    TAIL = "tail end"
    SQUARED_TAIL = "squared tail end"
    FAR_SAWN_END = "far sawn end"

    @property
    def far(self) -> bool:
        """Whether it is the edge or end away from the squared corner."""
        return self in _FAR


_FAR = frozenset(
    (
        *(Datum.FAR_FACTORY, Datum.FAR_SQUARED, Datum.FAR_SAWN),
        *(Datum.TAIL, Datum.SQUARED_TAIL, Datum.FAR_SAWN_END),
    )
)


@dataclass(frozen=True, slots=True)
class Piece:
    """Something that lies on the saw or comes off it.

    `rect` is where it lies in the squared sheet. `name` tells where it comes from: strip `B`, its
    second stack `B2`, in that the first part `B2a`; waste has none. `index` is that of the part or
    drop in the layout.
    """

    form: Form
    name: str
    rect: Rect
    index: int | None = None

    def __str__(self) -> str:
        """As it is called: `the sheet`, `strip A`, `part A2`, `waste`."""
        if self.form is Form.SHEET:
            return "the sheet"
        return f"{self.form.value} {self.name}" if self.name else self.form.value


@dataclass(frozen=True, slots=True)
class SawCut:
    """One cut from edge to edge of `piece`, as that lay on the saw before its first cut.

    `measure` is read from `datum` to the blade, `fence` from the fresh edge (the same for a cut
    that is measured from the far side). `at` is where the blade's near side runs in the squared
    sheet, `kerf` what it takes: less than a kerf where it hangs over the edge. Stage 0 squares the
    sheet; `trim` marks the free trimming cut after the last stage. What comes off and is not cut on
    by this stage is in `yields`: after the last cut of a piece, both sides of the blade.
    """

    number: int
    stage: int
    axis: Axis
    piece: Piece
    datum: Datum
    measure: int
    fence: int
    at: int
    kerf: int
    yields: tuple[Piece, ...]
    trim: bool = False


@dataclass(frozen=True, slots=True)
class CutSequence:
    """All cuts of a sheet in the order to be made.

    `names` and `turns` go with the layout's parts: what each is called, and when it comes off, as
    a place in the order of names. `edge` is what is squared off every side beforehand.
    """

    cuts: tuple[SawCut, ...]
    names: tuple[str, ...]
    turns: tuple[int, ...]
    edge: int

    @property
    def stages(self) -> int:
        """The highest stage that has a cut, trimming not counted."""
        return max((c.stage for c in self.cuts if not c.trim), default=0)


def usable_edge(layout: Layout, rules: SheetRules) -> int:
    """What is squared off each side; nothing where a ceiling row keeps its factory edges."""
    return 0 if any(p.full_span for p in layout.parts) else rules.edge_trim


def cut_sequence(layout: Layout, rules: SheetRules) -> CutSequence | None:
    """The saw cuts of one sheet of a layout.

    Parameters
    ----------
    layout
        A sheet's layout: parts and drops in counts from the squared corner.
    rules
        Kerf, edge trim, first cut and stages of its material.

    Returns
    -------
    CutSequence or None
        Of the first cuts that the rules allow, the one that needs fewer cuts. None where parts and
        drops don't fill the sheet but for kerfs, or the cuts that free them break the rules.
    """
    edge = usable_edge(layout, rules)
    length, width = layout.offer.length - 2 * edge, (layout.offer.width or 0) - 2 * edge
    leaves = [
        Piece(Form.PART, "", Rect(p.x, p.y, p.along, p.across), i)
        for i, p in enumerate(layout.parts)
    ]
    leaves += [
        Piece(Form.KEPT if d.kept else Form.WASTE, "", Rect(d.x, d.y, d.length, d.width or 0), i)
        for i, d in enumerate(layout.drops)
    ]
    whole = Rect(0, 0, length, width)
    if not leaves or not all(_inside(leaf.rect, whole) for leaf in leaves):
        return None
    found: list[_Saw] = []
    for axis in first_axes(rules.first_cut):
        saw = _Saw(rules.kerf, rules.stages, whole, _edges(layout, edge))
        if saw.divide(Piece(Form.SHEET, "", whole), leaves, axis, 1):
            found.append(saw)
    if not found:
        return None
    best = min(found, key=lambda saw: len(saw.cuts))
    squaring = _squaring(layout, edge, rules.kerf, whole)
    if squaring and not best.cuts:
        # The squared sheet is the part.
        alone = replace(leaves[0], name="A")
        squaring[-1] = replace(squaring[-1], yields=(alone,))
    return CutSequence(
        tuple(best.numbered(squaring)),
        tuple(best.names[i] for i in range(len(layout.parts))),
        tuple(list(best.names).index(i) for i in range(len(layout.parts))),
        edge,
    )


def _edges(layout: Layout, edge: int) -> tuple[Datum, Datum]:
    """What the long edges of the usable sheet are: the near one, the far one."""
    if edge:
        return Datum.SQUARED, Datum.FAR_SQUARED
    edges = layout.offer.edges
    return (
        Datum.FACTORY if edges.squared else Datum.SAWN,
        Datum.FAR_FACTORY if edges.far else Datum.FAR_SAWN,
    )


def _inside(rect: Rect, whole: Rect) -> bool:
    return (
        rect.x >= 0
        and rect.y >= 0
        and rect.length > 0
        and rect.width > 0
        and rect.x + rect.length <= whole.length
        and rect.y + rect.width <= whole.width
    )


def _squaring(layout: Layout, edge: int, kerf: int, whole: Rect) -> list[SawCut]:
    """The four cuts that square a sheet: each long edge, then the head and the tail.

    The first of each pair lies against the untouched far side, so that what is kept runs along the
    fence; the second against the edge that the first has made.
    """
    if not edge:
        return []
    taken = min(kerf, edge)
    length, width = layout.offer.length, layout.offer.width or 0
    steps = (
        (Axis.RIP, Rect(-edge, -edge, length, width), Datum.FAR_FACTORY, width - edge),
        (Axis.RIP, Rect(-edge, 0, length, width - edge), Datum.SQUARED, whole.width),
        (Axis.CROSS, Rect(-edge, 0, length, whole.width), Datum.TAIL, length - edge),
        (Axis.CROSS, Rect(0, 0, length - edge, whole.width), Datum.SQUARED_HEAD, whole.length),
    )
    return [
        SawCut(
            number=0,
            stage=0,
            axis=axis,
            piece=Piece(Form.SHEET, "", rect),
            datum=datum,
            measure=kept,
            fence=kept,
            at=-taken if datum.far else kept,
            kerf=taken,
            yields=(),
        )
        for axis, rect, datum, kept in steps
    ]


@dataclass(slots=True)
class _Saw:
    """Cuts gathered while pieces are divided; `names` of parts in the order of the pieces."""

    kerf: int
    stages: int
    whole: Rect
    edges: tuple[Datum, Datum]
    cuts: list[SawCut] = field(default_factory=list)
    names: dict[int, str] = field(default_factory=dict)
    rests: int = 0

    def numbered(self, squaring: Sequence[SawCut]) -> list[SawCut]:
        """Squaring first, then stage by stage; stages counted from the first that has a cut."""
        early = min((c.stage for c in self.cuts if not c.trim), default=1) - 1
        ordered = [*squaring, *sorted(self.cuts, key=lambda c: c.stage)]
        return [
            replace(c, number=number, stage=c.stage - early if c.stage else 0)
            for number, c in enumerate(ordered, start=1)
        ]

    def divide(self, piece: Piece, leaves: Sequence[Piece], axis: Axis, stage: int) -> bool:
        """Cut a piece along `axis` and all that follows; False where that can't be done."""
        if len(leaves) == 1 and leaves[0].rect == piece.rect:
            leaf = leaves[0]
            if leaf.form is Form.PART and leaf.index is not None:
                self.names[leaf.index] = piece.name or "A"
            return True
        parts = sum(leaf.form is Form.PART for leaf in leaves)
        trim = stage > self.stages
        if trim and (parts > 1 or stage > self.stages + 1):
            return False
        groups = _groups(leaves, axis, self.kerf)
        if len(groups) == 1 and groups[0][:2] == _ends(piece.rect, axis):
            return self.divide(piece, leaves, axis.other, stage + 1)
        children = self._children(piece, groups, axis)
        if not self._cut(piece, [child for child, _ in children], axis, stage, trim):
            return False
        return all(
            self.divide(child, members, axis.other, stage + 1) for child, members in children
        )

    def _children(
        self, piece: Piece, groups: Sequence[_Group], axis: Axis
    ) -> list[tuple[Piece, list[Piece]]]:
        """The pieces that a piece is cut into, named."""
        holding = [any(m.form is Form.PART for m in members) for _, _, members in groups]
        made: list[tuple[Piece, list[Piece]]] = []
        count = 0
        for (low, high, members), holds in zip(groups, holding, strict=True):
            rect = _slice(piece.rect, axis, low, high)
            final = len(members) == 1 and members[0].rect == rect
            name = ""
            if holds:
                if piece.form is Form.SHEET:
                    name = letters(count)
                elif sum(holding) == 1:
                    name = piece.name
                else:
                    name = piece.name + _suffix(piece.name, count)
                count += 1
            index = None
            if final:
                form, index = members[0].form, members[0].index
            elif not holds:
                self.rests += 1
                form, name = Form.REST, str(self.rests)
            elif piece.form is Form.SHEET or (name == piece.name and piece.form is Form.STRIP):
                form = Form.STRIP
            else:
                form = Form.BLANK if len(_parts(members)) == 1 else Form.STACK
            made.append((Piece(form, name, rect, index), members))
        return made

    def _cut(
        self, piece: Piece, children: Sequence[Piece], axis: Axis, stage: int, trim: bool
    ) -> bool:
        """The cuts that part the children; False where something is left over between them."""
        start, end = _ends(piece.rect, axis)
        near, far = self._data(piece.rect, axis)
        at = start
        made: list[SawCut] = []

        def add(blade: int, taken: int, yields: tuple[Piece, ...], from_far: bool) -> None:
            kept = end - blade - taken
            made.append(
                SawCut(
                    number=0,
                    stage=stage,
                    axis=axis,
                    piece=piece,
                    datum=far if from_far else near,
                    measure=kept if from_far else blade - start,
                    fence=kept if from_far else blade - at,
                    at=blade,
                    kerf=taken,
                    yields=yields,
                    trim=trim,
                )
            )

        for place, child in enumerate(children):
            low, high = _ends(child.rect, axis)
            if low > at:
                # Less than a blade lies here: it hangs over, so what is kept lies at the fence.
                if low - at > self.kerf:
                    return False
                add(at, low - at, (), True)
                at = low
            if high == end:
                # The last cut also leaves what lies behind the blade.
                made[-1] = replace(made[-1], yields=(*made[-1].yields, child))
                at = end
                continue
            taken = min(self.kerf, end - high)
            behind = children[place + 1 :]
            flush = len(behind) == 1 and _ends(behind[0].rect, axis) == (high + taken, end)
            # What keeps the far edge is measured from there, and waste goes to the free side.
            add(high, taken, (child,), child.form is Form.WASTE and flush and not _waste(behind[0]))
            at = high + taken
        self.cuts += made
        return at == end

    def _data(self, rect: Rect, axis: Axis) -> tuple[Datum, Datum]:
        """The edges that measures on a piece are read from: the near one, the far one."""
        if axis is Axis.RIP:
            near = self.edges[0] if rect.y == 0 else Datum.SAWN
            far = self.edges[1] if rect.y + rect.width == self.whole.width else Datum.FAR_SAWN
            return near, far
        squared = self.edges[0] is Datum.SQUARED
        head = Datum.SQUARED_HEAD if squared else Datum.HEAD
        tail = Datum.SQUARED_TAIL if squared else Datum.TAIL
        whole = rect.x + rect.length == self.whole.length
        return (
            head if rect.x == 0 else Datum.SAWN_END,
            tail if whole else Datum.FAR_SAWN_END,
        )


_Group = tuple[int, int, list[Piece]]


def _groups(leaves: Sequence[Piece], axis: Axis, kerf: int) -> list[_Group]:
    """Leaves that no cut of this axis can part, from low to high: (low, high, members)."""
    groups: list[_Group] = []
    for leaf in sorted(leaves, key=lambda p: (_ends(p.rect, axis), p.rect)):
        low, high = _ends(leaf.rect, axis)
        if groups and low < groups[-1][1] + kerf:
            first, last, members = groups[-1]
            groups[-1] = (first, max(last, high), [*members, leaf])
        else:
            groups.append((low, high, [leaf]))
    return groups


def _ends(rect: Rect, axis: Axis) -> tuple[int, int]:
    if axis is Axis.RIP:
        return rect.y, rect.y + rect.width
    return rect.x, rect.x + rect.length


def _slice(rect: Rect, axis: Axis, low: int, high: int) -> Rect:
    if axis is Axis.RIP:
        return Rect(rect.x, low, rect.length, high - low)
    return Rect(low, rect.y, high - low, rect.width)


def _parts(leaves: Sequence[Piece]) -> list[Piece]:
    return [leaf for leaf in leaves if leaf.form is Form.PART]


def _waste(piece: Piece) -> bool:
    return piece.form in (Form.WASTE, Form.KEPT, Form.REST)


def letters(index: int) -> str:
    """A to Z, then AA, AB and on."""
    name = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        name = chr(65 + rest) + name
    return name


def _suffix(name: str, index: int) -> str:
    """Figures behind a letter, small letters behind a figure."""
    return letters(index).lower() if name[-1:].isdigit() else str(index + 1)
