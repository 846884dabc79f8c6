"""Words in drawings: their room, their escaping, their places in a row."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutopt.draw.text import clip, letter, number, safe, spread, width


@given(st.text(max_size=40))
def test_safe_text_is_well_formed_in_element_and_attribute(text: str) -> None:
    element = ET.fromstring(f'<a b="{safe(text)}">{safe(text)}</a>')
    kept = "".join(c for c in text if c not in "\t\n\r" and c.isprintable() and ord(c) < 0xD800)
    assert all(c in (element.text or "") for c in kept)


@given(st.text(max_size=30), st.floats(min_value=0, max_value=300))
def test_clipped_text_fits(text: str, room: float) -> None:
    short = clip(text, room, 15)
    assert short == text or width(short, 15) <= room


def test_letters_go_on_after_z() -> None:
    assert [letter(i) for i in (0, 25, 26, 51, 52, 701, 702)] == [
        "A",
        "Z",
        "AA",
        "AZ",
        "BA",
        "ZZ",
        "AAA",
    ]


@pytest.mark.parametrize(
    ("value", "text"), [(1.0, "1"), (1.25, "1.25"), (0.001, "0"), (-0.001, "0"), (10.10, "10.1")]
)
def test_numbers_are_short(value: float, text: str) -> None:
    assert number(value) == text


labels = st.lists(
    st.tuples(st.floats(min_value=0, max_value=800), st.floats(min_value=1, max_value=90)),
    min_size=1,
    max_size=25,
)


@given(labels)
def test_spread_labels_keep_their_order_their_room_and_the_row(
    drawn: list[tuple[float, float]],
) -> None:
    drawn.sort()
    wanted, sizes = [d[0] for d in drawn], [d[1] for d in drawn]
    centres = spread(wanted, sizes, 0, 800)
    if sum(sizes) > 800:
        assert centres is None
        return
    assert centres is not None
    assert centres[0] - sizes[0] / 2 >= -1e-6
    assert centres[-1] + sizes[-1] / 2 <= 800 + 1e-6
    for i in range(len(centres) - 1):
        assert centres[i] + (sizes[i] + sizes[i + 1]) / 2 <= centres[i + 1] + 1e-6


def test_labels_with_room_stay_where_they_are_wanted() -> None:
    assert spread([100, 300, 500], [80, 80, 80], 0, 800) == [100, 300, 500]


def test_two_labels_at_one_place_move_apart_evenly() -> None:
    assert spread([400, 400], [80, 80], 0, 800) == [360, 440]
