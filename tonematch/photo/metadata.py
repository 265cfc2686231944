"""What a file's metadata tells: how the picture was taken, and what was done to it since.

A telephone bends its pictures: it joins frames, lifts shadows in places, sharpens. None of it
can be undone, so it is told, with what it costs. The marks and the sentences are data:
``swatches/picture_history.toml``. A file that says nothing proves nothing.
"""

from datetime import datetime

from PIL import ExifTags, Image

from tonematch.swatchbook import swatch_table

# A camera stamps both times within this many seconds; a later change is a new saving.
_SAME_MOMENT = 120.0
_SAMPLE = 400_000


def camera_metadata(exif: Image.Exif) -> dict[str, str]:
    """What the EXIF block states of the taking of the picture (CIPA DC-008).

    Make, model, software, lens, date, exposure time, f-number and iso, as far as they are stated.
    """
    inner = exif.get_ifd(ExifTags.IFD.Exif)
    stated = {
        "make": exif.get(ExifTags.Base.Make),
        "model": exif.get(ExifTags.Base.Model),
        "software": exif.get(ExifTags.Base.Software),
        "lens": inner.get(ExifTags.Base.LensModel),
        "date": inner.get(ExifTags.Base.DateTimeOriginal) or exif.get(ExifTags.Base.DateTime),
        "exposure time": inner.get(ExifTags.Base.ExposureTime),
        "f-number": inner.get(ExifTags.Base.FNumber),
        "iso": inner.get(ExifTags.Base.ISOSpeedRatings),
    }
    return {
        key: str(value).strip("\x00 ") for key, value in stated.items() if value not in (None, "")
    }


def past_of(exif: Image.Exif, metadata: bytes, several: bool, profiled: bool) -> tuple[str, ...]:
    """One sentence for each kind of treatment that the metadata tells of.

    Parameters
    ----------
    metadata : bytes
        XMP and the like, or the beginning of the file: searched for the table's texts.
    several : bool
        Whether the file carries further pictures beside the main one (CIPA DC-007, or
        auxiliary images of ISO/IEC 23008-12), thumbnails apart.
    profiled : bool
        Whether the file carries a colour profile, which overrules EXIF's colour space.
    """
    table, sample = swatch_table("picture_history.toml"), metadata[:_SAMPLE]
    inner = exif.get_ifd(ExifTags.IFD.Exif)
    kinds = [
        *(one["kind"] for one in table["exif"]
          if inner.get(ExifTags.Base[one["tag"]]) in one["values"]),
        *(one["kind"] for one in table["mark"]
          if any(text.encode() in sample for text in one["texts"])),
    ]  # fmt: skip
    if _saved_later(exif, inner) or exif.get(ExifTags.Base.ProcessingSoftware):
        kinds.append("edited")
    if several:
        kinds.append("several")
    if profiled:
        kinds = [kind for kind in kinds if kind != "unstated"]
    return tuple(table["kinds"][kind] for kind in dict.fromkeys(kinds))


def _saved_later(exif: Image.Exif, inner: dict[int, object]) -> bool:
    """Whether the file states a change well after the picture was taken."""
    taken = _time(inner.get(ExifTags.Base.DateTimeOriginal))
    changed = _time(exif.get(ExifTags.Base.DateTime))
    if taken is None or changed is None:
        return False
    return (changed - taken).total_seconds() > _SAME_MOMENT


def _time(text: object) -> datetime | None:
    try:
        return datetime.strptime(str(text).strip("\x00 "), "%Y:%m:%d %H:%M:%S")
    except ValueError:
        return None
