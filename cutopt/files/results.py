"""The files of a plan: plan.json, five tables as csv, and report.html.

`outputs` makes their bytes and touches no disk, so that the service stores what the command
writes. Lengths stand in the unit of plan.json, as exact decimals.
"""

from __future__ import annotations

import csv
import io
import os
import tempfile
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import simplejson

from cutopt.files.report import report_html
from cutopt.files.rows import csv_bytes, exact, plain
from cutopt.measure import Unit, rounded
from cutopt.order import OrderLine, stock_order
from cutopt.plan import Plan, Problem
from cutopt.plan.check import TABLES, check_plan
from cutopt.plan.document import plan_document
from cutopt.plan.guillotine import Axis
from cutopt.records import CutoptError, PlanFaulty
from cutopt.saw import CutLine, SheetCutLine, cut_list, sheet_cuts
from cutopt.yields import RackLine, YieldLine, rack, yields

__all__ = [
    "LARGEST_PLAN",
    "document_text",
    "outputs",
    "parse_document",
    "read_document",
    "read_tables",
    "tables_of",
    "write_outputs",
]

#: A plan.json above this many bytes is not read.
LARGEST_PLAN = 256 * 1024 * 1024

_ORDER = (
    "material",
    "length",
    "width",
    "pieces",
    "bundles",
    "board_feet",
    "square_feet",
    "price",
    "per",
    "extension",
)
_CUTS = (
    "material",
    "layout",
    "pattern",
    "count",
    "stock_length",
    "stock_width",
    "source",
    "stop",
    "length",
    "width",
    "section",
    "jig",
    "mark",
    "turned",
    "stop_across",
    "run",
    "run_at",
    "lot",
    "need",
    "books",
    "edge",
)
#: A line per saw cut of the sheets. Stage 0 squares the sheet; trimming counts one stage more.
_SHEET_CUTS = (
    *("material", "layout", "pattern", "count", "cut", "stage", "direction", "piece"),
    *("measure", "from", "fence", "yields", "marks"),
)
_AMOUNTS = ("parts", "kerf", "trim", "kept_drop", "waste_drop", "scrap")
_YIELD = (
    "material",
    "input",
    *_AMOUNTS,
    "yield_percent",
    "waste_percent",
    "cost_in",
    "cost_waste",
)
#: The columns of stock.csv, in their order: rows can be put under a day's own.
_RACK = (
    *("material", "kind", "nominal", "length", "width", "price", "per"),
    *("on_hand", "limit", "bundle", "lot", "edges"),
)


def outputs(problem: Problem, plan: Plan) -> dict[str, bytes]:
    """Every file of the plan by its name, once the plan has passed the checker.

    Raises
    ------
    PlanFaulty
        Where the checker finds that the plan breaks a promise.
    """
    text = document_text(plan_document(plan))
    document = parse_document(text)
    unit: Unit = document["unit"]
    order = stock_order(plan)
    amounts = yields(plan, problem.rules)
    files = {
        "plan.json": text.encode(),
        "stock_order.csv": csv_bytes(_ORDER, (_order_row(line, unit) for line in order)),
        "cut_list.csv": csv_bytes(_CUTS, (_cut_row(line, unit) for line in cut_list(plan))),
        "cuts.csv": csv_bytes(
            _SHEET_CUTS, (_sheet_cut_row(line, unit) for line in sheet_cuts(plan, problem.rules))
        ),
        "yield.csv": csv_bytes(_YIELD, (_yield_row(line) for line in amounts)),
        "rack.csv": csv_bytes(
            _RACK, (_rack_row(line, unit, problem.unit) for line in rack(problem, plan))
        ),
    }
    faults = check_plan(problem.days, document, tables_of(files))
    if faults:
        raise PlanFaulty(faults)
    files["report.html"] = report_html(problem, plan, order, amounts).encode()
    return files


def tables_of(files: Mapping[str, bytes]) -> dict[str, list[dict[str, str]]]:
    """The rows of the tables among a plan's files, as the checker takes them.

    Raises CutoptError, naming the file, where one is no UTF-8 text.
    """
    tables = {}
    for name in TABLES:
        if name in files:
            try:
                text = files[name].decode("utf-8-sig")
            except UnicodeDecodeError as error:
                raise CutoptError(f"{name}: no UTF-8 text") from error
            rows = csv.DictReader(io.StringIO(text, newline=""))
            tables[name] = [{k or "": v or "" for k, v in row.items()} for row in rows]
    return tables


def read_tables(folder: Path) -> dict[str, list[dict[str, str]]]:
    """The tables that lie in a plan's folder, those of them that are there."""
    found = {name: folder / name for name in TABLES if (folder / name).is_file()}
    try:
        return tables_of({name: path.read_bytes() for name, path in found.items()})
    except OSError as error:
        raise CutoptError(f"{error.filename}: can't be read: {error.strerror}") from error


def write_outputs(files: Mapping[str, bytes], folder: Path) -> None:
    """Write every file into `folder`, made if need be, each whole or not at all.

    Raises OSError where the folder can't be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in files.items():
        handle, temporary = tempfile.mkstemp(dir=folder, prefix=f".{name}.")
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(content)
            Path(temporary).chmod(0o644)
            Path(temporary).replace(folder / name)
        except BaseException:
            Path(temporary).unlink(missing_ok=True)
            raise


def document_text(document: Mapping[str, Any]) -> str:
    """plan.json as text: decimals written as they are, never through a float."""
    return str(simplejson.dumps(document, use_decimal=True, indent=1)) + "\n"


def parse_document(text: str | bytes) -> Any:
    """plan.json as read: every number with a point a Decimal.

    Raises CutoptError where the text is no JSON.
    """
    try:
        return simplejson.loads(text, use_decimal=True)
    except (simplejson.JSONDecodeError, UnicodeDecodeError, RecursionError, ValueError) as error:
        raise CutoptError(f"not a plan.json: {error}") from error


def read_document(path: Path) -> Any:
    """A plan.json on disk, as `parse_document` gives it. Raises CutoptError, naming the file."""
    try:
        if path.stat().st_size > LARGEST_PLAN:
            raise CutoptError(f"{path}: larger than {LARGEST_PLAN} bytes, not read")
        return parse_document(path.read_bytes())
    except OSError as error:
        raise CutoptError(f"{path}: can't be read: {error.strerror}") from error
    except CutoptError as error:
        raise CutoptError(f"{path}: {error}") from error


def _amount(value: Fraction | None, places: int) -> str:
    return "" if value is None else f"{rounded(value, places):f}"


def _order_row(line: OrderLine, unit: Unit) -> tuple[object, ...]:
    offer = line.offer
    return (
        offer.material,
        exact(offer.length, unit),
        exact(offer.width, unit),
        line.pieces,
        "" if line.bundles is None else line.bundles,
        _amount(line.board_feet, 3),
        _amount(line.square_feet, 3),
        plain(offer.price),
        offer.per.value,
        _amount(line.extension, 2),
    )


def _cut_row(line: CutLine, unit: Unit) -> tuple[object, ...]:
    layout, part = line.layout, line.part
    return (
        line.material,
        layout.id,
        layout.pattern,
        layout.count,
        exact(layout.offer.length, unit),
        exact(layout.offer.width, unit),
        layout.source.value,
        exact(line.stop, unit),
        exact(part.length, unit),
        exact(part.width, unit),
        part.section,
        part.jig,
        part.mark,
        "yes" if part.turned else "no",
        "" if part.width is None else exact(part.y + part.across, unit),
        part.run or "",
        exact(part.run_at, unit),
        layout.offer.lot or "",
        "" if part.need is None else part.need,
        line.books,
        part.edge.value,
    )


def _sheet_cut_row(line: SheetCutLine, unit: Unit) -> tuple[object, ...]:
    layout, cut = line.layout, line.cut
    return (
        line.material,
        layout.id,
        layout.pattern,
        layout.count,
        cut.number,
        cut.stage,
        "rip" if cut.axis is Axis.RIP else "crosscut",
        str(cut.piece).removeprefix("the "),
        exact(cut.measure, unit),
        cut.datum.value,
        exact(cut.fence, unit),
        "; ".join(str(piece) for piece in cut.yields),
        "; ".join(line.marks),
    )


def _yield_row(line: YieldLine) -> tuple[object, ...]:
    # The written amounts add up to the written input to the last digit: the input is their sum.
    amounts = [rounded(getattr(line, name), 6) for name in _AMOUNTS]
    return (
        line.material,
        f"{sum(amounts, Decimal(0)):f}",
        *(f"{a:f}" for a in amounts),
        f"{line.yield_percent:f}",
        f"{line.waste_percent:f}",
        _amount(line.cost_in, 2),
        _amount(line.cost_waste, 2),
    )


def _rack_row(line: RackLine, unit: Unit, read_in: Unit) -> tuple[object, ...]:
    # Where the plan had to be written in mm, tomorrow's bare numbers may still be inches.
    suffix = "" if unit == read_in else unit
    return (
        line.material,
        line.kind.value,
        "" if line.nominal is None else f"{line.nominal[0]}x{line.nominal[1]}",
        exact(line.length, unit) + suffix,
        "" if line.width is None else exact(line.width, unit) + suffix,
        plain(line.price),
        line.per.value,
        line.on_hand,
        0,
        "",
        line.lot or "",
        "" if line.width is None else line.edges.value,
    )
