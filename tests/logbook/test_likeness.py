"""Trials found by colour against colour-science's CIEDE2000 of every one of them."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from numpy.typing import NDArray

from tonematch.logbook.core import Piece
from tonematch.logbook.photo_folder import Where
from tonematch.logbook.store import Logbook, open_logbook
from tonematch.logbook.stores.likeness import Asked
from tonematch.measure.colour.colour_science import colour
from tonematch.toning.core import Application, Trial

TRIALS = 300
RANDOM = np.random.default_rng(14)
# Half of them golds, half of them anything: greys, blues (where the formula rotates) and all hues.
BEFORE = np.vstack(
    [
        RANDOM.normal([78, 6, 32], [8, 3, 7], (TRIALS // 2, 3)),
        RANDOM.uniform([0, -90, -90], [100, 90, 90], (TRIALS // 2, 3)),
    ]
).clip([0, -90, -90], [100, 90, 90])
AFTER = (BEFORE - RANDOM.gamma(2.0, 2.0, BEFORE.shape)).clip(0, 100)
labs = st.one_of(
    st.tuples(st.floats(60, 95), st.floats(0, 15), st.floats(10, 50)),
    st.tuples(st.floats(0, 100), st.floats(-100, 100), st.floats(-100, 100)),
).map(lambda lab: np.round(lab, 9))  # hues of numbers next to 0 are rounding's alone


def trial(before: NDArray[np.float64], after: NDArray[np.float64]) -> Trial:
    return Trial(Application(before, "raw umber wash", "wash", 0.5), after)


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Logbook]:
    with open_logbook(tmp_path_factory.mktemp("book") / "book.sqlite") as opened:
        opened.add_trials([trial(b, a) for b, a in zip(BEFORE, AFTER, strict=True)])
        yield opened


@example(before=np.zeros(3), after=np.zeros(3), like=np.array([30.0, 20.0, -80.0]), ways=7)
@given(before=labs, after=labs, like=labs, ways=st.integers(1, 7))
def test_the_nearest_are_those_of_a_search_by_brute_force(
    book: Logbook,
    before: NDArray[np.float64],
    after: NDArray[np.float64],
    like: NDArray[np.float64],
    ways: int,
) -> None:
    def away(lab: NDArray[np.float64], side: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(colour.delta_E(lab, side, method="CIE 2000"))

    either = np.minimum(away(like, BEFORE), away(like, AFTER))
    parts = {"before": away(before, BEFORE), "after": away(after, AFTER), "like": either}
    chosen = {name: part for bit, (name, part) in enumerate(parts.items()) if ways >> bit & 1}
    colours = {"before": before, "after": after, "like": like}
    wanted: dict[str, Any] = {name: colours[name] for name in chosen}
    asked = Asked(count=TRIALS, **wanted)
    expected = np.max([*chosen.values()], axis=0)

    found = book.find_trials(asked)
    near = np.sort(expected[expected <= 5.0])
    np.testing.assert_allclose(found.away, near if len(near) else [expected.min()], atol=1e-9)
    assert found.met == len(near)
    assert found.of == TRIALS
    numbers = [kept.id for kept in found.trials]
    assert len(set(numbers)) == len(numbers)
    np.testing.assert_allclose(expected[np.array(numbers) - 1], found.away, atol=1e-9)


def test_words_are_found_whatever_their_capitals_and_signs(where: Where) -> None:
    with open_logbook(where) as book:
        book.add_piece(Piece("Überrahmen", bole="Rot & schwarz"))
        plain = trial(BEFORE[0], AFTER[0])
        book.add_trials([
            replace(plain, piece="Überrahmen", date="2026-03-01", note="100% zu WARM_"),
            replace(plain, date="2025-12-31", note="100 g"),
        ])  # fmt: skip

        def numbers(**asked: Any) -> list[int]:
            return [kept.id for kept in book.find_trials(Asked(**asked)).trials]

        assert numbers(words="überrahmen WASH") == numbers(words="SCHWARZ") == [1]
        assert numbers(words="100%") == numbers(words="warm_") == [1]
        assert numbers(words="100") == [1, 2]
        assert numbers(words="überrahmen sepia") == []
        assert numbers(since="2026-01-01") == [1]
        assert numbers(technique="oil") == []
