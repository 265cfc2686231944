"""The gilder's own shelf: nothing that was known of a layer is lost when it changes."""

from dataclasses import replace

import pytest

from tonematch.errors import LogbookError
from tonematch.logbook.core import Piece
from tonematch.logbook.store import Logbook
from tonematch.toning.core import Layer, Trial
from tonematch.toning.layers.shelf import load_shelf

SOOT = Layer(
    "soot",
    "dust",
    material="lamp black",
    absorption=(0.1, 0.2, 0.3),
    scattering=(0.0, 0.0, 0.0),
    cautions=("Wear a mask.",),
    drying_hours=(0.5, 1.0),
)
TEA = Layer("tea", "wash", binder="gum", solvent="water")
SHIPPED = "raw umber wash"


def of_layer(trial: Trial, layer: Layer) -> Trial:
    laid = replace(trial.application, layer=layer.name, kind=layer.kind)
    return replace(trial, application=laid)


def test_own_layer_comes_back(logbook: Logbook) -> None:
    logbook.add_layer(SOOT)
    logbook.add_layer(TEA)
    assert logbook.own_layers() == [SOOT, TEA]
    with pytest.raises(LogbookError, match="is on your own shelf: change that one"):
        logbook.add_layer(SOOT)


def test_retired_layer_stays_known_and_can_be_brought_back(logbook: Logbook) -> None:
    logbook.add_layer(SOOT)
    logbook.retire_layer("soot", "too dirty")
    assert logbook.own_layers() == []
    assert logbook.own_layers(retired=True) == [SOOT]
    assert logbook.shelf()["soot"] == replace(SOOT, at_hand=False)
    with pytest.raises(LogbookError, match="was once on your own shelf: bring back that one"):
        logbook.add_layer(SOOT)
    logbook.bring_back_layer("soot")
    logbook.bring_back_layer("soot")
    assert logbook.own_layers() == [SOOT]
    told = [(change.words, change.reason) for change in logbook.layer_changes("soot")]
    assert told == [("retired", "too dirty"), ("brought back", "")]
    with pytest.raises(LogbookError, match="No layer 'rust'"):
        logbook.retire_layer("rust")


def test_own_entry_stands_in_the_place_of_the_shipped_one(logbook: Logbook) -> None:
    shipped = load_shelf()[SHIPPED]
    assert logbook.shelf() == load_shelf()
    logbook.add_layer(replace(shipped, at_hand=False))
    assert not logbook.shelf()[SHIPPED].at_hand
    logbook.change_layer(SHIPPED, replace(shipped, most_coats=4), "from another maker")
    assert logbook.shelf()[SHIPPED] == replace(shipped, most_coats=4)
    logbook.retire_layer(SHIPPED)
    assert logbook.shelf()[SHIPPED] == shipped


def test_changed_layer_leaves_a_trace(logbook: Logbook) -> None:
    logbook.add_layer(SOOT)
    darker = replace(SOOT, absorption=(0.4, 0.4, 0.4))
    logbook.change_layer("soot", darker, "another lamp")
    assert logbook.own_layers() == [darker]
    (change,) = logbook.layer_changes("soot")
    assert (change.words, change.reason) == ("described anew", "another lamp")


def test_trials_and_pieces_follow_a_renamed_layer(logbook: Logbook, trial: Trial) -> None:
    logbook.add_layer(TEA)
    capital = replace(TEA, name="Tea")
    number = logbook.add_trial(replace(of_layer(trial, TEA), piece="frame"))
    logbook.add_trial(replace(of_layer(trial, capital), piece="frame", step=3))
    logbook.exclude_trial(number)
    other = replace(trial, step=4)
    logbook.add_trial(other)
    frame = logbook.piece("frame")
    logbook.change_piece("frame", replace(frame, laid_before=("soot", "tea")))

    logbook.change_layer("tea", replace(TEA, name="black tea"), "there are two teas now")

    names = [kept.trial.application.layer for kept in logbook.kept_trials()]
    assert names == ["black tea", "black tea", SHIPPED]
    assert logbook.piece("frame").laid_before == ("soot", "black tea")
    renamed = [c for c in logbook.history("frame").changes if "renamed from tea" in c.words]
    assert [change.subject for change in renamed] == ["trial 1", "trial 2", "piece 1"]
    assert {change.reason for change in renamed} == {"there are two teas now"}


@pytest.mark.parametrize("taken", ["soot", "retired thing", SHIPPED, "known from trials"])
def test_layer_is_not_renamed_onto_another(logbook: Logbook, trial: Trial, taken: str) -> None:
    logbook.add_layer(SOOT)
    logbook.add_layer(replace(SOOT, name="retired thing"))
    logbook.retire_layer("retired thing")
    logbook.add_trial(of_layer(trial, replace(TEA, name="known from trials")))
    logbook.add_layer(TEA)
    with pytest.raises(LogbookError, match=r"another name|nothing has yet"):
        logbook.change_layer("tea", replace(TEA, name=taken))
    assert TEA in logbook.own_layers()
    assert logbook.layer_changes("tea") == []


def test_kind_of_a_layer_with_trials_is_settled(logbook: Logbook, trial: Trial) -> None:
    logbook.add_trial(of_layer(trial, TEA))
    as_glaze = replace(TEA, kind="glaze")
    with pytest.raises(LogbookError, match="is a wash in its trials"):
        logbook.add_layer(as_glaze)
    logbook.add_layer(TEA)
    with pytest.raises(LogbookError, match="is a wash in its trials"):
        logbook.change_layer("tea", as_glaze)
    assert logbook.own_layers() == [TEA]


def test_retired_layer_can_be_changed_and_stays_retired(logbook: Logbook) -> None:
    logbook.add_piece(Piece("frame"))
    logbook.add_layer(TEA)
    logbook.retire_layer("tea")
    logbook.change_layer("tea", replace(TEA, name="black tea"))
    assert logbook.own_layers() == []
    assert logbook.own_layers(retired=True) == [replace(TEA, name="black tea")]
