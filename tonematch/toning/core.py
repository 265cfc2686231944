"""What passes through the toning room: layers, trials, predictions, plans."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from tonematch.arrays import Matrix3, Vector3

Kind = Literal["seal", "glaze", "wash", "dust", "wax", "rub", "lift"]
SHELF_KINDS: tuple[Kind, ...] = ("seal", "glaze", "wash", "dust", "wax", "rub")
KINDS: tuple[Kind, ...] = (*SHELF_KINDS, "lift")  # a lift takes one of the others back
Technique = Literal["water", "oil", "unknown"]
Finish = Literal["burnished", "matte", "unknown"]
Glass = Literal["none", "new mirror", "old mirror", "unknown"]


# Strengths that are mixed where nobody says otherwise: full strength halved three times.
EIGHTHS = tuple(n / 8 for n in range(1, 9))
# Test strips that one sheet holds and one photograph reads.
MOST_STRIPS = 20


@dataclass(frozen=True)
class Amount:
    """So much of something: 120 g of shellac flakes; units are g, ml, part, drop, pass, speck."""

    number: float
    unit: str
    of: str


@dataclass(frozen=True)
class Mix:
    """Full strength as it is measured out (`toning/layers/mix.py`).

    Attributes
    ----------
    take : tuple of Amount
        What makes the strength; of half the strength, half as much in the same pot.
    into : Amount or None
        What it is thinned with; None where nothing is stirred, of dust, specks and rubs.
    add : Amount or None
        What goes by the volume of the pot, whatever the strength.
    per : float
        The ml of the pot that `add` is for, or else the cm2 that `take` is for; 0 where neither.
    """

    take: tuple[Amount, ...]
    into: Amount | None = None
    add: Amount | None = None
    per: float = 0.0


@dataclass(frozen=True)
class Layer:
    """One thing that can be laid on or done to the surface, as it stands in swatches/layers.toml.

    The head of that file says what its fields mean. `name` is unique on the shelf, in lower case;
    `mix` is None where nobody said, `absorption` and `scattering` where nobody guessed; `binder`
    and `solvent` are words of swatches/rules.toml, "unknown" among them, `taken_back_by` one of the
    ways of swatches/kinds.toml. A layer that is not at hand is known, but off by default.
    """

    name: str
    kind: Kind
    material: str = ""
    binder: str = "unknown"
    solvent: str = "unknown"
    technique: str = ""
    effect: str = ""
    full_strength: str = ""
    mix: Mix | None = None
    absorption: tuple[float, float, float] | None = None
    scattering: tuple[float, float, float] | None = None
    cover: float = 0.0
    beneath: str = ""
    strengths: tuple[float, ...] = EIGHTHS
    most_coats: int = 2
    drying_hours: tuple[float, float] = (0.0, 0.0)
    reversible: str = "unknown"
    taken_back_by: str = ""
    over: str = ""
    cautions: tuple[str, ...] = ()
    source: str = ""
    lustre: str = ""
    at_hand: bool = True


@dataclass(frozen=True)
class Coat:
    """A layer with how much of it is laid."""

    layer: Layer
    strength: float
    coats: int = 1


@dataclass(frozen=True)
class Surface:
    """What is known about the gilding that is toned.

    Attributes
    ----------
    beneath : tuple of Layer
        What has been laid on the gold already, the lowest first, a layer once for each coat.
    read_before : tuple of three float or None
        CIELAB (D50, 2 degree) of the surface before each of them was laid, where it was read;
        empty where nothing is known.
    hours_since_gilding : float or None
        None when nobody knows; the rules then ask for a look at whether it has cured.
    historic : bool
        The gold itself is old, not a new repair.
    unknown_coating : bool
        An old coating that nobody can name lies on it.
    humidity : float or None
        Relative humidity of the workshop, 0 to 100 %.
    temperature : float or None
        Of the workshop, in degrees Celsius.
    boles : tuple of str
        What lies beneath the leaf, names in swatches/boles.toml; empty when nobody knows.
    leaf : str
        What the leaf is, in the gilder's words; empty when nobody knows.
    glass : {"none", "new mirror", "old mirror", "unknown"}
        The mirror that the gilding frames; an old one was silvered before about 1900.
    """

    technique: Technique = "unknown"
    finish: Finish = "unknown"
    beneath: tuple[Layer, ...] = ()
    hours_since_gilding: float | None = None
    historic: bool = False
    unknown_coating: bool = False
    humidity: float | None = None
    temperature: float | None = None
    boles: tuple[str, ...] = ()
    read_before: tuple[tuple[float, float, float] | None, ...] = ()
    leaf: str = ""
    glass: Glass = "unknown"

    @property
    def over(self) -> Kind | None:
        """Kind of what lies on top; None on gold."""
        return self.beneath[-1].kind if self.beneath else None


@dataclass(frozen=True, eq=False)
class Application:
    """A layer as it is laid on a surface whose colour is known.

    For a lift `under` is what that surface read before the layer that is taken back was laid.
    `over` is the kind of the layer directly beneath, None on gold or where nobody knows.
    """

    before: Vector3
    layer: str
    kind: Kind
    strength: float
    coats: int = 1
    technique: Technique = "unknown"
    finish: Finish = "unknown"
    under: Vector3 | None = None
    over: Kind | None = None


@dataclass(frozen=True, eq=False)
class Trial:
    """A reading before, a layer with strength and coats, a reading after.

    `before_lustre` and `after_lustre` are the rise of the gleam over the body in photographic
    stops (`measure/appearance`), `temperature` and `humidity` those of the workshop when the layer
    was laid, in degrees Celsius and 0 to 100 %; None where nobody measured it. `bench` is where it
    was logged, empty where nobody said. `before_covariance` and `after_covariance` are those of the
    readings' own errors: what the two share (of camera and card) moves both colours alike; None
    where nobody photographed them.
    """

    application: Application
    after: Vector3
    piece: str = ""
    date: str = ""
    step: int = 1
    note: str = ""
    before_lustre: float | None = None
    after_lustre: float | None = None
    zone: str = ""
    temperature: float | None = None
    humidity: float | None = None
    bench: str = ""
    before_covariance: Matrix3 | None = None
    after_covariance: Matrix3 | None = None

    @property
    def where(self) -> str:
        """The piece, and which of its golds: ``hall mirror, burnished edge``."""
        return ", ".join(filter(None, (self.piece, self.zone)))

    def follows(self, other: "Trial") -> bool:
        """Whether this is the next step on the same gold, and so lies on what that one left."""
        same = (self.piece, self.zone) == (other.piece, other.zone)
        return same and self.step == other.step + 1


@dataclass(frozen=True, eq=False)
class Prediction:
    """A distribution of CIELAB (D50, 2 degree): Student's t, normal where freedom is infinite.

    Degrees of freedom are above 2: few where a layer has few trials, and surprises are greater.
    """

    lab: Vector3
    covariance: Matrix3
    freedom: float = float("inf")


@dataclass(frozen=True, eq=False)
class Step:
    """One layer of a plan with what the surface should read once it is dry.

    `because` says in a few words why it is laid, `cautions` what to mind with it, in sentences.
    """

    layer: str
    kind: Kind
    strength: float
    coats: int
    prediction: Prediction
    because: str = ""
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class LustreStep:
    """A layer that would bring the lustre nearest if it were laid last.

    `stops` is the lustre that it should leave, `interval` the 95 % interval.
    """

    layer: str
    strength: float
    coats: int
    stops: float
    interval: tuple[float, float]


@dataclass(frozen=True)
class PlanLustre:
    """Where a plan leaves the lustre (rise of the gleam over the body in photographic stops).

    `interval` is the 95 % interval of what would be measured, `original` the old gold's, `last`
    what laid last helps, where the two part by more than counts as alike.
    """

    stops: float
    interval: tuple[float, float]
    original: float
    last: LustreStep | None
    words: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Plan:
    """A recipe proposed for a comparison.

    Attributes
    ----------
    steps : tuple of Step
        Empty when stopping here is best.
    delta_e : float
        Expected CIEDE2000 to the target at the end, under the prediction's uncertainty.
    chance, chance_read : float
        Probability, 0 to 1, of ending within the tolerance: when all of it is laid blind, and with
        a photograph and a new plan after each layer.
    cautions : tuple of str
        Sentences that hold for the plan as a whole; what a layer asks stands with its step.
    words : str
        What kind of plan this is, in one line.
    lustre : PlanLustre or None
        Where lustre was measured; its words are among the cautions.
    virtue : str
        For what it is shown beside others; empty where it is alone.
    """

    steps: tuple[Step, ...]
    delta_e: float
    chance: float
    chance_read: float
    cautions: tuple[str, ...] = ()
    words: str = ""
    lustre: PlanLustre | None = None
    virtue: str = ""


@dataclass(frozen=True, eq=False)
class Proposal:
    """The plans for one gap, and what the shelf lacks where none closes it."""

    plans: tuple[Plan, ...]
    before: Vector3
    target: Vector3
    tolerance: float
    missing: str = ""
    notes: tuple[str, ...] = field(default_factory=tuple)


@dataclass(frozen=True)
class Strip:
    """A strip of the repair's own gold, to be toned layer by layer and read after each.

    `steps` are laid and read, the lowest first: several on one another make a stack. `first` is
    laid over the whole strip before: a seal, where the rules ask for one.
    """

    steps: tuple[Coat, ...]
    first: tuple[Layer, ...] = ()

    @property
    def layers(self) -> tuple[Layer, ...]:
        """All that is laid on its ground, the lowest first."""
        return (*self.first, *(coat.layer for coat in self.steps))


@dataclass(frozen=True)
class ModelCheck:
    """Errors on trials that were held out, one piece (or a few) at a time.

    Coverage is the share of held-out readings inside the layer model's 50 % and 90 % regions; in
    new orders are the trials whose layer lies on a layer as none of the trials did that were
    learned from, with the mean error of each method on those, empty where there are none.
    """

    trials: int
    mean_delta_e_2000: Mapping[str, float]
    coverage_50: float
    coverage_90: float
    in_new_orders: int
    in_new_orders_delta_e_2000: Mapping[str, float]
