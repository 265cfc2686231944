"""What goes into the pot: how a mix is written, and what is measured out of it.

Amounts of the shelf are common practice, no source; here only arithmetic is held: of half the
strength, half as much in the same volume.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tonematch.errors import ShelfError, ValueRefused
from tonematch.toning.core import Layer
from tonematch.toning.layers.mix import (
    blended,
    measure_out,
    read_mix,
    read_pot,
    say_full_strength,
    say_mix,
    say_pot,
)
from tonematch.toning.layers.shelf import load_shelf

SHELF = load_shelf()
SHELLAC, WASH = SHELF["clear shellac seal"], SHELF["raw umber wash"]


@pytest.mark.parametrize("layer", SHELF.values(), ids=lambda layer: layer.name)
def test_every_layer_of_the_shelf_can_be_measured_out(layer: Layer) -> None:
    assert layer.mix is not None
    assert read_mix(say_mix(layer.mix)) == layer.mix
    for strength in layer.strengths:
        _, reached = measure_out(layer.mix, strength, 20.0)
        assert abs(reached / strength - 1.0) < 0.1


def test_full_strength_names_nothing_of_which_none_goes_in() -> None:
    assert say_full_strength(SHELF["dark wax"]).startswith("1 g dark wax paste, a film")


@pytest.mark.parametrize(
    ("name", "strength", "pot", "words"),
    [
        # 120 g/l: 6 g in 50 ml, half of it 3 g.
        ("clear shellac seal", 0.5, 50, "3 g shellac flakes in 50 ml alcohol"),
        # 1 part in 7: a quarter of 50/7 ml is 1.79 ml.
        (
            *("raw umber wash", 0.25, 50),
            "1.8 ml (by syringe) raw umber watercolour in 49 ml water with 3 drops ox gall",
        ),
        # Tube colour does not drop.
        (
            *("raw sienna glaze", 0.125, 20),
            "0.5 ml (by syringe) raw sienna oil colour in 20 ml white spirit with 10 drops boiled "
            "linseed oil",
        ),
        # Nobody counts a hundred drops (1 ml is 20), or reads single ml off a jug.
        (
            "raw umber wash",
            1.0,
            2000,
            "285 ml raw umber watercolour in 1.71 l water with 5 ml ox gall",
        ),
        (
            *("raw umber glaze", 0.5, 60),
            "6 ml raw umber oil colour in 54 ml white spirit with 1.5 ml (by syringe) boiled "
            "linseed oil",
        ),
        ("yellow varnish", 0.125, 10, "0.6 ml (12 drops) yellow spirit varnish in 9 ml alcohol"),
        ("dammar seal", 1.0, 10, "2.5 ml (by syringe) dammar varnish in 8 ml turpentine"),
        ("rottenstone dust", 0.375, 50, "3 passes of a soft brush with rottenstone"),
        ("clear wax", 0.5, 50, "1 g wax paste to 1000 cm2"),
        ("dark wax", 0.25, 20, "5 g dark wax paste in 15 g clear wax paste"),
        (
            *("rub to bole", 0.5, 20),
            "4 passes of 0000 steel wool or cotton, until about 10 % of the leaf is worn through",
        ),
    ],
)
def test_what_goes_into_the_pot(name: str, strength: float, pot: float, words: str) -> None:
    assert say_pot(SHELF[name], strength, pot) == words


@given(st.floats(0.05, 1.0), st.floats(1.0, 5000.0))
def test_a_pot_holds_the_strength_whatever_its_size(strength: float, pot: float) -> None:
    # Parts by volume: 1 of 7 is full strength, whatever is rounded.
    assert WASH.mix is not None
    mix, reached = measure_out(WASH.mix, strength, pot)
    thinner = 0.0 if mix.into is None else mix.into.number
    colour = mix.take[0].number
    assert reached == pytest.approx(7.0 * colour / (colour + thinner))
    said = say_pot(WASH, strength, pot)
    assert ("than meant" in said) == (abs(reached / strength - 1.0) > 0.1)
    if pot >= 20.0:
        assert abs(reached / strength - 1.0) < 0.1


def test_a_layer_of_ones_own_is_a_share_of_its_full_mix() -> None:
    tea = Layer("weak tea wash", "wash", full_strength="two bags to a cup")
    assert say_pot(tea, 0.25, 20.0) == (
        "a quarter of your full-strength mix (two bags to a cup): 5 ml of it, thinned to 20 ml"
    )
    assert say_pot(Layer("soot", "dust"), 0.3, 20.0) == "0.3 of your full-strength mix"


def test_two_in_one_pot_keep_what_each_brings() -> None:
    other = SHELF["grey gouache wash"]
    both = blended(WASH.mix, other.mix, (2, 1))
    assert both is not None
    assert both.into is not None
    whole = both.into.number + sum(one.number for one in both.take)
    # Two thirds of a pot of 1 in 7 and one third of a pot of 1 in 9.
    assert both.take[0].number / whole == pytest.approx(2 / 3 / 7)
    assert both.take[1].number / whole == pytest.approx(1 / 3 / 9)
    assert blended(WASH.mix, SHELLAC.mix, (1, 1)) is None


@pytest.mark.parametrize(
    "text",
    [
        *("", "umber", "some umber in water", "1 cup umber in 6 cups water", "0 g flakes in 1 l x"),
        *("1 part umber in 20 ml water", "3 drops umber", "8 passes of a brush to 20 ml"),
        *("1 part umber in 6 parts water with 1 drop ox gall", "1 part umber in 6 parts", "5 ml x"),
    ],
)
def test_what_cannot_be_measured_is_told_how_to_be_written(text: str) -> None:
    with pytest.raises(ShelfError, match="write amounts such as '120 g shellac flakes in 1 l"):
        read_mix(text)


@pytest.mark.parametrize(
    ("text", "ml"), [("50ml", 50), ("50 ml", 50), ("0,1 L", 100), ("5 cl", 50), (" 2.5 ml ", 2.5)]
)
def test_a_pot_is_read_in_any_volume(text: str, ml: float) -> None:
    assert read_pot(text) == pytest.approx(ml)


@pytest.mark.parametrize("text", ["50 mil", "50", "ml", "-5 ml", "0 ml", "1e9 ml", "6 l", ""])
def test_a_pot_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(ValueRefused, match="give a volume from 1 ml to 5 l"):
        read_pot(text)
