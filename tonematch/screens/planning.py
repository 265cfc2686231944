"""From the logbook and a comparison to plans; pure functions, kept by their content."""

import pickle
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
import streamlit as st

from tonematch.arrays import Matrix3, Vector3
from tonematch.logbook.core import bench_name
from tonematch.toning.core import Application, Layer, Prediction, Proposal, Surface, Trial
from tonematch.toning.layers.shelf import at_hand, load_leaves
from tonematch.toning.model.fitted_layer import Memory
from tonematch.toning.model.layer_model import LayerModel, fit_trials
from tonematch.toning.model.lustre import LustreModel, learn_lustre
from tonematch.toning.planning.body_colour import LaidLeaf
from tonematch.toning.planning.gap import Gap, Workshop
from tonematch.toning.planning.leaf import LeafChoice, propose_leaf
from tonematch.toning.planning.mixes import with_mixes
from tonematch.toning.planning.plan import plan_for
from tonematch.toning.validation.outliers import Outlier, find_outliers

# How trials and layers are told apart: by content, as Streamlit does, in a tenth of its time.
_CONTENT: dict[str | type[Any], Callable[[Any], Any]] = {Layer: hash, Trial: pickle.dumps}


@st.cache_resource
def _memory() -> Memory:
    """Fits of layers, so that one trial more is learned without fitting all of them anew."""
    return Memory()


@st.cache_resource(max_entries=4, hash_funcs=_CONTENT, show_spinner="Learning from what you laid")
def learned_model(trials: Sequence[Trial], shelf: Mapping[str, Layer]) -> LayerModel:
    """The layer model of these trials; learned once for the same trials and shelf."""
    model = fit_trials(trials, shelf, memory=_memory(), bench=bench_name())
    model.recalibration_  # noqa: B018 - found now, under the name of this stage
    return model


@st.cache_resource(max_entries=4, hash_funcs=_CONTENT, show_spinner="Learning from what you laid")
def learned_lustre(trials: Sequence[Trial], shelf: Mapping[str, Layer]) -> LustreModel:
    """What these trials tell of each layer's lustre."""
    return learn_lustre(trials, shelf)


@st.cache_resource(max_entries=16, hash_funcs=_CONTENT, show_spinner="Looking for mixes that help")
def useful_mixes(
    trials: Sequence[Trial],
    shelf: Mapping[str, Layer],
    surface: Surface,
    before: Vector3,
    target: Vector3,
) -> tuple[LayerModel, tuple[Layer, ...]]:
    """Mixes of two layers in one pot that help here, and a model that knows them."""
    model = learned_model(trials, shelf)
    mixed, mixes = with_mixes(model, at_hand(shelf), before, target, surface)
    return mixed, tuple(layer for layer in mixes if layer.name not in shelf)


@st.cache_resource(max_entries=16, hash_funcs=_CONTENT, show_spinner="Looking for plans")
def proposed(
    trials: Sequence[Trial],
    shelf: Mapping[str, Layer],
    surface: Surface,
    gap: Gap,
    with_mixed: bool,
) -> Proposal:
    """Plans for one gap with the layers that are at hand, and with mixes of them if asked."""
    model, layers = learned_model(trials, shelf), at_hand(shelf)
    if with_mixed:
        model, mixes = useful_mixes(trials, shelf, surface, gap.before, gap.target)
        layers += mixes
    lustre = learned_lustre(trials, shelf) if gap.lustres else None
    return plan_for(gap, Workshop(model, layers, surface, lustre))


@st.cache_resource(max_entries=4, hash_funcs=_CONTENT, show_spinner="Looking for slips")
def doubted(trials: Sequence[Trial], shelf: Mapping[str, Layer]) -> list[Outlier]:
    """Trials that the others speak against, the strangest first."""
    return find_outliers(learned_model(trials, shelf), trials)


@st.cache_resource(max_entries=4, hash_funcs=_CONTENT, show_spinner="Looking which gold to lay")
def leaf_choices(
    trials: Sequence[Trial],
    shelf: Mapping[str, Layer],
    target: Vector3,
    target_covariance: Matrix3,
    leaves: tuple[str, ...],
    boles: tuple[str, ...],
    tolerance: float,
    surface: Surface,
    laid: LaidLeaf | None,
) -> tuple[LeafChoice, ...]:
    """New gilding from which a target is reached with little toning."""
    return propose_leaf(
        Workshop(learned_model(trials, shelf), at_hand(shelf), surface),
        target,
        target_covariance,
        laid=laid,
        leaves=[leaf for leaf in load_leaves() if leaf.name in leaves],
        boles=boles,
        tolerance=tolerance,
    )


def foretell(
    trials: Sequence[Trial],
    shelf: Mapping[str, Layer],
    application: Application,
    before_covariance: Matrix3 | None,
) -> Prediction:
    """What the surface should read after one layer."""
    # A mix that was never laid is known by its parts.
    before = application.before
    model, _ = useful_mixes(trials, shelf, Surface(), before, before)
    covariance = None if before_covariance is None else np.asarray(before_covariance)
    return model.predict_distribution(application, covariance)
