"""What is left to do where a repair matches and is too even: stipple, rub, or leave alone."""

from tonematch.measure.appearance.evenness import EvennessComparison
from tonematch.measure.appearance.patches import Patches
from tonematch.measure.appearance.wear import Wear

_SHARES = {
    0.15: "a sixth", 0.25: "a quarter", 0.33: "a third", 0.5: "half", 0.67: "two thirds",
    0.75: "three quarters", 0.85: "five sixths",
}  # fmt: skip
_SPECKS_MM = 1.5  # smaller patches are flecked from a brush, not dabbed; common practice, no source

NO_WAY_BACK = (
    "What is rubbed through cannot be undone: rub only new water gilding, never the old, try it "
    "on an offcut first, and stop too early rather than too late."
)
# By where the tint lies; common practice, no source.
_WEAR = {
    ("high", "redder"): (
        "On the relief the old gold is redder on the high points, as where leaf is worn to the "
        "bole, and the repair is not. Dab a thin red-brown wash there and leave the recesses "
        f"alone; or rub the high points lightly, looking after each stroke. {NO_WAY_BACK}"
    ),
    ("high", "greyer"): (
        "On the relief the old gold is greyer on the high points and browner in the recesses, and "
        "the repair is not. Let the last brown wash lie in the recesses and wipe it off the high "
        "points while it is wet."
    ),
    ("deep", "redder"): (
        "On the relief the old gold is redder in the recesses, as where old glaze or dirt lies, "
        "and the repair is not. Let a thin warm wash lie in the recesses and wipe it off the high "
        "points while it is wet."
    ),
    ("deep", "greyer"): (
        "On the relief the old gold is greyer in the recesses, as where dust lies, and the repair "
        "is not. Leave rottenstone or a grey-brown wash in the recesses and wipe the high points "
        "clean. Rottenstone is silica: no blowing, a P2 mask, wipe up wet."
    ),
}


def say_last_step(evenness: EvennessComparison, wear: Wear | None) -> tuple[str, ...]:
    """What to do about a repair that is too even, in sentences; none where it is not."""
    if wear is not None and wear.where != "not known":
        return (_WEAR[wear.where, wear.tint],)
    if evenness.verdict != "too even":
        return ()
    patches = evenness.original.patches
    if wear is not None or patches is None:
        return ("Lay the next coat unevenly, or add specks and wear.",)
    return (_say_patches(patches, evenness.repair.patches),)


def _say_patches(patches: Patches, repair: Patches | None) -> str:
    kind, how = "patches", "stipple the last thin wash, with a sponge or a nearly dry brush,"
    if patches.across_mm is not None and patches.across_mm < _SPECKS_MM:
        kind, how = "specks", "fleck the last wash on from a stiff brush"
    return (
        f"The old gold breaks up in {kind} {_width(patches)}, {patches.look} than the gold between "
        f"them, over about {_share(patches.dark)} of it; {_beside(repair, patches)}. Last of all, "
        f"when the colour is near enough, {how} in {kind} of that size until they are as dark, and "
        f"leave about "
        f"{_share(1.0 - patches.dark)} of the gold clear."
    )


def _width(patches: Patches) -> str:
    mm = patches.across_mm
    if mm is None:
        return f"about {100 * patches.across:.0f} % as wide as the marked area"
    return f"about {mm:.0f} mm across" if mm >= 3.0 else f"about {mm:.1f} mm across"


def _beside(repair: Patches | None, patches: Patches) -> str:
    if repair is None:
        return "the repair is even"
    return (
        f"those of the repair are {_width(repair)} and stand out "
        f"{'less' if repair.delta_e < patches.delta_e else 'more'}"
    )


def _share(part: float) -> str:
    return _SHARES[min(_SHARES, key=lambda one: abs(one - part))]
