"""Damaged inputs: a seeded sample for every reader, and that the measurement sees a defect."""

from __future__ import annotations

import dataclasses
import time
from collections.abc import Callable
from pathlib import Path
from random import Random

import pytest

from tests.bench.fuzz.feeding import MEMORY, feed, feed_alone
from tests.bench.fuzz.readers import READERS

SAMPLE = 60_000


@pytest.mark.parametrize("name", READERS)
def test_whole_inputs_are_taken(name: str) -> None:
    reader = READERS[name]
    taken = [reader.feed(reader.whole(Random(seed))) for seed in range(12)]
    assert any(taken), "damage to what is refused anyway would show nothing"


@pytest.mark.parametrize("name", READERS)
def test_damaged_inputs_are_taken_or_refused(name: str) -> None:
    fed = feed(name, SAMPLE, seed=20260302)
    assert fed.bytes >= SAMPLE
    assert fed.defects == []


def test_the_same_seed_gives_the_same_inputs() -> None:
    for reader in READERS.values():
        if reader.name != "xlsx":  # a workbook holds when it was made
            assert reader.input(Random(4)) == reader.input(Random(4))


def _broken(data: bytes) -> bool:
    raise KeyError("length")


def _slow(data: bytes) -> bool:
    end = time.process_time() + 5
    while time.process_time() < end:
        pass
    return True


@pytest.mark.parametrize(
    ("reading", "told"), [(_broken, "KeyError"), (_slow, "more than 0.2 s")], ids=["error", "hang"]
)
def test_a_defect_is_told_and_its_input_kept(
    reading: Callable[[bytes], bool], told: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tests.bench.fuzz.feeding.SECONDS", 0.2)
    broken = dataclasses.replace(READERS["toml"], feed=reading)
    monkeypatch.setitem(READERS, "toml", broken)
    fed = feed("toml", 1, seed=3, kept=tmp_path)
    assert len(fed.defects) == 1
    assert told in fed.defects[0]
    assert (tmp_path / "toml-3-0").read_bytes() == READERS["toml"].input(Random("3/toml/0"))


def test_a_reader_is_fed_within_its_memory() -> None:
    fed = feed_alone("toml", 2_000, seed=5)
    assert fed.defects == []
    assert 0 < fed.peak < MEMORY
