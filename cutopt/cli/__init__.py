"""The command: `cutopt plan`, `cutopt check`, `cutopt curve`, `cutopt serve`.

Exit codes: 0 done; 2 input refused; 3 something can't be cut from the stock offered (the rest is
planned and written); 4 the plan does not check.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from importlib.metadata import entry_points

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
    return parser


def _serve(words: argparse.Namespace) -> int:
    found = entry_points(group="cutopt.commands", name="serve")
    for entry in found:
        serve = entry.load()
        return int(serve(host=words.host, port=words.port, demo=words.demo, check=words.check))
    raise CutoptError("the service is not installed beside the library")
