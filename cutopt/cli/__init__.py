"""The command: `plan`, `check`, `curve`, and for the service `serve`, `backup`, `restore`.

Exit codes: 0 done; 2 input refused; 3 something can't be cut from the stock offered (the rest is
planned and written); 4 the plan does not check.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from importlib.metadata import entry_points
from pathlib import Path
from typing import Any

from cutopt import __version__
from cutopt.cli.common import DOES_NOT_CHECK, REFUSED, whole_number
from cutopt.cli.curve import add_curve
from cutopt.cli.plan import add_check, add_plan
from cutopt.records import CutoptError, InputRefused, PlanFaulty

__all__ = ["main"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command and return its exit code."""
    words = _parser().parse_args(arguments)
    try:
        return int(words.run(words))
    except InputRefused as error:
        for fault in error.faults:
            print(fault, file=sys.stderr)
        for warning in error.warnings:
            print(f"warning: {warning}", file=sys.stderr)
        count = len(error.faults)
        print(f"{count} fault{'s' * (count > 1)}; nothing was planned", file=sys.stderr)
        return REFUSED
    except PlanFaulty as error:
        for line in error.faults:
            print(line, file=sys.stderr)
        print("the plan does not check; nothing was written", file=sys.stderr)
        return DOES_NOT_CHECK
    except (CutoptError, OSError) as error:
        print(f"cutopt: {error}", file=sys.stderr)
        return REFUSED


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="cutopt",
        description="Plan what to buy and how to cut it, with proof of how good the plan is. "
        "The tool cuts to approved drawings: it chooses no size, grade, spacing, header or joint.",
    )
    parser.add_argument("--version", action="version", version=f"cutopt {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    add_plan(commands.add_parser("plan", help="plan one day or several together"))
    add_check(commands.add_parser("check", help="check a plan against its day folders alone"))
    add_curve(
        commands.add_parser("curve", help="what fewer joints, set-ups or board lengths would cost")
    )

    serve = commands.add_parser("serve", help="start the service for the saw stations")
    serve.add_argument("--demo", action="store_true", help="on this machine only, with demo days")
    serve.add_argument("--host", default="127.0.0.1")
    serve.add_argument("--port", type=whole_number, default=8080)
    serve.add_argument(
        "--check",
        action="store_true",
        help="print the settings in force and end; 2 where one is wrong",
    )
    serve.set_defaults(run=_serve)

    backup = commands.add_parser("backup", help="copy the service's database into a file")
    backup.add_argument("file", type=Path, metavar="FILE", help="a new file")
    backup.set_defaults(run=lambda words: _of_service("backup", file=words.file))

    restore = commands.add_parser("restore", help="put such a file into an empty database")
    restore.add_argument("file", type=Path, metavar="FILE", help="what `cutopt backup` wrote")
    restore.add_argument(
        "--replace", action="store_true", help="give up what the database holds now"
    )
    restore.set_defaults(
        run=lambda words: _of_service("restore", file=words.file, replace=words.replace)
    )
    return parser


def _serve(words: argparse.Namespace) -> int:
    return _of_service(
        "serve", host=words.host, port=words.port, demo=words.demo, check=words.check
    )


def _of_service(name: str, **words: Any) -> int:
    """A command that the service brings, if it is installed beside the library."""
    for entry in entry_points(group="cutopt.commands", name=name):
        return int(entry.load()(**words))
    raise CutoptError("the service is not installed beside the library")
