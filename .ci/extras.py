"""Write docker/extras.txt: what the image needs beyond .ci/lock/run.txt.

That is the extras `postgres` and `cluster` of pyproject.toml with all that they need, pinned and
hashed as .ci/lock/test.txt has them. Run it whenever the locks were made anew.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
EXTRAS = ("postgres", "cluster")
HEAD = "# What the image needs beyond .ci/lock/run.txt, as .ci/lock/test.txt has it.\n"
HEAD += "# Made by .ci/extras.py; run it again after a change of the locks.\n"


def blocks(lock: str) -> dict[str, str]:
    """Each requirement of a lock by its name, with its hashes and its reasons."""
    parts = re.split(r"(?m)^(?=[A-Za-z0-9])", lock)
    return {part.split("==")[0]: part for part in parts if "==" in part.split("\n")[0]}


def reasons(block: str) -> set[str]:
    """Who needs a requirement."""
    _, _, told = block.partition("# via")
    return set(re.findall(r"[A-Za-z0-9][\w.-]*(?= |$)", told.replace("#", " "), re.MULTILINE))


def extras(project: str, run: str, test: str) -> str:
    """The lock of the extras, from pyproject.toml and both locks."""
    named = tomllib.loads(project)["project"]["optional-dependencies"]
    wanted = {re.split(r"[\[><=!~; ]", line)[0] for extra in EXTRAS for line in named[extra]}
    known, there = blocks(test), blocks(run)
    while True:
        more = {name for name, block in known.items() if reasons(block) & wanted} - wanted
        if not more:
            break
        wanted |= more
    missing = sorted(wanted - set(there) & wanted)
    lines = [known[name].partition("    # via")[0] for name in missing]
    return HEAD + "".join(lines)


def main() -> None:
    """Write it."""
    texts = [
        (ROOT / name).read_text()
        for name in ("pyproject.toml", ".ci/lock/run.txt", ".ci/lock/test.txt")
    ]
    (ROOT / "docker/extras.txt").write_text(extras(*texts))


if __name__ == "__main__":
    main()
