"""From the logbook and a comparison to plans; pure functions, kept by their content."""

from collections.abc import Mapping, Sequence

import numpy as np
import streamlit as st

from tonematch.errors import ShelfError
from tonematch.measure.core import Comparison
from tonematch.toning.core import Application, Layer, Matrix3, Prediction, Proposal, Trial, Vector3
from tonematch.toning.doubts import Doubt, find_doubts
from tonematch.toning.model import LayerModel, fit_trials
from tonematch.toning.plan import propose
from tonematch.toning.rules import Surface
from tonematch.toning.shelf import at_hand, find_layer


@st.cache_resource(max_entries=4, show_spinner="Learning from the trials")
def learned_model(trials: Sequence[Trial], shelf: Mapping[str, Layer]) -> LayerModel:
    """The layer model of these trials; fitted once for the same trials and shelf."""
    return fit_trials(trials, shelf)


@st.cache_resource(max_entries=16, show_spinner="Looking for plans")
def proposed(
    trials: Sequence[Trial],
    shelf: Mapping[str, Layer],
    surface: Surface,
    before: Vector3,
    before_covariance: Matrix3,
    target: Vector3,
    target_covariance: Matrix3,
    tolerance: float,
) -> Proposal:
    """Plans for one gap with the layers that are at hand."""
    return propose(
        learned_model(trials, shelf),
        at_hand(shelf),
        before,
        target,
        tolerance=tolerance,
        before_covariance=before_covariance,
        target_covariance=target_covariance,
        surface=surface,
    )


@st.cache_resource(max_entries=4, show_spinner="Looking for mistyped trials")
def doubted(trials: Sequence[Trial], shelf: Mapping[str, Layer]) -> list[Doubt]:
    """Trials that the others speak against, the strangest first."""
    return find_doubts(learned_model(trials, shelf), trials)


def plan_for(
    trials: Sequence[Trial], shelf: Mapping[str, Layer], surface: Surface, gap: Comparison
) -> Proposal:
    """Plans that bring the repair of a comparison to its original."""
    return proposed(
        trials,
        shelf,
        surface,
        gap.repair.lab,
        gap.repair.covariance,
        gap.original.lab,
        gap.original.covariance,
        gap.tolerance,
    )


def foretell(
    trials: Sequence[Trial],
    shelf: Mapping[str, Layer],
    application: Application,
    before_covariance: Matrix3 | None,
) -> Prediction:
    """What the surface should read after one layer."""
    model = learned_model(trials, shelf)
    covariance = None if before_covariance is None else np.asarray(before_covariance)
    return model.predict_distribution(application, covariance)


def layers_laid(trials: Sequence[Trial], shelf: Mapping[str, Layer]) -> tuple[Layer, ...]:
    """The layers that a piece's trials put on it, lowest first.

    A layer that is no longer on the shelf counts by its name and kind.
    """
    laid = []
    for trial in trials:
        application = trial.application
        try:
            laid.append(find_layer(shelf, application.layer))
        except ShelfError:
            laid.append(Layer(application.layer, application.kind))
    return tuple(laid)
