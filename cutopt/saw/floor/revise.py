"""Revisions after release: another cut list, a section pulled or moved.

The released pieces are compared with those that a changed list asks for, piece by piece. Runs and
ceilings are compared as the drawing has them, row by row: one that changed in any way is taken off
with all its pieces and left to a plan of its own, since nobody has laid its joints or rows.
"""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from cutopt.cutlist import Part, Rule
from cutopt.materials import Kind
from cutopt.saw.floor.cutting import recorded
from cutopt.saw.floor.entries import By, Entry, EntryKind, Reason, part_size, reversal
from cutopt.saw.floor.lay import worth
from cutopt.saw.floor.outcome import Outcome, outcome
from cutopt.saw.floor.rest import surplus
from cutopt.saw.floor.settle import settled
from cutopt.saw.floor.state import (
    FloorError,
    Key,
    Needed,
    Piece,
    State,
    Status,
    Stick,
    key_of,
    piece_of_row,
)

__all__ = ["Fate", "Revised", "digest", "move_section", "pull_section", "revise"]


@dataclass(frozen=True, slots=True)
class Fate:
    """What becomes of one kind of piece in a revision, in pieces.

    `cut` are made (or on a saw) and still needed, `not_cut` needed and to be made, `new` those of
    them that the list before did not ask for; `obsolete` are no longer needed, `cut_obsolete` of
    them made already.
    """

    piece: Piece
    cut: int
    not_cut: int
    new: int
    obsolete: int
    cut_obsolete: int


@dataclass(frozen=True, slots=True)
class Revised:
    """A revision: what it comes to, and every kind of piece that it touches (`fates`).

    `same` where the list is the one in force: then nothing changes. `seen_before` where it was in
    force earlier. `apart` are rows of runs and ceilings that are new or changed: to be planned by
    themselves.
    """

    outcome: Outcome
    fates: tuple[Fate, ...] = ()
    same: bool = False
    seen_before: bool = False
    apart: tuple[Part, ...] = ()


def digest(parts: Iterable[Part]) -> str:
    """A fingerprint (SHA-256) of what cut lists ask for.

    Neither the order of rows, nor in how many rows equal parts stand, nor notes and places change
    it.
    """
    counts: Counter[tuple[object, ...]] = Counter()
    for part in parts:
        counts[_identity(part)] += part.qty
    rows = sorted(([*map(_word, key), n] for key, n in counts.items()), key=json.dumps)
    return hashlib.sha256(json.dumps(rows).encode()).hexdigest()


def _identity(part: Part) -> tuple[object, ...]:
    joints = part.joints
    return (
        *(part.section, part.jig, part.mark, part.material, part.length, part.width),
        *(part.turn, part.rule.value, part.alt, part.need, part.edge.value),
        (joints.first, joints.step, joints.clear, joints.mate) if joints else None,
    )


def _word(value: object) -> object:
    return list(value) if isinstance(value, tuple) else value


def revise(state: State, before: Sequence[Part], parts: Sequence[Part], by: By) -> Revised:
    """Another cut list in the place of the one in force.

    Parameters
    ----------
    state
        The released plan while it is cut.
    before, parts
        The rows in force and those of the changed list, all days together.
    by
        Who changed it: for the entries by which pieces that are cut and no longer needed take the
        place of equal ones that are (same material, size and edges, for another section or mark).

    Raises
    ------
    FloorError
        Where a row asks for a material that the day's stock has not.
    PlanFaulty
        Where the checker finds a fault in the layouts then not cut.
    """
    name = digest(parts)
    if name == (state.lists[-1] if state.lists else digest(before)):
        return Revised(Outcome(state, (), (), (), ()), same=True, seen_before=True)
    kinds = {o.material: o.kind for o in state.offers}
    unknown = [p for p in parts if any(m not in kinds for m in p.materials)]
    if unknown:
        listed = "; ".join(f"{p.place}: {p.material}" for p in unknown[:20])
        raise FloorError(f"no material of stock.csv: {listed}")
    needed, apart = _needed(state, before, parts, kinds)
    lists = state.lists or (digest(before),)
    told = replace(state, needed=needed, lists=(*lists, name))
    return _revised(state, told, by, seen=name in lists, apart=apart)


def _revised(
    state: State, told: State, by: By, seen: bool = False, apart: tuple[Part, ...] = ()
) -> Revised:
    told = recorded(told, _given_over(told, by))
    every = {o.material for o in state.offers}
    found = outcome(state, told, at_least=every)
    # Layouts with holes, or what is left of them put together: whichever costs less.
    beyond = surplus(told)
    if any(not all(beyond[key_of(p)] > 0 for p in s.layout.parts) for s in _losing(told, beyond)):
        closed = outcome(state, settled(told, whole=True), at_least=every)
        found = min((found, closed), key=_dearness)
    return Revised(found, _fates(state, found.after), False, seen, apart)


def _losing(state: State, beyond: Counter[Key]) -> list[Stick]:
    """Layouts not cut with a part that is too many."""
    return [
        s
        for s in state.sticks
        if s.status is Status.NOT_CUT and any(beyond[key_of(p)] > 0 for p in s.layout.parts)
    ]


def _dearness(found: Outcome) -> tuple[int, Fraction, int]:
    """Pieces that can't be cut, then what the layouts not cut cost, then what changes."""
    after = found.after
    sticks = (s for s in after.sticks if s.status is Status.NOT_CUT)
    cost = sum((worth(s.layout, after.rules) for s in sticks), Fraction(0))
    return (sum(u.needed.qty for u in found.unmet), cost, len(found.changes))


def _needed(
    state: State, before: Iterable[Part], parts: Iterable[Part], kinds: dict[str, Kind]
) -> tuple[tuple[Needed, ...], tuple[Part, ...]]:
    """The pieces that the changed list needs, and the rows that must be planned by themselves."""
    counts: dict[Piece, int] = {}
    laid = _families(before)
    asked = _families(parts)
    stays = {key for key, rows in asked.items() if laid.get(key) == rows}
    placed = {
        _family(n.piece) for n in state.needed if n.piece.run is not None or n.piece.full_span
    }
    for n in state.needed:
        piece = n.piece
        if (piece.run is not None or piece.full_span) and _family(piece) in stays:
            counts[piece] = n.qty
    for part in parts:
        if part.rule is Rule.PART:
            piece = piece_of_row(part, kinds[part.material] is Kind.LUMBER)
            counts[piece] = counts.get(piece, 0) + part.qty
    apart = tuple(
        p
        for p in parts
        if p.rule is not Rule.PART and not (_row_family(p) in stays and _row_family(p) in placed)
    )
    return _one_each(counts), apart


def _one_each(counts: dict[Piece, int]) -> tuple[Needed, ...]:
    """Pieces by key: where rows differ in turning, alternates or need, what all of them allow."""
    found: dict[Key, Needed] = {}
    for piece, n in counts.items():
        other = found.get(piece.key)
        if other is None:
            found[piece.key] = Needed(piece, n)
            continue
        first = other.piece
        needs = [x for x in (first.need, piece.need) if x is not None]
        merged = replace(
            first,
            turn=first.turn and piece.turn,
            alt=tuple(m for m in first.alt if m in piece.alt),
            need=min(needs, default=None),
        )
        found[piece.key] = Needed(merged, other.qty + n)
    return tuple(found.values())


#: A run or a ceiling of a section: section, mark, material, whether it is a ceiling.
_Family = tuple[str, str, str, bool]


def _family(piece: Piece) -> _Family:
    return (piece.section, piece.mark, piece.material, piece.full_span)


def _row_family(part: Part) -> _Family:
    return (part.section, part.mark, part.material, part.rule is Rule.FULL_SPAN)


def _families(parts: Iterable[Part]) -> dict[_Family, Counter[tuple[object, ...]]]:
    found: dict[_Family, Counter[tuple[object, ...]]] = {}
    for part in parts:
        if part.rule is not Rule.PART:
            rows = found.setdefault(_row_family(part), Counter())
            rows[_identity(replace(part, need=None))] += part.qty
    return found


def _given_over(told: State, by: By) -> list[Entry]:
    """Cut pieces that nobody needs any more, given over to equal ones that are needed.

    A stud is a stud: a part is the same whatever section and mark it was cut for. Pieces of runs
    and rows of ceilings stay what they are.
    """
    spare = told.made - told.wanted
    short = told.wanted - told.made - told.on_saws
    if not spare or not short:
        return []
    wanting: dict[tuple[object, ...], list[Piece]] = {}
    for n in told.needed:
        piece = n.piece
        if short[piece.key] > 0 and piece.run is None and not piece.full_span:
            like = (piece.length, piece.width, piece.edge.value)
            wanting.setdefault(like, []).append(piece)
    entries: list[Entry] = []
    of = {e.stock: e.issued.offer.material for e in told.standing if e.issued is not None}
    for entry in told.standing:
        part = entry.part
        if part is None or part.run is not None or part.full_span or spare[key_of(part)] <= 0:
            continue
        for piece in wanting.get((part.length, part.width, part.edge.value), []):
            if short[piece.key] <= 0 or of[entry.stock] not in piece.materials:
                continue
            if part.turned and not piece.turn:
                continue
            spare[key_of(part)] -= 1
            short[piece.key] -= 1
            given = piece.placed(part.x, part.y, part.turned)
            entries.append(reversal(entry, by, Reason.REVISED))
            entries.append(Entry(0, EntryKind.PART, entry.stock, part_size(given), by, part=given))
            break
    return entries


def _fates(before: State, after: State) -> tuple[Fate, ...]:
    """Every kind of piece whose number changed, in the order of the lists, new ones last."""
    pieces = {**before.pieces, **after.pieces}
    found = []
    for key, piece in pieces.items():
        was, now = before.wanted[key], after.wanted[key]
        had = before.made[key] + before.on_saws[key]
        have = after.made[key] + after.on_saws[key]
        if was == now and had == have:
            continue
        found.append(
            Fate(
                piece=piece,
                cut=min(now, have),
                not_cut=max(0, now - have),
                new=max(0, now - was),
                obsolete=max(0, was - now),
                cut_obsolete=max(0, have - now) - max(0, had - was),
            )
        )
    return tuple(found)


def pull_section(state: State, section: str, by: By) -> Revised:
    """A section is taken out of the day: nothing of it is needed any more.

    What is cut of it stays cut, given over to other sections where they need the same. Raises
    FloorError where nothing is needed for such a section.
    """
    _must_have(state, section)
    needed = tuple(n for n in state.needed if n.piece.section != section)
    # The list that was in force is no longer: sent again, it brings the section back.
    last = state.lists[-1] if state.lists else ""
    name = hashlib.sha256(json.dumps([last, "without", section]).encode()).hexdigest()
    told = replace(state, needed=needed, lists=(*state.lists, name))
    return _revised(state, told, by)


def move_section(state: State, section: str, need: int, by: By) -> Revised:
    """A section comes at another turn: all its parts get this `need`, and layouts that are not
    cut stand in the order in which their parts are needed. Raises FloorError as `pull_section`.
    """
    _must_have(state, section)

    def moved(n: Needed) -> Needed:
        return replace(n, piece=replace(n.piece, need=need)) if n.piece.section == section else n

    told = replace(state, needed=tuple(moved(n) for n in state.needed))
    return _revised(state, _by_need(told, section), by)


def _by_need(state: State, section: str) -> State:
    """Layouts with parts of a section stand before the first that is needed later than they."""
    pieces = state.pieces

    def first(stick: Stick) -> int:
        needs = (pieces[key_of(p)].need for p in stick.layout.parts if key_of(p) in pieces)
        return min((n for n in needs if n is not None), default=2**62)

    open_ = [s for s in state.sticks if s.status is Status.NOT_CUT]
    turn = {s.id: first(s) for s in open_}
    theirs = {s.id for s in open_ if any(p.section == section for p in s.layout.parts)}
    moving = sorted((s for s in open_ if s.id in theirs), key=lambda s: turn[s.id])
    order: list[Stick] = []
    for stick in (s for s in open_ if s.id not in theirs):
        while moving and turn[moving[0].id] < turn[stick.id]:
            order.append(moving.pop(0))
        order.append(stick)
    order += moving
    queue = iter(order)
    sticks = tuple(next(queue) if s.status is Status.NOT_CUT else s for s in state.sticks)
    return replace(state, sticks=sticks)


def _must_have(state: State, section: str) -> None:
    if all(n.piece.section != section for n in state.needed):
        known = ", ".join(dict.fromkeys(n.piece.section for n in state.needed))
        raise FloorError(f"nothing is needed for {section!r}; sections are {known}")
