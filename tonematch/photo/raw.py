"""Raw and DNG files, developed through LibRaw as they are: linear, without any balance.

Black and white levels are the file's own, no brightening, no curve, no noise filter, no white
balance: the card does that. Bilinear interpolation of the colour mosaic keeps the mean of every
even patch. The camera's matrix stands in the file (DNG) or in LibRaw's table; it is for D65.
"""

from io import BytesIO

import numpy as np
import rawpy
from PIL import ExifTags, Image, UnidentifiedImageError

from tonematch.arrays import Array, Matrix3
from tonematch.errors import PhotoError
from tonematch.photo.core import SENSOR, Photo
from tonematch.photo.decoded import check_size, decoded
from tonematch.photo.metadata import camera_metadata, past_of
from tonematch.photo.profile import ColourSpace, colour_space, srgb_profile

# Bradford adaptation from D65 to the D50 of the ICC connection space, as published with
# ISO 15076-1 profiles of sRGB, and the white of D65 (CIE 15).
_D65_TO_D50: Matrix3 = np.array(
    [
        [1.0478112, 0.0228866, -0.0501270],
        [0.0295424, 0.9904844, -0.0170491],
        [-0.0092345, 0.0150436, 0.7521316],
    ]
)
_D65: Array = np.array([0.95047, 1.0, 1.08883])

_TIFF = (b"II*\0", b"MM\0*")
_OTHER = (b"FUJIFILMCCD-RAW", b"IIRO", b"IIRS", b"MMOR", b"IIU\0", b"FOVb", b"\0MRM")
# What Pillow raises where a file's first picture has no tags that can be read.
_NO_TAGS = (
    UnidentifiedImageError,
    Image.DecompressionBombError,
    *(OSError, SyntaxError, ValueError, TypeError, KeyError),
)
_DNG_VERSION, _SUB_PICTURES = 50706, 330
_MOSAIC, _LINEAR_RAW = 32803, 34892


def is_raw(content: bytes) -> bool:
    """Whether a file is a camera's raw file, by its first bytes and TIFF tags.

    Most raw files are TIFF files whose first picture is a thumbnail; read as TIFF they would
    give that thumbnail.
    """
    if content.startswith(_OTHER) or content[4:12] == b"ftypcrx ":
        return True
    if not content.startswith(_TIFF):
        return False
    if content[8:10] == b"CR":
        return True
    try:
        with Image.open(BytesIO(content)) as image:
            tags = dict(image.tag_v2)  # type: ignore[attr-defined]
    except _NO_TAGS:
        return _DNG_VERSION.to_bytes(2, "little") in content[:400] or (
            _DNG_VERSION.to_bytes(2, "big") in content[:400]
        )
    made_by_camera = _SUB_PICTURES in tags and ExifTags.Base.Make in tags
    mosaic = tags.get(ExifTags.Base.PhotometricInterpretation) in (_MOSAIC, _LINEAR_RAW)
    return _DNG_VERSION in tags or made_by_camera or mosaic


def develop_raw(label: str, content: bytes) -> Photo:
    """Develop a raw file linearly; `label` is what to call it in messages.

    16 bits a channel: 0 is the file's black level, 65535 its white level. The matrix holds the
    white balance as shot, so that previews look natural; the card overrules it. Raises PhotoError
    where LibRaw does not know the camera, the file is damaged or too large, or no colour matrix is
    known.
    """
    try:
        with rawpy.imread(BytesIO(content)) as raw:
            check_size(label, content, raw.sizes.raw_width, raw.sizes.raw_height, "raw")
            to_xyz = _camera_to_xyz(label, raw)
            codes = raw.postprocess(
                demosaic_algorithm=rawpy.DemosaicAlgorithm.LINEAR,
                output_color=rawpy.ColorSpace.raw,
                output_bps=16,
                gamma=(1.0, 1.0),
                user_wb=[1.0, 1.0, 1.0, 1.0],
                no_auto_bright=True,
                adjust_maximum_thr=0.0,
            )
    except rawpy.LibRawFileUnsupportedError as error:
        raise PhotoError(
            f"{label} is a raw file of a camera that is not known: save it as DNG or as a 16-bit "
            "TIFF with the camera's own program."
        ) from error
    except rawpy.LibRawError as error:
        raise PhotoError(
            f"{label} is damaged or cut short: copy it from the camera again."
        ) from error
    ramp = np.linspace(0.0, 1.0, 65536, dtype=np.float32)
    space = ColourSpace(SENSOR, (ramp, ramp, ramp), to_xyz, None)
    notes, metadata = _told(content)
    return decoded(label, content, codes, space, notes, metadata)


def _camera_to_xyz(label: str, raw: rawpy.RawPy) -> Matrix3:
    """Camera RGB as the sensor gives it to XYZ D50, with the white balance as shot.

    LibRaw holds XYZ to camera for the cameras that it knows, and balanced camera to linear sRGB
    for files that carry a matrix themselves. A balanced white is (1, 1, 1) in both.
    """
    from_xyz = np.asarray(raw.rgb_xyz_matrix, dtype=np.float64)[:3]
    to_srgb = np.asarray(raw.color_matrix, dtype=np.float64)[:, :3]
    if raw.num_colors != 3 or not (_regular(from_xyz) or _regular(to_srgb)):
        raise PhotoError(
            f"{label} does not say how its camera sees colours: save it as DNG or as a 16-bit "
            "TIFF with the camera's own program."
        )
    if _regular(from_xyz):
        to_xyz = _D65_TO_D50 @ np.linalg.inv(from_xyz / (from_xyz @ _D65)[:, None])
    else:
        to_xyz = colour_space(srgb_profile(), 256).to_xyz @ to_srgb
    shot = np.asarray(raw.camera_whitebalance, dtype=np.float64)[:3]
    if not (np.isfinite(shot).all() and (shot > 0).all()):
        shot = np.asarray(raw.daylight_whitebalance, dtype=np.float64)[:3]
    return np.asarray(to_xyz * (shot / shot[1]), dtype=np.float64)


def _regular(matrix: Matrix3) -> bool:
    return bool(np.isfinite(matrix).all() and np.linalg.matrix_rank(matrix) == 3)


def _told(content: bytes) -> tuple[tuple[str, ...], dict[str, str]]:
    """Notes and metadata of those raw files that are TIFF files inside."""
    exif = Image.Exif()
    if content.startswith(_TIFF):
        try:
            exif.load(b"Exif\0\0" + content)
        except (OSError, SyntaxError, ValueError, TypeError, KeyError):
            return (), {}
    return past_of(exif, content[:65_536], False, True), camera_metadata(exif)
