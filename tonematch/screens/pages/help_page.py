"""Help: the job from the first photograph to the record, and what the words mean."""

import streamlit as st

from tonematch.logbook.store import Logbook
from tonematch.screens.showing.layer_words import show_job_cautions
from tonematch.screens.showing.plain import plain

STEPS_IN_WORDS = (
    ("Photograph", "the old gold, the new gold and a grey card, in one picture and soft light."),
    ("Compare", "see how far the new gold is from the old, and which way it is off."),
    ("Plan", "look at what each way of toning would make of it, and choose one."),
    ("Lay", "one layer, let it dry, photograph it again: the plan is made anew from there."),
    ("Record", "what was measured and laid, for the owner and for whoever opens it next."),
)
WORDS = (
    ("Piece", "the gilded object; where it has several golds, each is toned by itself."),
    ("Layer", "what is laid on: a seal, glaze, wash, dust or wax, or a rub."),
    ("Full mix", "a layer as its entry describes it; 0.5 of it is half as strong."),
    ("Near enough", "what still passes beside the old gold; how near that is, is yours to set."),
    ("Shelf", "the layers that you have at hand."),
    ("Laid and read", "a layer photographed before and after it; from these the plans learn."),
    ("Strip", "a test strip, laid to learn how a layer behaves on your ground."),
)


def help_page(logbook: Logbook) -> None:
    """The page to turn to when it is not clear what is next."""
    st.markdown("\n".join(f"1. **{step}**: {words}" for step, words in STEPS_IN_WORDS))
    st.write(
        "Nothing is lost when you go back, load the page anew or leave it for days: photograph and "
        "marks wait where you left them. While one piece dries, open another on the page Today."
    )
    show_job_cautions()
    with st.expander("What the words mean"):
        st.markdown("\n".join(f"- **{word}**: {words}" for word, words in WORDS))
    here = "" if logbook.place.on_server else "; nothing leaves this machine"
    st.caption(f"Your logbook lies in {plain(str(logbook.place))}{here}.")
