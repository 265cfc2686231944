"""Render the demonstration: invented photographs of invented gilding, with their truth.

Run ``python -m tests.demonstration.render_demo`` from the root; it writes swatches/demo/*.jpg and
swatches/demo/truth.json. Piece, damage and repair are invented; only the optical constants of
gold, the sensors and the lights are measured things (see spectra.py and camera.py).
"""

import argparse
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path

import numpy as np

from tests.demonstration import make_trials
from tests.demonstration.camera import Shot, raw_weights, save_jpeg, take
from tests.demonstration.films import FILMS, SMOKE, Surface, lay, new_gold
from tests.demonstration.scene import (
    AMOUNTS,
    BEADS,
    CANVAS,
    CARDS,
    CLOTH,
    END,
    HEIGHT,
    INK,
    PAPER,
    WIDTH,
    Box,
    Material,
    Scene,
    blotches,
    card,
    draw_card,
    light_field,
    rail_shading,
)
from tests.demonstration.spectra import Array, delta_e_2000, lab_d50
from tonematch.swatchbook import swatch_path

DEMO = swatch_path("demo")
MARGIN = 24
"""A person marks a card a little inside its edge: pixels."""
APART = {"card": 0, "white card": -280, "black card": 280}
"""Where the cards lie beside the grey one: pixels."""

Recipe = tuple[tuple[str, float], ...]
COATS = {**FILMS, "smoke": SMOKE}


@dataclass(frozen=True)
class Gilding:
    """A gilded surface: bole, what was laid on it (layer, strength), how uneven, how worn.

    Beside the layers of the shelf there is "smoke". `worn` is the mean fraction of leaf rubbed
    through to the bole. `hand` tells how many times thicker a layer lies than its strength says.
    """

    bole: str
    recipe: Recipe
    mottling: float
    worn: float
    hand: Mapping[str, float] = field(default_factory=dict)

    def surface(self, factor: Array | float = 1.0) -> Surface:
        """The gilding with every coat's thickness times `factor`, before wear."""
        surface = new_gold(self.bole)
        for name, strength in self.recipe:
            thickness = strength * self.hand.get(name, 1.0)
            surface = lay(surface, COATS[name], thickness * np.asarray(factor))
        return surface

    def material(self) -> Material:
        """The gilding as the scene needs it."""
        surface = self.surface(AMOUNTS[:, None])
        return Material(surface.reflectance, surface.bole)


@dataclass(frozen=True)
class Picture:
    """One photograph: what lies where, and how it is taken."""

    name: str
    words: str
    original: Gilding | None
    repair: Gilding | None
    shot: Shot
    card: Box = (690, 640, 230, 150)
    boxes: tuple[tuple[str, Box], ...] = (
        ("original", (400, 400, 280, 190)),
        ("repair", (960, 400, 280, 190)),
    )
    seed: int = 1

    @property
    def cards(self) -> dict[str, Box]:
        """Where the cards lie."""
        x, y, w, h = self.card
        return {name: (x + apart, y, w, h) for name, apart in APART.items()}

    @property
    def card_boxes(self) -> dict[str, Box]:
        """The cards as a person marks them."""
        return {
            name: (x + MARGIN, y + MARGIN, w - 2 * MARGIN, h - 2 * MARGIN)
            for name, (x, y, w, h) in self.cards.items()
        }


OLD = Gilding("red", (("smoke", 0.70), ("rottenstone dust", 0.15)), mottling=0.12, worn=0.03)
NEW = Gilding("red", (("clear shellac seal", 1.0),), mottling=0.05, worn=0.0)
# The first step of the plan for scene-1, then of that for scene-2-after-1, both as the hand lays
# them that made the trials.
FIRST, SECOND = ("raw umber glaze", 0.375), ("burnt umber glaze", 0.5)
HABITS = make_trials.habits(np.random.default_rng(make_trials.SEED))
HAND = {name: HABITS[name] for name, _ in (FIRST, SECOND)}
AFTER_1 = Gilding("red", (*NEW.recipe, FIRST), mottling=0.08, worn=0.0, hand=HAND)
AFTER_2 = Gilding("red", (*AFTER_1.recipe, SECOND), mottling=0.08, worn=0.0, hand=HAND)
OLD_OIL = Gilding("yellow", (("gelatine size", 1.0), ("smoke", 0.45), ("rottenstone dust", 0.4)),
                  mottling=0.12, worn=0.02)  # fmt: skip
NEW_OIL = Gilding("yellow", (("low-polarity resin seal", 1.0),), mottling=0.05, worn=0.0)

# CIE LED-V2: a white lamp of high colour rendering. Under a common LED (LED-B4) the card alone
# leaves readings of gold 5 CIEDE2000 off, though differences stay right (see tests/measure).
GOOD_LED = Shot(light="LED-V2", exposure=0.77, balance=(1.03, 1.0, 0.95))
ALONE_LEFT: tuple[tuple[str, Box], ...] = (("original", (480, 400, 280, 190)),)
ALONE_RIGHT: tuple[tuple[str, Box], ...] = (("repair", (840, 400, 280, 190)),)

PICTURES = (
    Picture("scene-1", "water gilding, the repair sealed and not toned yet", OLD, NEW,
            GOOD_LED),
    Picture("scene-2-after-1", "the same after one toning layer", OLD, AFTER_1,
            Shot(light="LED-V2", exposure=0.77, balance=(1.02, 1.0, 0.97)), seed=2),
    Picture("scene-2-after-2", "the same after two toning layers", OLD, AFTER_2,
            Shot(light="LED-V2", exposure=0.82, balance=(1.04, 1.0, 0.94)), seed=3),
    Picture("separate-original", "only the old gold of the same piece", OLD, None,
            GOOD_LED,
            card=(860, 640, 230, 150), boxes=ALONE_LEFT, seed=4),
    Picture("separate-repair", "only the repair of the same piece", None, NEW,
            Shot(light="LED-V2", exposure=0.58, balance=(0.98, 1.0, 1.03)),
            card=(560, 640, 230, 150), boxes=ALONE_RIGHT, seed=5),
    Picture("overexposed", "scene-1 exposed far too long: card and gold are clipped", OLD, NEW,
            Shot(light="LED-V2", exposure=6.2), seed=6),
    Picture("scene-3", "matte oil gilding under a warm LED, another camera", OLD_OIL, NEW_OIL,
            Shot("Sigma SDMerill (NPL)", "LED-B2", 0.76, (1.02, 1.0, 0.97)), seed=7),
)  # fmt: skip


def build_scene(picture: Picture) -> Scene:
    """Lay out a picture: rail, boundary of the repair, mottling, wear and cards."""
    piece = np.random.default_rng(100 if "oil" not in picture.words else 200)
    rng = np.random.default_rng(picture.seed)
    shading, raised = rail_shading(rng)
    mottle, rubbed = blotches(piece, 14.0, 60.0, 160.0), blotches(piece, 6.0, 40.0)
    ragged = 820 + 26 * blotches(piece, 30.0)[:, :1] + 5 * blotches(piece, 5.0)[:, :1]

    gilding = [g for g in (picture.original, picture.repair) if g is not None]
    is_repair = np.arange(WIDTH)[None, :] > ragged
    which = is_repair.astype(int) if len(gilding) == 2 else np.zeros((HEIGHT, WIDTH), int)
    amount = 1 + np.array([g.mottling for g in gilding])[which] * mottle
    worn = np.array([g.worn for g in gilding])[which]
    # High points wear first: patches on the beads and along the rounded edge.
    patches = np.clip(rubbed + 0.3, 0.0, 1.5) * raised**4
    wear = np.clip(worn * (1 + 0.5 * rubbed) + 14 * worn * patches, 0.0, 0.9)

    materials = [g.material() for g in gilding]
    rows = np.arange(HEIGHT)[:, None] + np.zeros((1, WIDTH))
    covered = [(CLOTH, rows < BEADS), (CANVAS, rows >= END)]
    for name, box in picture.cards.items():
        words = f"{'GREY ' if name == 'card' else ''}{name.upper()}  {100 * CARDS[name]:.0f} %"
        field, paper, ink, shadow = draw_card(box, words)
        covered += [(PAPER, paper), (card(name), field), (INK, ink)]
        shading = shading * shadow
    for material, mask in covered:
        which[mask] = len(materials)
        materials.append(material)
        amount[mask], wear[mask] = 1.0, 0.0
    light = light_field(gradient=0.03, vignetting=0.05)
    amount = np.clip(amount, 0.0, AMOUNTS[-1])
    return Scene(tuple(materials), which, amount, wear, shading * light)


def truth_of(picture: Picture, scene: Scene) -> dict[str, object]:
    """What a perfect reading of the picture would find, and what was laid."""
    boxes = {**dict(picture.boxes), **picture.card_boxes}
    spectra = {name: scene.mean_reflectance(box) for name, box in boxes.items()}
    entry: dict[str, object] = {
        "words": f"invented: {picture.words}",
        "shot": asdict(picture.shot),
        "areas": {
            name: {
                "box": list(boxes[name]),
                "lab": lab_d50(spectrum).round(3).tolist(),
                "reflectance": spectrum.round(5).tolist(),
            }
            for name, spectrum in spectra.items()
        },
        "recipes": {
            role: None if gilding is None else asdict(gilding)
            for role, gilding in (("original", picture.original), ("repair", picture.repair))
        },
    }
    if "original" in spectra and "repair" in spectra:
        pair = lab_d50(np.stack([spectra["original"], spectra["repair"]]))
        entry["delta_e_2000"] = round(float(delta_e_2000(pair[0], pair[1])), 3)
    return entry


def render(picture: Picture, into: Path) -> dict[str, object]:
    """Render one picture into a folder and return its truth."""
    scene = build_scene(picture)
    signal = scene.signal(raw_weights(picture.shot.camera, picture.shot.light))
    pixels = take(signal, picture.shot, np.random.default_rng(1000 + picture.seed))
    save_jpeg(pixels, into / f"{picture.name}.jpg", f"Rendered, invented: {picture.words}")
    return truth_of(picture, scene)


def main() -> None:
    """Render every picture and write truth.json."""
    parser = argparse.ArgumentParser(description="Render the invented demonstration photographs.")
    parser.add_argument("--into", type=Path, default=DEMO)
    into: Path = parser.parse_args().into
    into.mkdir(parents=True, exist_ok=True)
    truth = {
        "note": "Invented. Lab is CIELAB for D50 and the 2 degree observer of the mean reflectance "
        "of each box (x, y, w, h), 380 to 730 nm by 10 nm. Every coat of a recipe is (layer, "
        "strength), laid in that order on new gold over bole.",
        "pictures": {f"{p.name}.jpg": render(p, into) for p in PICTURES},
    }
    text = json.dumps(truth, indent=1, ensure_ascii=False)
    (into / "truth.json").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
