"""What happens to material at the saw.

entries, balance    the journal: append-only, each piece of stock accounted for to the count
account             the entries of a piece of stock that is cut as planned
state, cutting      a released plan while it is cut
rest                what is left, as a problem; what the checker says of the layouts not yet cut
lay, bench          layouts laid, filled and emptied at the saw; changed only under a new name
settle, recover     what layouts must give up; missing pieces from drops, layouts, new stock
usable              what is usable of damaged stock, offered to smaller pieces
damage, react       each trouble as an action
outcome, changes    what an action comes to, checked; what it changes, in words
revise              another cut list, a section pulled or moved
trace               lot, stick, parts, section, and back
codec               all of it as plain values, and back
"""

from cutopt.saw.floor.balance import Balance, Sums, balance, material_sums
from cutopt.saw.floor.changes import Change, ChangeKind, changes
from cutopt.saw.floor.codec import CodecError, as_dict, from_dict
from cutopt.saw.floor.cutting import cut, cut_all, finish, start
from cutopt.saw.floor.damage import Usable, cut_short, damaged, part_lost
from cutopt.saw.floor.entries import By, Entry, EntryKind, Issued, KeptDrop, Reason, standing
from cutopt.saw.floor.outcome import Fits, Outcome
from cutopt.saw.floor.react import (
    jig_down,
    jig_up,
    kerf_changed,
    plan_anew,
    rack_full,
    rush,
    undo,
    wrong_stock,
)
from cutopt.saw.floor.recover import Unmet
from cutopt.saw.floor.rest import check_rest, missing, rest_problem, waits
from cutopt.saw.floor.revise import Fate, Revised, digest, move_section, pull_section, revise
from cutopt.saw.floor.state import FloorError, Needed, Piece, State, Status, Stick, release
from cutopt.saw.floor.trace import TRACE_COLUMNS, Trace, Traced, trace_rows

__all__ = [
    "TRACE_COLUMNS",
    "Balance",
    "By",
    "Change",
    "ChangeKind",
    "CodecError",
    "Entry",
    "EntryKind",
    "Fate",
    "Fits",
    "FloorError",
    "Issued",
    "KeptDrop",
    "Needed",
    "Outcome",
    "Piece",
    "Reason",
    "Revised",
    "State",
    "Status",
    "Stick",
    "Sums",
    "Trace",
    "Traced",
    "Unmet",
    "Usable",
    "as_dict",
    "balance",
    "changes",
    "check_rest",
    "cut",
    "cut_all",
    "cut_short",
    "damaged",
    "digest",
    "finish",
    "from_dict",
    "jig_down",
    "jig_up",
    "kerf_changed",
    "material_sums",
    "missing",
    "move_section",
    "part_lost",
    "plan_anew",
    "pull_section",
    "rack_full",
    "release",
    "rest_problem",
    "revise",
    "rush",
    "standing",
    "start",
    "trace_rows",
    "undo",
    "waits",
    "wrong_stock",
]
