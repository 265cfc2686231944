"""What goes into the pot: a full-strength mix, written in a line, and measured out for a volume.

A mix is written ``120 g shellac flakes in 1 l alcohol``, ``1 part watercolour in 6 parts water
with 1 drop ox gall to 20 ml``, ``8 passes of a soft brush`` or ``2 g wax paste to 1000 cm2``. What
stands before *in* makes the strength; what stands after it thins; what stands after *with* goes by
the volume of the pot, whatever the strength.
"""

import re
from dataclasses import replace

from tonematch.errors import ShelfError, ValueRefused
from tonematch.toning.core import Amount, Coat, Layer, Mix
from tonematch.toning.layers.coats import say_coats

USUAL_POT = 20.0  # ml: a small jar, enough for the repairs of a frame (a choice of this project)
LEAST_POT, MOST_POT = 1.0, 5000.0
DROP = 0.05  # ml, the drop of a pipette: common practice, no source
# What can be measured at a bench (choices): so much of what drops, in ml, is counted out; up to so
# much, tube colour from the first drop on, goes by the tenths of a small syringe. STEPS_ML: from so
# many ml on by steps of so many, as the marks stand on syringe, glass and jug.
MOST_DROPS, BY_SYRINGE, SCALE_G = 1.0, 5.0, 0.1
STEPS_ML = ((1000.0, 10.0), (100.0, 5.0), (BY_SYRINGE, 1.0), (MOST_DROPS, 0.1), (0.0, DROP))
PASTES = ("colour", "gouache", "paint", "paste")  # in what a thing is called that does not drop
# So much off the strength asked for, as a part of it, is less than one hand varies; beyond, said,
# and from the second on as more than a little.
UNSAID, A_LITTLE = 0.1, 0.25

HOW_TO_WRITE = (
    "amounts such as '120 g shellac flakes in 1 l alcohol', '1 part watercolour in 6 parts water "
    "with 1 drop ox gall to 20 ml', '8 passes of a soft brush' or '2 g wax paste to 1000 cm2'"
)
_ONE = r"(\d+(?:[.,]\d+)?)\s*(g|ml|cl|l|parts?|drops?|pass(?:es)?|specks?)\b\s*(?:of\s+)?(.+)"
_UNITS = {"cl": ("ml", 10.0), "l": ("ml", 1000.0)}
_PLURALS = {"parts": "part", "drops": "drop", "passes": "pass", "specks": "speck"}
_MIX = re.compile(
    r"(?P<take>.+?)(?: in (?=\d)(?P<into>.+?))?(?: with (?=\d)(?P<add>.+?))?"
    r"(?: to (?=\d)(?P<per>\d+(?:[.,]\d+)?)\s*(?P<of>ml|cm2))?"
)
DRY = ("g", "pass", "speck")  # what is not stirred into anything
_STIRRED = {"ml": {"g", "ml"}, "part": {"part"}, "g": {"g"}}  # into what is measured so
_EIGHTHS = (
    *("an eighth", "a quarter", "three eighths", "half"),
    *("five eighths", "three quarters", "seven eighths", "all"),
)


def read_mix(text: str) -> Mix:
    """A mix as it is written; see the head of this module. Raises ShelfError where it is none."""
    found = _MIX.fullmatch(" ".join(text.split()))
    try:
        if found is None:
            raise ValueError(text)
        take = tuple(_amount(one) for one in re.split(r" and (?=\d)", found["take"]))
        into = _amount(found["into"]) if found["into"] else None
        add = _amount(found["add"]) if found["add"] else None
        per = _number(found["per"]) if found["per"] else 0.0
        mix = Mix(take, into, add, per)
        if not _makes_sense(mix, found["of"]):
            raise ValueError(text)
    except ValueError as error:
        raise ShelfError(f"The mix {text!r} cannot be measured out: write {HOW_TO_WRITE}.") from (
            error
        )
    return mix


def say_mix(mix: Mix | None, how: bool = False) -> str:
    """A mix as it is written, empty for none; how small volumes are measured too if asked."""
    if mix is None:
        return ""
    said = " and ".join(_written(one, how) for one in mix.take)
    if mix.into is not None:
        said += f" in {_written(mix.into, how)}"
    if mix.add is not None:
        said += f" with {_written(mix.add, how)}"
    return said + (f" to {mix.per:g} {'cm2' if mix.add is None else 'ml'}" if mix.per else "")


def say_full_strength(layer: Layer) -> str:
    """What strength 1 is, measured and in words; empty where nobody said."""
    mix = layer.mix
    if mix is not None and mix.into is not None and not mix.into.number:
        mix = replace(mix, into=None)  # what only thins it further is not in it
    return ", ".join(filter(None, (say_mix(mix), layer.full_strength)))


def read_pot(text: str) -> float:
    """A volume such as ``50ml``, ``5 cl`` or ``0.1 l``, in ml; ValueRefused where it is none."""
    found = re.fullmatch(r"(\d+(?:[.,]\d+)?)\s*(ml|cl|l)", text.strip().lower())
    volume = 0.0 if found is None else _number(found[1]) * _UNITS.get(found[2], ("", 1.0))[1]
    if not LEAST_POT <= volume <= MOST_POT:
        raise ValueRefused(
            f"A pot of {text!r} cannot be mixed: give a volume from 1 ml to 5 l, such as 50ml."
        )
    return volume


def measure_out(mix: Mix, strength: float, pot: float) -> tuple[Mix, float]:
    """A strength of a mix, above 0, as it is measured out, and the strength that this comes to.

    The pot holds so many ml, or g of what is mixed by weight. What makes the strength is rounded
    to what can be measured, and the thinner follows it: rather a pot a little larger or smaller
    than another strength.
    """
    if mix.into is None:
        taken = tuple(_measurable(one, one.number * strength) for one in mix.take)
        return replace(mix, take=taken), taken[0].number / mix.take[0].number
    whole = _whole(mix)
    taken = tuple(_measurable(one, one.number * strength * pot / whole) for one in mix.take)
    full = taken[0].number / mix.take[0].number * whole  # the pot in which this were full strength
    stirred_in = _whole(Mix(taken, replace(mix.into, number=0.0, unit=_bench_unit(mix.into))))
    into = _measurable(mix.into, max(0.0, full / strength - stirred_in), least=0.0)
    made = stirred_in + into.number
    add = mix.add and _measurable(mix.add, mix.add.number * made / mix.per)
    return Mix(taken, into if into.number else None, add), full / made


def say_pot(layer: Layer, strength: float, pot: float, coats: int = 1) -> str:
    """What to measure out for a strength of a layer, in one line without a full stop.

    A pot is for all its coats; what is not stirred into anything is told for each.
    """
    if layer.kind == "lift":
        return layer.technique
    if layer.mix is None:
        words = f" ({layer.full_strength})" if layer.full_strength else ""
        said = f"{say_share(strength)} your full-strength mix{words}"
        stirred = layer.kind in ("seal", "glaze", "wash") and strength < 1.0
        return f"{said}: {strength * pot:.0f} ml of it, thinned to {pot:g} ml" if stirred else said
    measured, reached = measure_out(layer.mix, strength, pot)
    said = say_mix(measured, how=True)
    if coats > 1 and layer.mix.into is None:
        said += ", for each coat"
    if layer.beneath:
        said += f", until about {100.0 * layer.cover * strength:.0f} % of the leaf is worn through"
    off = reached / strength - 1.0
    if abs(off) <= UNSAID:
        return said
    how = "a little" if abs(off) <= A_LITTLE else "clearly"
    way = "stronger" if off > 0 else "weaker"
    more = "; a larger pot comes closer" if layer.mix.into is not None else ""
    return f"{said} (so it is {how} {way} than meant{more})"


def say_coat(coat: Coat, pot: float) -> str:
    """``garnet shellac glaze, 2 coats: 3 g garnet shellac in 20 ml alcohol``."""
    name = coat.layer.name if coat.coats == 1 else f"{coat.layer.name}, {say_coats(coat.coats)}"
    return f"{name}: {say_pot(coat.layer, coat.strength, pot, coat.coats)}"


def say_share(strength: float) -> str:
    """``a quarter of``, ``all of``, ``0.3 of``."""
    eighths = strength * 8.0
    share = _EIGHTHS[int(eighths) - 1] if eighths in range(1, 9) else f"{strength:g}"
    return f"{share} of"


def blended(one: Mix | None, other: Mix | None, parts: tuple[int, int]) -> Mix | None:
    """Two full-strength mixes in one pot, parts by volume; None where they do not thin alike."""
    if one is None or other is None or one.into is None or other.into is None:
        return None
    units = {taken.unit for taken in (*one.take, *other.take)}
    if len(units) > 1 or one.into.of != other.into.of:
        return None
    a, b = parts[0], parts[1] * _whole(one) / _whole(other)
    take = tuple(
        replace(amount, number=amount.number * scale)
        for mix, scale in ((one, a), (other, b))
        for amount in mix.take
    )
    counted = sum(amount.number for amount in take if amount.unit == one.into.unit)
    into = replace(one.into, number=sum(parts) * _whole(one) - counted)
    return replace(one if one.add else other, take=take, into=into)


def _whole(mix: Mix) -> float:
    """Parts, ml or g of a full-strength mix in all, without what is weighed into a liquid."""
    if mix.into is None:
        return 0.0
    return mix.into.number + sum(one.number for one in mix.take if one.unit == mix.into.unit)


def _makes_sense(mix: Mix, per_unit: str | None) -> bool:
    units = {one.unit for one in mix.take}
    if min(one.number for one in mix.take) <= 0.0:
        return False
    if mix.into is None:
        return units <= {*DRY} and mix.add is None and per_unit != "ml"
    if mix.add is None:
        return units <= _STIRRED[mix.into.unit] and per_unit is None
    return units <= _STIRRED[mix.into.unit] and per_unit == "ml" and mix.per > 0.0


def _amount(text: str) -> Amount:
    found = re.fullmatch(_ONE, text.strip())
    if found is None:
        raise ValueError(text)
    unit, times = _UNITS.get(found[2], (_PLURALS.get(found[2], found[2]), 1.0))
    return Amount(_number(found[1]) * times, unit, found[3].strip())


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _written(amount: Amount, how: bool) -> str:
    number, unit = amount.number, amount.unit
    if unit == "ml" and number >= 1000.0:
        number, unit = number / 1000.0, "l"
    if unit in ("part", "drop", "pass", "speck") and number != 1.0:
        unit += "es" if unit == "pass" else "s"
    if how and unit == "ml" and 0.0 < number < BY_SYRINGE:
        drops = number <= MOST_DROPS and not any(word in amount.of for word in PASTES)
        count = f"{number / DROP:.0f} {'drop' if number == DROP else 'drops'}"
        unit += f" ({count if drops else 'by syringe'})"
    of = "of " if amount.unit in ("pass", "speck") else ""
    return f"{number:g} {unit} {of}{amount.of}"


def _bench_unit(amount: Amount) -> str:
    return "ml" if amount.unit == "part" else amount.unit


def _measurable(of: Amount, number: float, least: float | None = None) -> Amount:
    """So much of something, rounded to what can be measured; never to nothing unless `least`."""
    unit = _bench_unit(of)
    if unit == "drop" and number * DROP > MOST_DROPS:  # nobody counts so many
        unit, number = "ml", number * DROP
    in_ml = max((step for begins, step in STEPS_ML if number > begins), default=DROP)
    step = {"g": SCALE_G, "ml": in_ml}.get(unit, 1.0)
    rounded = round(round(number / step) * step, 2)
    return Amount(max(step if least is None else least, rounded), unit, of.of)
