"""Pictures are kept without anything a camera wrote beside them, upright, no larger than they need be."""

import io
import struct
import zlib

import pytest
from PIL import Image, ImageCms

from plaitlog.models.errors import InputError
from plaitlog.service.usecases.photos import encoding as photo_encoding
from plaitlog.service.usecases.photos.encoding import SMALL_PX, WHOLE_PX, encoded
from tests.usecases.pictures_taken import CAMERA, GPS, PLACE_TAKEN, REMARK, file, from_a_telephone, scene


def opened(content: bytes) -> Image.Image:
    found = Image.open(io.BytesIO(content))
    found.load()
    return found


def segments(jpeg: bytes) -> set[int]:
    """The markers of a JPEG before its picture begins."""
    found, at = set(), 2
    while jpeg[at] == 0xFF and jpeg[at + 1] != 0xDA:
        found.add(jpeg[at + 1])
        at += 2 + int.from_bytes(jpeg[at + 2 : at + 4], "big")
    return found


def is_red(picture: Image.Image, x: float, y: float) -> bool:
    red, green, _ = picture.convert("RGB").getpixel(  # type: ignore[misc]
        (int(x * (picture.width - 1)), int(y * (picture.height - 1)))
    )
    return red > 150 and green < 80


def refused(content: bytes, code: str) -> InputError:
    with pytest.raises(InputError) as error:
        encoded(content, "IMG_1.jpg")
    assert error.value.finding.code == code
    assert error.value.finding.where == "IMG_1.jpg"
    assert error.value.finding.remedy
    return error.value


def test_nothing_that_the_camera_wrote_is_kept() -> None:
    taken = from_a_telephone()
    assert Image.open(io.BytesIO(taken)).getexif().get_ifd(GPS)
    for told in (CAMERA, PLACE_TAKEN, REMARK):
        assert told.encode() in taken
    kept = encoded(taken)
    for jpeg in (kept.whole, kept.small):
        for told in (CAMERA, PLACE_TAKEN, REMARK):
            assert told.encode() not in jpeg
        assert not opened(jpeg).getexif()
        # Only JFIF (E0) stands beside tables and sizes: no Exif or XMP (E1), profile (E2), comment (FE).
        assert segments(jpeg) & {*range(0xE1, 0xF0), 0xFE} == set()


@pytest.mark.parametrize(
    ("orientation", "corner"), [(1, (0, 0)), (3, (1, 1)), (6, (1, 0)), (8, (0, 1)), (2, (1, 0))]
)
def test_a_picture_stands_upright_though_its_orientation_is_not_kept(
    orientation: int, corner: tuple[int, int]
) -> None:
    kept = encoded(from_a_telephone(orientation))
    assert (kept.width, kept.height) == ((480, 640) if orientation in (6, 8) else (640, 480))
    assert opened(kept.whole).size == (kept.width, kept.height)
    corners = {at: is_red(opened(kept.whole), *at) for at in ((0, 0), (1, 0), (0, 1), (1, 1))}
    assert [at for at, red in corners.items() if red] == [corner]


def test_both_sizes_fit_and_a_small_picture_is_not_blown_up() -> None:
    kept = encoded(file(scene(4000, 1000)))
    assert (kept.width, kept.height) == (WHOLE_PX, WHOLE_PX // 4)
    assert opened(kept.small).size == (SMALL_PX, SMALL_PX // 4)
    assert opened(encoded(file(scene(200, 100))).small).size == (200, 100)


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_see_through_pictures_come_out_on_white(kind: str) -> None:
    see_through = scene().convert("RGBA")
    see_through.putalpha(0)
    kept = encoded(file(see_through, kind, **({"lossless": True} if kind == "WEBP" else {})))
    assert opened(kept.whole).convert("L").getextrema()[0] > 250


@pytest.mark.parametrize("mode", ["L", "P", "CMYK", "I;16", "1"])
def test_every_kind_of_pixel_can_be_kept(mode: str) -> None:
    kind = "JPEG" if mode == "CMYK" else "PNG"
    made = Image.new("I;16", (64, 48), 40_000) if mode == "I;16" else scene(64, 48).convert(mode)
    assert opened(encoded(file(made, kind)).whole).mode == "RGB"


def test_the_camera_s_own_colours_become_those_of_every_screen() -> None:
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")).tobytes()
    assert encoded(file(scene(), icc_profile=profile)).width == 640  # a profile that does not fit: ignored
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    assert is_red(opened(encoded(file(scene(), icc_profile=srgb)).whole), 0, 0)


def test_the_same_picture_has_the_same_name_and_another_has_another() -> None:
    assert encoded(from_a_telephone()).digest == encoded(from_a_telephone()).digest
    assert encoded(from_a_telephone()).digest != encoded(from_a_telephone(3)).digest


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"label,type\nold 3,bullwhip\n",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        b"GIF89a" + b"\0" * 40,
    ],
)
def test_what_is_no_picture_is_refused(content: bytes) -> None:
    refused(content, "not-a-photo")


def test_heic_is_named_where_it_cannot_be_read() -> None:
    if "HEIF" in Image.OPEN:
        pytest.skip("HEIC can be read here")
    error = refused(b"\0\0\0\x18ftypheic\0\0\0\0mif1heic", "photo-heic")
    assert "JPEG" in error.finding.remedy


def test_a_torn_off_picture_is_refused() -> None:
    taken = from_a_telephone()
    refused(taken[: len(taken) // 2], "photo-damaged")


def bomb(width: int, height: int) -> bytes:
    """A PNG of a few bytes that says it is that large."""
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    body = chunk(b"IDAT", zlib.compress(b"\0" * 1000))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + body + chunk(b"IEND", b"")


@pytest.mark.parametrize("size", [(9_500, 9_000), (12_000, 9_000), (60_000, 60_000)])
def test_a_picture_that_would_fill_the_memory_is_refused_before_it_is_decoded(size: tuple[int, int]) -> None:
    refused(bomb(*size), "photo-too-large")


def test_too_many_bytes_and_too_few_pixels_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    refused(file(scene(8, 8), "PNG"), "photo-too-small")
    monkeypatch.setattr(photo_encoding, "BYTES_AT_MOST", 1_000)
    refused(from_a_telephone(), "photo-too-large")
