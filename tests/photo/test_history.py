"""What a file tells of its past is told, and a plain file is left in peace.

Tags and values: CIPA DC-008 (Exif); gain maps: ISO 21496-1; several pictures: CIPA DC-007.
"""

from io import BytesIO

import pytest
from PIL import ExifTags, Image

from tonematch.photo.decode import load_photo
from tonematch.swatchbook import swatch_path

TAGS = ExifTags.Base


def jpeg(
    inner: dict[int, object] | None = None,
    outer: dict[int, object] | None = None,
    **options: object,
) -> bytes:
    exif = Image.Exif()
    for tag, value in (outer or {}).items():
        exif[tag] = value
    exif.get_ifd(ExifTags.IFD.Exif).update(inner or {})
    file = BytesIO()
    Image.new("RGB", (64, 48), (90, 80, 60)).save(
        file, format="JPEG", quality=90, exif=exif, **options
    )
    return file.getvalue()


def past(content: bytes) -> str:
    return " ".join(load_photo(content).notes)


TAKEN = "2025:03:04 10:00:00"
PLAIN: dict[int, object] = {
    TAGS.DateTimeOriginal: TAKEN,
    TAGS.CustomRendered: 0,
    TAGS.Contrast: 0,
    TAGS.Sharpness: 0,
    TAGS.ColorSpace: 1,
    TAGS.CompositeImage: 1,
}


def test_a_plain_picture_has_no_past() -> None:
    assert past(jpeg(PLAIN, {TAGS.DateTime: TAKEN, TAGS.Software: "1.02"})) == (
        "The file does not say how its colours are meant and is read as sRGB: give the "
        "camera's own file where you can."
    )


@pytest.mark.parametrize(
    ("tag", "value", "says"),
    [
        (TAGS.CustomRendered, 1, "tone-mapped"),
        (TAGS.CustomRendered, 3, "several frames"),
        (TAGS.CustomRendered, 6, "stitched"),
        (TAGS.CustomRendered, 8, "portrait"),
        (TAGS.CompositeImage, 3, "several frames"),
        (TAGS.Sharpness, 2, "contrast, saturation or sharpness"),
        (TAGS.Saturation, 1, "contrast, saturation or sharpness"),
        (TAGS.ColorSpace, 65535, "uncalibrated"),
    ],
)
def test_exif_tells(tag: int, value: int, says: str) -> None:
    assert says in past(jpeg(PLAIN | {tag: value}))


def test_a_later_saving_is_an_edit() -> None:
    assert "edited" in past(jpeg(PLAIN, {TAGS.DateTime: "2025:03:05 18:30:00"}))
    assert "edited" not in past(jpeg(PLAIN, {TAGS.DateTime: "2025:03:04 10:00:01"}))
    assert "edited" in past(jpeg(PLAIN, {TAGS.ProcessingSoftware: "something"}))


@pytest.mark.parametrize(
    ("mark", "says"),
    [
        (b"<rdf:Description xmpMM:History='saved'/>", "edited"),
        (b"<rdf:Description hdrgm:Version='1.0'/>", "tone-mapped"),
    ],
)
def test_xmp_tells(mark: bytes, says: str) -> None:
    assert says in past(jpeg(PLAIN, xmp=mark))


def test_a_second_picture_inside_is_told() -> None:
    file = BytesIO()
    small = Image.new("RGB", (32, 24), (10, 10, 10))
    Image.new("RGB", (64, 48), (90, 80, 60)).save(
        file, format="MPO", save_all=True, append_images=[small]
    )
    assert "further pictures" in past(file.getvalue())


def test_the_profile_overrules_the_stated_space() -> None:
    from imagecodecs import cms_profile

    content = jpeg(PLAIN | {TAGS.ColorSpace: 65535}, icc_profile=bytes(cms_profile("srgb")))
    assert past(content) == ""


def test_every_sentence_says_what_it_costs_or_what_to_do() -> None:
    import tomllib

    with swatch_path("picture_history.toml").open("rb") as file:
        kinds = tomllib.load(file)["kinds"]
    for sentence in kinds.values():
        assert sentence.endswith(".")
        assert ":" in sentence or ";" in sentence
