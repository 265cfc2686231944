"""HEIC files for the tests, written through libheif without loss where that is asked for."""

from io import BytesIO

import numpy as np
import pillow_heif
from numpy.typing import NDArray
from PIL import Image


def heic_file(
    codes: NDArray[np.uint8 | np.uint16],
    icc: bytes | None = None,
    exif: Image.Exif | None = None,
    nclx: tuple[int, int] | None = None,
    xmp: bytes | None = None,
) -> bytes:
    """A HEIC file of RGB code values, shape (h, w, 3).

    `nclx` gives the code points of primaries and transfer (ITU-T H.273). Pixels are kept as RGB
    (matrix 0), so that hardly any code value changes.
    """
    mode = "RGB" if codes.dtype == np.uint8 else "RGB;16"
    made = pillow_heif.from_bytes(mode, codes.shape[1::-1], codes.tobytes())
    numbers = {
        "save_nclx_profile": nclx is not None,
        "color_primaries": nclx[0] if nclx else 1,
        "transfer_characteristics": nclx[1] if nclx else 13,
        "matrix_coefficients": 0,
        "full_range_flag": 1,
    }
    file = BytesIO()
    made.save(
        file,
        quality=-1,
        chroma=444,
        icc_profile=icc,
        exif=exif.tobytes() if exif else None,
        xmp=xmp,
        **numbers,
    )
    return file.getvalue()
