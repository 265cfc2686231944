"""The logbook kept safe: copied and put back, out and in as one file, looked through."""

from pathlib import Path
from tempfile import TemporaryDirectory

import streamlit as st

from tonematch.errors import LogbookError
from tonematch.logbook.archive.bringing_in import bring_in
from tonematch.logbook.archive.checking import check_logbook, mend
from tonematch.logbook.archive.restoring import back_up, put_back
from tonematch.logbook.archive.words import (
    ON_SERVER,
    say_backed_up,
    say_brought_in,
    say_checked,
    say_copy,
    say_mended,
    say_put_back,
    say_written,
)
from tonematch.logbook.archive.writing import write_archive
from tonematch.logbook.database.copies import KEPT
from tonematch.logbook.store import Logbook
from tonematch.screens.sections.undo import offer_removal
from tonematch.screens.session import bench, go_to
from tonematch.screens.showing.plain import offer_file, plain


def offer_safekeeping(logbook: Logbook) -> None:
    """What is done with the logbook as a whole."""
    with st.expander("Keep the logbook safe"):
        if logbook.place.on_server:
            st.write(f"{ON_SERVER} Photographs are never written over.")
        else:
            st.write(
                f"Its rows are copied beside it before the first change of each day; {KEPT} copies "
                "stay, and any that holds more than the newest. Photographs are never written "
                "over. A fire or a thief takes both: keep a file of it elsewhere, too."
            )
            _copies(logbook)
        _out(logbook)
        _in(logbook)
        _look_through(logbook)
        offer_removal(logbook)


def _copies(logbook: Logbook) -> None:
    may_shrink = st.checkbox("It may hold less than it did", key="logbook-may-shrink")
    if st.button("Copy it now", width="stretch"):
        go_to("Logbook", say_backed_up(back_up(logbook, shrunken=may_shrink)))
    known = logbook.place.copies[::-1]
    if not known:
        return
    copy = st.selectbox("Copies, the newest first", known, format_func=say_copy)
    if st.button("Put this copy back", width="stretch"):
        restored = put_back(logbook.path, copy, shrunken=may_shrink)
        bench().take_up("")
        go_to("Logbook", say_put_back(restored))


def _out(logbook: Logbook) -> None:
    if not st.button("Write it into one file, with its photographs", width="stretch"):
        return
    with TemporaryDirectory() as folder:
        out = Path(folder) / f"{Path(str(logbook.place)).stem}.zip"
        written = write_archive(logbook, out)
        data = out.read_bytes()
    st.write(plain(say_written(written, Path(out.name))))
    offer_file("Save the file", data, out.name, "application/zip")


def _in(logbook: Logbook) -> None:
    handed = st.file_uploader("A logbook in one file (zip)", type=["zip"], key="logbook-file")
    if handed is None or not st.button("Bring in what is not here yet", width="stretch"):
        return
    with TemporaryDirectory() as folder:
        archive = Path(folder) / "archive.zip"
        archive.write_bytes(handed.getvalue())
        try:
            brought = bring_in(logbook, archive)
        except LogbookError as error:
            raise LogbookError(str(error).replace(str(archive), handed.name)) from error
    go_to("Logbook", say_brought_in(brought, Path(handed.name)))


def _look_through(logbook: Logbook) -> None:
    if st.button("Look through the logbook", width="stretch"):
        checked = check_logbook(logbook)
        (st.error if checked.wrong else st.info)(plain(say_checked(checked)))
    if st.button("Sweep what a stopped program left over", width="stretch"):
        checked = check_logbook(logbook)
        go_to("Logbook", say_mended(checked, mend(logbook, checked)))
