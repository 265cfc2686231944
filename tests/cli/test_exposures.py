"""`tonematch profile` with several exposures of one scene, and what the curve is good for."""

from pathlib import Path

import colour
import numpy as np
from PIL import ExifTags, Image

from tests.cli.commands import Run, refused
from tests.measure.calibration.test_exposures import TIMES, taken
from tests.measure.painted import encode, lab_to_light
from tests.measure.tone_families import Curve, drawn_curve

PAIR = {"card": (49.496, 0.0, 0.0), "original": (62.0, 8.0, 36.0), "repair": (78.0, 6.0, 42.0)}
BOXES = {name: (20 + 100 * k, 20, 80, 80) for k, name in enumerate(PAIR)}


def saved(path: Path, codes: np.ndarray, time: float) -> Path:
    exif = Image.Exif()
    exif[ExifTags.Base.Make], exif[ExifTags.Base.Model] = "Acme", "One"
    exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.ExposureTime] = time / 50
    Image.fromarray(codes).save(path, exif=exif)
    return path


def exposures(folder: Path, curves: list[Curve], seed: int) -> list[Path]:
    pictures = taken(curves, np.random.default_rng(seed))
    return [
        saved(folder / f"{k}.png", codes, time)
        for k, (codes, time) in enumerate(zip(pictures, TIMES, strict=True))
    ]


def pair_under(curve: Curve, path: Path) -> Path:
    light = np.full((120, 320, 3), 0.05)
    for name, lab in PAIR.items():
        x, y, w, h = BOXES[name]
        light[y : y + h, x : x + w] = lab_to_light(np.array(lab))
    noise = np.random.default_rng(3).normal(0, 0.002, light.shape)
    return saved(path, np.asarray(encode(curve(0.7 * light) + noise, 8), dtype=np.uint8), 1.0)


def test_a_curve_from_exposures_narrows_what_the_card_alone_leaves_wide(
    run: Run, tmp_path: Path
) -> None:
    curve = drawn_curve("highlights rolled off", np.random.default_rng(6))
    profile = tmp_path / "camera.json"
    made = run("profile", *exposures(tmp_path, [curve] * 4, 6), "--out", profile)
    assert made.status == 0
    assert "tone curve from 4 exposures" in made.out
    boxes = [f"--{name}={','.join(map(str, box))}" for name, box in BOXES.items()]
    picture = pair_under(curve, tmp_path / "pair.png")
    alone = run("compare", picture, *boxes, "--json").json
    known = run("compare", picture, *boxes, "--camera-profile", profile, "--json").json
    old, new = (np.array(PAIR[name]) for name in ("original", "repair"))
    true = float(colour.delta_E(old, new, method="CIE 2000"))
    assert known["interval_95"][0] < true < known["interval_95"][1]
    assert abs(known["delta_e_2000"] - true) < abs(alone["delta_e_2000"] - true)
    assert np.ptp(known["interval_95"]) < 0.85 * np.ptp(alone["interval_95"])


def test_three_tones_in_one_picture_teach_a_curve_marked_or_found(run: Run, tmp_path: Path) -> None:
    fields = {"black": 0.04, "card": 0.18, "white": 0.9}
    light = np.full((200, 400, 3), 0.08) * (1.0, 0.7, 0.4)
    for k, reflectance in enumerate(fields.values()):
        light[60:140, 30 + 120 * k : 130 + 120 * k] = reflectance
    noise = np.random.default_rng(3).normal(0, 0.001, light.shape)
    picture = saved(tmp_path / "three.png", np.asarray(encode(0.8 * light + noise, 8)), 1.0)
    boxes = [f"--{name}={40 + 120 * k},70,80,60" for k, name in enumerate(fields)]
    for number, marks in enumerate((boxes, [])):
        made = run("profile", picture, *marks, "--out", tmp_path / f"{number}.json")
        assert "is written (tone curve as the file says, bent to 2 neutrals)" in made.out, made
    refused(
        run("profile", picture, boxes[1], "--out", tmp_path / "x.json"), "white and black cards"
    )


def test_what_cannot_give_a_curve_is_one_sentence(run: Run, tmp_path: Path) -> None:
    rng = np.random.default_rng(31)
    out = tmp_path / "camera.json"
    own = exposures(tmp_path, [drawn_curve("highlights rolled off", rng) for _ in TIMES], 31)
    for photos, words in ((own, "own way"), (own[:2], "three exposures"), (own[:1], "--card")):
        refused(run("profile", *photos, "--out", out), words)
        assert not out.exists()
    refused(run("profile", *own, "--card", "1,2,30,40", "--out", out), "leave out what is marked")
    bare = [tmp_path / f"bare {path.name}" for path in own]
    for path, copy in zip(own, bare, strict=True):
        Image.fromarray(np.asarray(Image.open(path))).save(copy)
    refused(run("profile", *bare, "--out", out), "does not state its exposure")
