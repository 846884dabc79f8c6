"""The measurement of open stacks: its instances are what they say, its promises can be broken."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cutopt.saw.stacks import Verdict
from tests.bench.floor import main, stacks
from tests.bench.floor.stack_sets import SETS, Instance, StackSet
from tests.saw.stacks.reference import open_at_most

_SMALL = Instance("small", ((0, 1), (1, 2), (2, 3), (3, 0), (0, 2), (4,)), 3)


def test_made_instances_are_of_their_class_and_the_same_for_the_same_seed() -> None:
    for name, own in SETS.items():
        sample = own.make(True, 1)
        assert sample == own.make(True, 1)
        assert len({i.name for i in sample}) == len(sample)
        if name != "published":
            assert sample != own.make(True, 2)
            assert len(own.make(False, 1)) > len(sample)
    for instance in SETS["wbo"].make(True, 1):
        assert {len(own) for own in instance.needs} == {int(instance.name.split("-")[2])}
    for kind in ("wbp", "wbop"):
        for instance in SETS[kind].make(True, 1):
            each = int(instance.name.split("-")[2])
            wanted: dict[int, int] = {}
            for own in instance.needs:
                for cart in own:
                    wanted[cart] = wanted.get(cart, 0) + 1
            # Drawn slots of one product may fall on one cart twice: it then wants one fewer.
            assert max(wanted.values()) == each, instance.name
            assert kind == "wbop" or set(wanted.values()) == {each}
    for instance in SETS["plant"].make(True, 1):
        assert instance.carts + 2 >= 20
        assert instance.carts <= 40
        assert {len(own) for own in instance.needs} == {1, 2, 3, 4}


def test_a_row_and_its_promises() -> None:
    row = stacks.measure(_SMALL)
    assert (row.ours.lower, row.ours.upper, row.faults) == (3, 3, ())
    assert (row.held.verdict, row.held.most) == (Verdict.IMPOSSIBLE, 2)
    order = stacks.greedy(_SMALL.needs)
    assert sorted(order) == list(range(6))
    assert row.greedy == open_at_most(_SMALL.needs, order)
    kept = stacks.checks_of({"published": [row], "wbo": [row]})
    assert all(c.kept for c in kept)
    late = replace(row, cpu=1.5)
    slow = stacks.checks_of({"published": [late], "wbo": [row]})
    assert [c.kept for c in slow] == [False, True, True]
    other = stacks.measure(replace(_SMALL, optimum=4))
    assert other.faults == ("3 proved, 4 published",)
    assert not stacks.checks_of({"published": [other]})[-1].kept


def test_the_command(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setitem(SETS, "published", StackSet("one", lambda quick, seed: [_SMALL]))
    assert main(["stacks", "--quick", "--only", "published"]) == 0
    assert "ok    published: proved in 1 CPU s: 1 of 1" in capsys.readouterr().out
    monkeypatch.setattr(stacks, "SECONDS", -1.0)
    assert main(["stacks", "--only", "published"]) == 1
    assert "SHORT published" in capsys.readouterr().out
    assert main(["nothing"]) == 2
    assert main([]) == 2
