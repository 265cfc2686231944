"""Print how near, and how sure, the first guess of a layer is before any trial.

Run ``python -m tests.toning.first_guess_table [--seeds N]`` from the root. Some seconds.

First washes and rubs on bare gold in both simulated workshops, of whose layers the kind alone is
known; and artists' acrylics as films on gold, of which the oil paint of that name is known, and how
strong the mix is. Nothing that is guessed of a kind comes from the acrylics, which both workshops
are made of.
"""

import argparse
import json
from collections.abc import Iterator

import numpy as np

from tests.demonstration.spectra import WAVELENGTHS, gold_reflectance, kubelka_munk, lab_d50
from tests.toning.learning import within_regions
from tests.toning.second_workshop import second_workshop
from tests.toning.simulated import Array, make_with_truth
from tests.toning.simulator import FIRST, PAINTS
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.swatchbook import swatch_table
from tonematch.toning.core import Application, Layer, Trial
from tonematch.toning.model.layer_model import LayerModel, fit_trials
from tonematch.toning.model.prior import hue_width
from tonematch.toning.optics.kubelka_munk import lab_to_bands

ACRYLICS = {
    "bone-black": "BoneBlack", "cobalt-blue": "CobaltBlue", "ultramarine": "UltramarineBlue"
}  # fmt: skip
"""Paints of pigments.toml that are in the artist-paint table too."""
AMOUNTS = (0.125, 0.25, 0.5, 1.0)


def first_steps(seeds: int) -> dict[str, list[Trial]]:
    """First layers on bare gold, by the workshop."""
    first = [made.trial for seed in range(seeds) for made in make_with_truth(FIRST, 60, seed)]
    second = [
        made.trial
        for seed in range(seeds)
        for made in make_with_truth(second_workshop(seed), 60, seed)
    ]
    bare = {"first workshop": first, "second workshop": second}
    return {name: [t for t in trials if t.step == 1] for name, trials in bare.items()}


def acrylics() -> Iterator[tuple[LayerModel, list[Trial]]]:
    """For each acrylic what its oil paint foretells, and its films on gold.

    The scattering of the oil paint is not known, and taken to be a tenth of its absorption.
    """
    for name, paints in swatch_table("pigments.toml").items():
        if name not in ACRYLICS:
            continue
        oil = np.array(next(iter(paints.values())))
        layer = Layer(name, "glaze", absorption=tuple(oil), scattering=tuple(0.1 * oil))
        K, S = spectra(ACRYLICS[name])
        strong = strength_of(K)
        films = [
            Trial(
                Application(lab_d50(gold_reflectance()), name, "glaze", amount),
                lab_d50(kubelka_munk(gold_reflectance(), K, S, amount * strong)),
            )
            for amount in AMOUNTS
        ]
        yield fit_trials([], {name: layer}), films


def spectra(acrylic: str) -> tuple[Array, Array]:
    """K and S of one of the artists' paints, shape (36,) each."""
    table = json.loads(PAINTS.read_text(encoding="utf-8"))[acrylic]
    size = WAVELENGTHS.size
    return np.array(table["K"][:size]), np.array(table["S"][:size])


def band_absorption(K: Array) -> Array:
    """K in the three bands of a film over gold that only absorbs, shape (3,)."""
    gold = gold_reflectance()
    seen = lab_to_bands(lab_d50(gold * np.exp(-2.0 * K))) / lab_to_bands(lab_d50(gold))
    return np.asarray(-0.5 * np.log(seen))


def strength_of(K: Array, mean: float = 0.2) -> float:
    """At which thickness the bands absorb so much on average."""
    tried = np.geomspace(0.01, 30.0, 300)
    means = [float(band_absorption(x * K).mean()) for x in tried]
    return float(np.interp(mean, means, tried))


def told(model: LayerModel, trials: list[Trial]) -> str:
    """Mean error, and the shares inside the 50 % and the 90 % region."""
    found = model.predict([t.application for t in trials])
    error = float(delta_e_2000(found, np.array([t.after for t in trials])).mean())
    half, nine = within_regions(model, trials).mean(axis=0)
    return f"{len(trials):6d}{error:8.2f}{half:8.0%}{nine:8.0%}"


def main() -> None:
    """Print one line for each."""
    parser = argparse.ArgumentParser(description="What is foretold before any trial.")
    parser.add_argument("--seeds", type=int, default=12)
    seeds = parser.parse_args().seeds
    print(f"{'':<20}{'films':>6}{'error':>8}{'in 50 %':>8}{'in 90 %':>8}")
    for name, trials in first_steps(seeds).items():
        print(f"{name:<20}{told(fit_trials([], {}), trials)}")
    for model, films in acrylics():
        print(f"{films[0].application.layer:<20}{told(model, films)}")
    print(f"width of the hue: {hue_width():.2f}")


if __name__ == "__main__":
    main()
