"""A mill's way out of a lost machine: backup beside the running service, restore, go on."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.service.conftest import post_day, start_plan, wait_for
from tests.service.days import small_document
from tests.service.live import Live


def command(folder: Path, database: str, *words: str) -> subprocess.CompletedProcess[str]:
    environment = {k: v for k, v in os.environ.items() if not k.startswith("CUTOPT_")}
    return subprocess.run(
        [Path(sys.executable).parent / "cutopt", *words],
        cwd=folder,
        env=environment | {"CUTOPT_DATABASE": database},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


@pytest.mark.parametrize("into", ["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def test_a_mill_goes_on_with_its_backup_on_another_machine(
    into: str, tmp_path: Path, new_database: Callable[[str], str]
) -> None:
    """Signed in with the same password, every paper is the same, and what waited is planned."""
    lost, found = tmp_path / "lost", tmp_path / "found"
    lost.mkdir()
    found.mkdir()
    first, second = new_database("sqlite"), new_database(into)
    settings = {"CUTOPT_WORKERS": "1", "CUTOPT_LEASE_SECONDS": "2"}
    with Live(lost, CUTOPT_DATABASE=first, **settings) as live:
        day = post_day(live.client)
        plan = start_plan(live.client, day)
        assert wait_for(live.client, plan)["status"] == "done"
        paper = live.client.get(f"/plans/{plan}/plan.json").content
    # One that plans nothing, so that something waits.
    with Live(lost, CUTOPT_DATABASE=first, CUTOPT_PLANS_AT_ONCE="0", **settings) as live:
        waiting = start_plan(live.client, day)
        done = command(tmp_path, first, "backup", "mill.backup")
        assert done.returncode == 0, done.stderr
        after = post_day(live.client, small_document())
        days = [row["id"] for row in live.client.get("/days").json()["items"]]
        assert days == [after, day]
        live.kill()
    done = command(tmp_path, second, "restore", "mill.backup")
    assert done.returncode == 0, done.stderr
    with Live(found, CUTOPT_DATABASE=second, **settings) as live:
        assert "/set-up/" not in live.log()
        assert [row["id"] for row in live.client.get("/days").json()["items"]] == [day]
        assert live.client.get(f"/plans/{plan}/plan.json").content == paper
        assert wait_for(live.client, waiting)["status"] == "done"
        acts = [act["act"] for act in live.client.get("/audit").json()["items"]]
        assert "restore" in acts
        assert live.stop() == 0
