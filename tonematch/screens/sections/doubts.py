"""Which of what was laid looks mistyped: looked for again whenever something changed."""

from tonematch.logbook.store import Logbook
from tonematch.logbook.stores.corrections import typed_values
from tonematch.screens.keeping import known_layers
from tonematch.screens.planning import doubted
from tonematch.screens.session import bench
from tonematch.toning.validation.outliers import Outlier

MANY_TRIALS = 300  # beyond, looking takes longer than a page may: some seconds for 2,000 trials


def find_doubts(logbook: Logbook, number: int, asked: bool) -> dict[int, Outlier]:
    """The doubtful trials by their number, the strangest first.

    Of a long logbook, by the `number` of its trials, only when it is asked for.
    """
    held = bench()
    if number > MANY_TRIALS and not asked and not held.doubts:
        return {}
    learned = [k for k in logbook.kept_trials() if not k.excluded]
    if number <= MANY_TRIALS or not held.doubts:
        found = doubted([k.trial for k in learned], known_layers(logbook))
        held.doubts = {learned[doubt.index].id: doubt for doubt in found}
    by_id = {k.id: k for k in learned}
    # What was put right or left out since then is no longer in doubt.
    return {
        number: doubt
        for number, doubt in held.doubts.items()
        if number in by_id and typed_values(by_id[number].trial) == typed_values(doubt.trial)
    }
