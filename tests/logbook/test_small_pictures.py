"""Small pictures are made once, and made anew where they are gone or cannot be kept."""

import shutil

from tonematch.logbook.archive.checking import storage
from tonematch.logbook.photo_folder import Where
from tonematch.logbook.store import Logbook, open_logbook

SHA = "ab" + "0" * 62


def test_a_small_picture_is_made_once_for_all_days(where: Where) -> None:
    made = []

    def make() -> bytes:
        made.append(1)
        return b"small"

    for _ in range(2):
        with open_logbook(where) as logbook:
            assert logbook.small_picture(SHA, "the repair", make) == b"small"
    assert len(made) == 1
    with open_logbook(where) as logbook:
        logbook.small_picture(SHA, "the original", make)
        assert storage(logbook)["small pictures"] == 2 * len(b"small")
        shutil.rmtree(logbook.place.folders["small pictures"][0])
        assert logbook.small_picture(SHA, "the repair", make) == b"small"
    assert len(made) == 3


def test_it_is_shown_where_it_cannot_be_kept(logbook: Logbook) -> None:
    logbook.place.folders["small pictures"][0].write_bytes(b"in the way")
    assert logbook.small_picture(SHA, "the repair", lambda: b"small") == b"small"
