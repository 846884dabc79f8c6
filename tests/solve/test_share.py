"""How the time of a plan is shared out over its groups of materials."""

from __future__ import annotations

import time

from cutopt.solve.pool import _share


def test_the_last_groups_may_take_what_is_left() -> None:
    deadline = time.time() + 100
    assert _share(deadline, 1, 1) > 99
    assert _share(deadline, 2, 2) > 99


def test_a_group_leaves_time_for_those_behind_it() -> None:
    for workers in (1, 2, 8):
        left = 60.0
        for waiting in range(40, workers, -1):
            share = _share(time.time() + left, waiting, workers)
            assert share <= 0.75 * left + 1e-3
            # As if all groups of a wave took all that they may.
            left -= share / workers
        assert left > 0


def test_nothing_is_left_after_the_deadline() -> None:
    assert _share(time.time() - 5, 3, 2) == 0
