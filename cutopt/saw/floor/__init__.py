"""What happens to material at the saw.

entries, balance    the journal: append-only, each piece of stock accounted for to the count
account             the entries of a piece of stock that is cut as planned
state, cutting      a released plan while it is cut
rest                what is left, as a problem; what the checker says of the layouts not yet cut
trace               lot, stick, parts, section, and back
codec               all of it as plain values, and back
"""

from cutopt.saw.floor.balance import Balance, Sums, balance, material_sums
from cutopt.saw.floor.codec import CodecError, as_dict, from_dict
from cutopt.saw.floor.cutting import cut, finish, start
from cutopt.saw.floor.entries import By, Entry, EntryKind, Issued, KeptDrop, Reason, standing
from cutopt.saw.floor.rest import check_rest, missing, rest_problem, waits
from cutopt.saw.floor.state import FloorError, Needed, Piece, State, Status, Stick, release
from cutopt.saw.floor.trace import TRACE_COLUMNS, Trace, Traced, trace_rows

__all__ = [
    "TRACE_COLUMNS",
    "Balance",
    "By",
    "CodecError",
    "Entry",
    "EntryKind",
    "FloorError",
    "Issued",
    "KeptDrop",
    "Needed",
    "Piece",
    "Reason",
    "State",
    "Status",
    "Stick",
    "Sums",
    "Trace",
    "Traced",
    "as_dict",
    "balance",
    "check_rest",
    "cut",
    "finish",
    "from_dict",
    "material_sums",
    "missing",
    "release",
    "rest_problem",
    "standing",
    "start",
    "trace_rows",
    "waits",
]
