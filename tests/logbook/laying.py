"""A layer laid on a piece of a test's logbook."""

import numpy as np

from tonematch.logbook.core import Air
from tonematch.logbook.store import Logbook
from tonematch.measure.core import Comparison
from tonematch.toning.core import Application, Prediction

AIR = Air(18.0, 55.0)
FORETOLD = Prediction(np.array([61.0, 6.5, 35.0]), np.eye(3))


def lay(
    logbook: Logbook, application: Application, before: Comparison, dries_hours: float = 1.0
) -> int:
    """Lay a layer on the piece called frame, from a comparison that is kept first."""
    number = logbook.keep_comparison("frame", before)
    return logbook.begin_layer(number, application, FORETOLD, dries_hours, ["Mind."], AIR)
