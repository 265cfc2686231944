"""What can go wrong, each told to a person in one sentence: what is wrong, and what to do.

::

    TonematchError
    ├── PhotoError        the file cannot carry a reading
    ├── AreaError         a marked area is outside, too small, overlapping or misnamed
    ├── CardError         the grey card cannot calibrate the picture
    ├── ReadingError      an area cannot be read (clipped, too dark)
    ├── ShelfError        a layer is not on the shelf, or its entry is wrong
    ├── TrialError        a row of trials cannot be used
    ├── ValueRefused      a number that a person gave is out of its range
    └── LogbookError      the logbook cannot be opened, read or written
"""


class TonematchError(Exception):
    """Base of every error whose message is a sentence for the person at the bench."""


class PhotoError(TonematchError):
    """The file cannot carry a reading."""


class AreaError(TonematchError):
    """A marked area is outside the picture, too small, overlapping or misnamed."""


class CardError(TonematchError):
    """The grey card cannot calibrate the picture."""


class ReadingError(TonematchError):
    """An area cannot be read."""


class ShelfError(TonematchError):
    """A layer is not on the shelf, or its entry is wrong."""


class TrialError(TonematchError):
    """A row of trials cannot be used."""


class ValueRefused(TonematchError):
    """A number that a person gave is out of its range."""


class LogbookError(TonematchError):
    """The logbook cannot be opened, read or written."""


HOLDS_LINEAR = "the file holds linear light, whatever it says"
"""What is said by the encoding "linear": each face offers it, in these words or beside them."""
OR_LINEAR = f", or say that {HOLDS_LINEAR}"
MARK_CARD = "mark the grey card"
MAY_SHRINK = "say that it may hold less"
"""What each face offers where a logbook has shrunk, in these words or beside them."""
