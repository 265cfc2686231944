"""A logbook with a piece that was compared, toned once and compared again, both photographed."""

from pathlib import Path

import numpy as np

from tonematch.demonstration import PIECE, demo_photograph
from tonematch.logbook.store import open_logbook
from tonematch.measure.calibration.card import usual_card
from tonematch.measure.core import Comparison
from tonematch.measure.marked import compare_marked
from tonematch.toning.core import Application, Prediction, Trial

PICTURES = ("scene-1.jpg", "scene-2-after-1.jpg")
LAYER = "lamp black wash"  # what lies between the two, by swatches/demo/truth.json


def make_toned(path: Path) -> tuple[Comparison, Comparison]:
    """Write the logbook; gives what was compared before the layer and after it."""
    with open_logbook(path) as logbook:
        logbook.add_piece(PIECE)
        gaps = []
        for name in PICTURES:
            shown = demo_photograph(name)
            marked = shown.marked()
            gaps.append(compare_marked(marked, marked, usual_card(), PIECE.tolerance))
            logbook.keep_photo(shown.data, name, PIECE.name)
            logbook.keep_comparison(PIECE.name, gaps[-1], {marked.photo.sha256: marked.aids})
        one, other = (gap.repair for gap in gaps)
        laid = Application(one.lab, LAYER, "wash", 0.5, 1, "water", "burnished")
        expected = Prediction(other.lab - np.array([4.0, 0.0, 0.0]), np.eye(3))
        trial = Trial(laid, other.lab, PIECE.name, note="invented")
        logbook.add_trial(trial, before=one, after=other, prediction=expected)
    return gaps[0], gaps[1]
