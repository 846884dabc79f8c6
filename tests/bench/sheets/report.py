"""The table as it is printed."""

from __future__ import annotations

from tests.bench.sheets.measure import Row

__all__ = ["HEAD", "line_of"]

HEAD = (
    f"{'instance':<38}{'types':>6}{'pieces':>7}{'stock':>6}{'objective':>12}{'bound':>12}"
    f"{'gap %':>9}{'CPU s':>7}{'wall s':>7}  {'stop':<9}"
)


def line_of(row: Row) -> str:
    """A line of the table in dollars."""
    ours, inst = row.ours, row.instance
    return (
        f"{inst.name[:37]:<38}{inst.types:>6}{inst.pieces:>7}{inst.sizes:>6}"
        f"{float(ours.objective):>12.2f}{float(ours.bound):>12.2f}{100 * float(ours.gap):>9.4f}"
        f"{ours.cpu:>7.2f}{ours.wall:>7.2f}  {_stop(row):<9}"
    )


def _stop(row: Row) -> str:
    return "proved" if row.ours.optimal else "+".join(row.ours.stops)
