"""Settings come from the environment and are checked at the start."""

from __future__ import annotations

import pytest

from api.serve import run
from api.settings import Settings, settings_from
from cutopt.records import CutoptError


def test_defaults() -> None:
    assert settings_from({"PATH": "/bin"}) == Settings()
    assert Settings().database == "sqlite:///cutopt.sqlite3"


def test_each_is_read() -> None:
    read = settings_from(
        {
            "CUTOPT_DATABASE": "postgresql://mill@host/cutopt",
            "CUTOPT_WORKERS": "0",
            "CUTOPT_BODY_MIB": "64",
            "CUTOPT_LEASE_SECONDS": "2.5",
            "CUTOPT_MOST_WAITING": "",
        }
    )
    assert read.database == "postgresql://mill@host/cutopt"
    assert (read.workers, read.body_bytes, read.lease_seconds) == (0, 64 * 1024**2, 2.5)
    assert read.most_waiting == Settings().most_waiting


def test_every_fault_is_told_at_once() -> None:
    wrong = {
        "CUTOPT_DATABSE": "sqlite://",
        "CUTOPT_WORKERS": "two",
        "CUTOPT_LEASE_SECONDS": "nan",
        "CUTOPT_BODY_MIB": "0",
    }
    with pytest.raises(CutoptError) as refused:
        settings_from(wrong)
    text = str(refused.value)
    assert text.count("\n") == 3
    assert "did you mean 'CUTOPT_DATABASE'?" in text


def test_the_demo_is_for_this_machine_only() -> None:
    for host in ("0.0.0.0", "::", "mill.example"):
        with pytest.raises(CutoptError, match=r"127\.0\.0\.1"):
            run(host=host, port=0, demo=True)
