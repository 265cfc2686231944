"""Small pictures made from kept photographs, kept beside the logbook so that each is made once.

They are no part of it: the folder can be removed at any time, and they are made anew.
"""

from collections.abc import Callable
from hashlib import sha256 as hash_of

from tonematch.logbook.database.logbook_store import LogbookStore
from tonematch.wholefile import make_folder, write_whole


class SmallPictureStore(LogbookStore):
    """Pictures for the pages, by the photograph that they are of and what of it they show."""

    def small_picture(self, sha256: str, shown: str, make: Callable[[], bytes]) -> bytes:
        """The picture of a photograph that `shown` tells apart from others; made where it is not.

        Where it cannot be kept, on a full disk or one that is read only, it is made every time.
        """
        name = f"{sha256[2:16]}-{hash_of(shown.encode()).hexdigest()[:16]}"
        path = self.place.folders["small pictures"][0] / sha256[:2] / name
        try:
            return path.read_bytes()
        except OSError:
            made = make()
        try:
            make_folder(path.parent)
            write_whole(path, made)
        except OSError:
            pass  # the work goes on without
        return made
