"""The tables of the logbook.

Colours are CIELAB (D50, 2 degree) in three columns named by their symbols; what is no number and no
text is JSON (`cells`). Times are ISO 8601 text in UTC. A change here needs a migration beside it.
"""

from datetime import UTC, datetime
from typing import Annotated, Any

from sqlalchemy import (
    CheckConstraint,
    ForeignKey,
    Index,
    MetaData,
    UniqueConstraint,
    event,
    false,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column, relationship

from tonematch.arrays import Matrix3, Vector3
from tonematch.logbook.core import KeptAids, RecipeStep
from tonematch.logbook.database.cells import Cell, Number, Word, refuse_damaged_cells
from tonematch.measure.core import Calibration, Role, Verdict
from tonematch.toning.core import Finish, Glass, Kind, Prediction, Strip, Technique
from tonematch.toning.planning.ground import Ground

# "tone" in ASCII, at offset 68 of the file: by this a logbook is known from another database.
APPLICATION_ID = int.from_bytes(b"tone", "big")

Corners = tuple[tuple[float, float], ...]
Texts = tuple[str, ...]
Pairs = tuple[tuple[str, str], ...]
Lab = Annotated[Vector3, mapped_column(Cell(Vector3, 3))]
Covariance = Annotated[Matrix3, mapped_column(Cell(Matrix3, 3, 3))]

_WORDS: tuple[Any, ...] = (Technique, Finish, Glass, Kind, Role, Verdict)
_VALUES: tuple[Any, ...] = (
    *(Corners, Texts, Pairs, Calibration, KeptAids, Prediction, Ground),
    *(tuple[Strip, ...], tuple[RecipeStep, ...], dict[str, Any]),
)


def now() -> str:
    """The present time, ISO 8601, UTC, to the second."""
    return datetime.now(UTC).isoformat(timespec="seconds")


class Base(DeclarativeBase):
    """Common ground of all tables: an own number, the time of writing, the sum of what is said."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_name)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "ck": "ck_%(table_name)s_%(constraint_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s",
            "pk": "pk_%(table_name)s",
        }
    )
    type_annotation_map = {  # noqa: RUF012 - SQLAlchemy's own spelling
        float: Number,
        **{words: Word(words) for words in _WORDS},
        **{kind: Cell(kind) for kind in _VALUES},
    }

    id: Mapped[int] = mapped_column(primary_key=True)
    made_at: Mapped[str] = mapped_column(default=now)
    sum: Mapped[str] = mapped_column(default="", server_default="")


event.listen(Base, "load", refuse_damaged_cells, propagate=True)


class PieceRow(Base):
    """A gilded object, or each zone of one: what points here knows its zone."""

    __tablename__ = "pieces"
    __table_args__ = (
        CheckConstraint("tolerance > 0", name="tolerance"),
        UniqueConstraint("name", "zone"),
    )

    name: Mapped[str]
    technique: Mapped[Technique]
    finish: Mapped[Finish]
    bole: Mapped[str]
    leaf: Mapped[str]
    hangs_in: Mapped[str]
    wish: Mapped[str]
    tolerance: Mapped[float]
    viewing_distance_m: Mapped[float | None]
    notes: Mapped[str]
    invented: Mapped[bool]
    laid_before: Mapped[Texts] = mapped_column(server_default="[]")
    gilded_at: Mapped[str] = mapped_column(server_default="")
    historic: Mapped[bool] = mapped_column(server_default=false())
    unknown_coating: Mapped[bool] = mapped_column(server_default=false())
    humidity: Mapped[float | None]
    temperature: Mapped[float | None]
    air_told_at: Mapped[str] = mapped_column(server_default="")
    glass: Mapped[Glass] = mapped_column(server_default="unknown")
    zone: Mapped[str] = mapped_column(server_default="")
    removed_at: Mapped[str | None]
    damage: Mapped[str] = mapped_column(server_default="")
    condition: Mapped[str] = mapped_column(server_default="")
    extent: Mapped[str] = mapped_column(server_default="")
    done_by: Mapped[str] = mapped_column(server_default="")
    makers: Mapped[Pairs] = mapped_column(server_default="[]")


class PhotographRow(Base):
    """A photograph of a piece; the file lies beside the database under its hash."""

    __tablename__ = "photographs"
    __table_args__ = (UniqueConstraint("piece_id", "sha256"),)

    piece_id: Mapped[int] = mapped_column(ForeignKey("pieces.id"))
    sha256: Mapped[str] = mapped_column(index=True)
    file_name: Mapped[str]
    size: Mapped[int]


class ReadingRow(Base):
    """CIELAB of an area of a photograph."""

    __tablename__ = "readings"

    piece_id: Mapped[int | None] = mapped_column(ForeignKey("pieces.id"), index=True)
    photograph_id: Mapped[int | None] = mapped_column(ForeignKey("photographs.id"), index=True)
    photo_sha256: Mapped[str]
    name: Mapped[str]
    role: Mapped[Role]
    corners: Mapped[Corners]
    L: Mapped[float]
    a: Mapped[float]
    b: Mapped[float]
    covariance: Mapped[Covariance]
    own_covariance: Mapped[Covariance]
    pixels: Mapped[int]
    left_out: Mapped[int]
    spread_L: Mapped[float]
    spread_C: Mapped[float]
    warnings: Mapped[Texts]
    calibration: Mapped[Calibration | None]
    aids: Mapped[KeptAids | None]
    lustre: Mapped[float | None]


class ComparisonRow(Base):
    """The difference from an original's reading to a repair's."""

    __tablename__ = "comparisons"

    piece_id: Mapped[int] = mapped_column(ForeignKey("pieces.id"), index=True)
    original_id: Mapped[int] = mapped_column(ForeignKey("readings.id"))
    repair_id: Mapped[int] = mapped_column(ForeignKey("readings.id"))
    delta_e: Mapped[float]
    interval_low: Mapped[float]
    interval_high: Mapped[float]
    # SQLite takes a capital for its small letter.
    delta_L: Mapped[float] = mapped_column("delta_lightness")
    delta_C: Mapped[float] = mapped_column("delta_chroma")
    delta_h: Mapped[float] = mapped_column("delta_hue_angle")
    delta_H: Mapped[float] = mapped_column("delta_hue")
    tolerance: Mapped[float]
    verdict: Mapped[Verdict]
    words: Mapped[str]
    warnings: Mapped[Texts]
    findings: Mapped[Texts] = mapped_column(server_default="[]")
    covariance: Mapped[Covariance | None]

    original: Mapped[ReadingRow] = relationship(foreign_keys=original_id)
    repair: Mapped[ReadingRow] = relationship(foreign_keys=repair_id)


class ProposalRow(Base):
    """The plans for one gap, as they were proposed."""

    __tablename__ = "proposals"

    piece_id: Mapped[int] = mapped_column(ForeignKey("pieces.id"), index=True)
    comparison_id: Mapped[int | None] = mapped_column(ForeignKey("comparisons.id"), index=True)
    before: Mapped[Lab]
    target: Mapped[Lab]
    tolerance: Mapped[float]
    missing: Mapped[str]
    notes: Mapped[Texts]

    plans: Mapped[list["PlanRow"]] = relationship(order_by="PlanRow.position")


class PlanRow(Base):
    """One recipe of a proposal."""

    __tablename__ = "plans"

    proposal_id: Mapped[int] = mapped_column(ForeignKey("proposals.id"), index=True)
    position: Mapped[int]
    delta_e: Mapped[float]
    chance: Mapped[float]
    chance_read: Mapped[float]
    cautions: Mapped[Texts]
    words: Mapped[str]

    steps: Mapped[list["StepRow"]] = relationship(order_by="StepRow.position")


class StepRow(Base):
    """One layer of a plan with its prediction."""

    __tablename__ = "plan_steps"

    plan_id: Mapped[int] = mapped_column(ForeignKey("plans.id"), index=True)
    position: Mapped[int]
    layer: Mapped[str]
    kind: Mapped[Kind]
    strength: Mapped[float]
    coats: Mapped[int]
    lab: Mapped[Lab]
    covariance: Mapped[Covariance]
    because: Mapped[str] = mapped_column(server_default="")
    cautions: Mapped[Texts] = mapped_column(server_default="[]")


class TrialRow(Base):
    """A reading before, a layer with strength and coats, a reading after."""

    __tablename__ = "trials"
    __table_args__ = (
        CheckConstraint("strength > 0", name="strength"),
        CheckConstraint("coats >= 1", name="coats"),
        CheckConstraint('"before_L" BETWEEN 0 AND 100', name="before_L"),
        CheckConstraint('"after_L" BETWEEN 0 AND 100', name="after_L"),
        Index("ix_trials_laid", "layer", "kind", "strength", "coats", "excluded"),
    )

    piece_id: Mapped[int | None] = mapped_column(ForeignKey("pieces.id"), index=True)
    date: Mapped[str]
    technique: Mapped[Technique]
    finish: Mapped[Finish]
    step: Mapped[int]
    layer: Mapped[str]
    kind: Mapped[Kind]
    strength: Mapped[float]
    coats: Mapped[int]
    before_L: Mapped[float]
    before_a: Mapped[float]
    before_b: Mapped[float]
    after_L: Mapped[float]
    after_a: Mapped[float]
    after_b: Mapped[float]
    before_lustre: Mapped[float | None]
    after_lustre: Mapped[float | None]
    temperature: Mapped[float | None]
    humidity: Mapped[float | None]
    note: Mapped[str]
    before_id: Mapped[int | None] = mapped_column(ForeignKey("readings.id"))
    after_id: Mapped[int | None] = mapped_column(ForeignKey("readings.id"))
    prediction: Mapped[Prediction | None]
    cautions: Mapped[Texts]
    excluded: Mapped[bool] = mapped_column(default=False)
    bench: Mapped[str] = mapped_column(server_default="")

    piece: Mapped[PieceRow | None] = relationship()
    before: Mapped[ReadingRow | None] = relationship(foreign_keys=before_id)
    after: Mapped[ReadingRow | None] = relationship(foreign_keys=after_id)


class LaidRow(Base):
    """A layer that was laid on a repair: in progress until it is a trial or is called off."""

    __tablename__ = "layers_laid"

    piece_id: Mapped[int] = mapped_column(ForeignKey("pieces.id"), index=True)
    comparison_id: Mapped[int] = mapped_column(ForeignKey("comparisons.id"))
    layer: Mapped[str]
    kind: Mapped[Kind]
    strength: Mapped[float]
    coats: Mapped[int]
    technique: Mapped[Technique]
    finish: Mapped[Finish]
    prediction: Mapped[Prediction]
    cautions: Mapped[Texts]
    temperature: Mapped[float | None]
    humidity: Mapped[float | None]
    dry_at: Mapped[str]
    ended_at: Mapped[str | None]
    trial_id: Mapped[int | None] = mapped_column(ForeignKey("trials.id"))

    piece: Mapped[PieceRow] = relationship()
    comparison: Mapped[ComparisonRow] = relationship()


class LayerRow(Base):
    """A layer of the gilder's own shelf; retired, never removed."""

    __tablename__ = "layers"

    name: Mapped[str] = mapped_column(unique=True)
    kind: Mapped[Kind]
    entry: Mapped[dict[str, Any]]
    retired_at: Mapped[str | None]


class RecipeRow(Base):
    """What was mixed and laid, kept under a name."""

    __tablename__ = "recipes"

    name: Mapped[str] = mapped_column(unique=True)
    steps: Mapped[tuple[RecipeStep, ...]]
    note: Mapped[str]
    removed_at: Mapped[str | None]


class RecipeUseRow(Base):
    """A recipe taken up for a piece: compared so, and laid after so many trials there."""

    __tablename__ = "recipe_uses"

    piece_id: Mapped[int] = mapped_column(ForeignKey("pieces.id"), index=True)
    recipe_id: Mapped[int] = mapped_column(ForeignKey("recipes.id"), index=True)
    comparison_id: Mapped[int | None] = mapped_column(ForeignKey("comparisons.id"))
    last_trial_id: Mapped[int | None] = mapped_column(ForeignKey("trials.id"))

    piece: Mapped[PieceRow] = relationship()
    recipe: Mapped[RecipeRow] = relationship()
    comparison: Mapped[ComparisonRow | None] = relationship()


class StripSheetRow(Base):
    """Test strips as they were chosen and printed, with their ground and all layers' entries."""

    __tablename__ = "strip_sheets"

    piece_id: Mapped[int] = mapped_column(ForeignKey("pieces.id"), index=True)
    strips: Mapped[tuple[Strip, ...]]
    ground: Mapped[Ground] = mapped_column(server_default="{}")


class JudgementRow(Base):
    """What was said of a pair of golds by eye, and what was measured."""

    __tablename__ = "judgements"

    way: Mapped[str]
    ways_read: Mapped[Texts]
    far: Mapped[str]
    far_read: Mapped[str]
    layer: Mapped[str]
    laid: Mapped[str]


class DraftRow(Base):
    """What lies on the bench for a piece and is not kept yet; a photograph by its SHA-256.

    It passes: no archive takes it along, and no trace is left of it.
    """

    __tablename__ = "drafts"
    __table_args__ = (UniqueConstraint("piece_id", "name"),)

    piece_id: Mapped[int] = mapped_column(ForeignKey("pieces.id"))
    name: Mapped[str]
    value: Mapped[dict[str, Any]]
    sha256: Mapped[str]


class ChangeRow(Base):
    """Trace of an alteration: what stood there before, why it was altered, and at which bench.

    Those of one act have the same moment, to the microsecond, at the same bench; one that undoes
    another points to it.
    """

    __tablename__ = "changes"
    __table_args__ = (Index("ix_changes_made_at", "made_at"),)

    table_name: Mapped[str]
    row_id: Mapped[int] = mapped_column(index=True)
    words: Mapped[str]
    before: Mapped[dict[str, Any]]
    reason: Mapped[str]
    bench: Mapped[str] = mapped_column(server_default="")
    undoes: Mapped[int | None] = mapped_column(ForeignKey("changes.id"), index=True)
