"""Camera, lens, date and exposure as a file's EXIF block states them (CIPA DC-008)."""

from PIL import ExifTags, Image


def camera_metadata(exif: Image.Exif) -> dict[str, str]:
    """What the EXIF block says of the taking of the picture.

    Returns
    -------
    dict of str to str
        Only what is stated: make, model, software, lens, date, exposure time, f-number, iso.
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
