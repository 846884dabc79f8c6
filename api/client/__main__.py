"""`python -m api.client`: renew the description that is kept, and the client made from it.

What the description breaks for those who use the one before is told, and refused unless the version
rose. With `--check` nothing is written: it tells whether both are up to date. With `--anyway` the
description is kept whatever it breaks, as before a first release.
"""

from __future__ import annotations

import json
import sys
import tempfile
from pathlib import Path
from typing import Any

from api.app import create_app
from api.client.gate import breaks, may_break
from api.client.generate import make
from api.settings import Settings

__all__ = ["BASELINE", "CALLS", "described", "kept", "text_of"]

BASELINE = Path(__file__).parents[1] / "openapi.json"
CALLS = Path(__file__).parent / "calls.py"


def described() -> dict[str, Any]:
    """The service's description as it is now."""
    with tempfile.TemporaryDirectory() as folder:
        app = create_app(Settings(database=f"sqlite:///{folder}/none.sqlite3"))
        return dict(app.openapi())


def kept() -> dict[str, Any]:
    """The description that is kept."""
    return dict(json.loads(BASELINE.read_text(encoding="utf-8")))


def text_of(document: dict[str, Any]) -> str:
    """A description as it is kept."""
    return json.dumps(document, indent=1, ensure_ascii=False, sort_keys=True) + "\n"


def _run(words: list[str]) -> int:
    now = described()
    if "--check" in words:
        if kept() == json.loads(text_of(now)) and CALLS.read_text("utf-8") == make(kept()):
            return 0
        print("api/openapi.json or api/client/calls.py is out of date: run python -m api.client")
        return 1
    if BASELINE.exists() and "--anyway" not in words:
        before = kept()
        broken = breaks(before, now)
        if broken and not may_break(before, now):
            print("The description breaks what is in use; raise the version, or mend:")
            print("\n".join(f"  {line}" for line in broken))
            return 1
    BASELINE.write_text(text_of(now), encoding="utf-8")
    CALLS.write_text(make(json.loads(text_of(now))), encoding="utf-8")
    print(f"renewed {BASELINE.name} and {CALLS.name}")
    return 0


if __name__ == "__main__":
    sys.exit(_run(sys.argv[1:]))
