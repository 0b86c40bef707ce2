"""Pictures as they are kept: decoded, turned upright, and encoded anew, so that nothing else comes along.

What a camera writes beside the picture (where it was taken, when, with what) is never copied: the pixels go
into a new picture that has nothing but them.
"""

import hashlib
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from plaitlog.models.errors import Finding, InputError

if TYPE_CHECKING:
    from PIL.Image import Image

BYTES_AT_MOST: Final = 30_000_000
PIXELS_AT_MOST: Final = 80_000_000
"""What a telephone takes at its finest is some 50 million; decoded, this many are a quarter of a gigabyte."""
SIDE_AT_LEAST: Final = 16
WHOLE_PX, SMALL_PX = 2560, 480
"""Longest side of what is kept."""
NAME_AT_MOST: Final = 200
QUALITY: Final = {WHOLE_PX: 85, SMALL_PX: 78}
KINDS: Final = ("JPEG", "MPO", "PNG", "WEBP", "AVIF", "HEIF")
_HEIF_BRANDS: Final = frozenset({b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1"})


@dataclass(frozen=True, slots=True)
class EncodedPhoto:
    """A picture in two sizes, JPEG without metadata; ``digest`` names the whole one, sizes in pixels."""

    digest: str
    width: int
    height: int
    whole: bytes
    small: bytes


def encoded(content: bytes, name: str = "") -> EncodedPhoto:
    """Encode a picture anew. ``name`` is what its owner calls the file, for what there is to say about it.

    Raises
    ------
    InputError
        It is no picture, too large, damaged, or of a kind that cannot be read here.
    """
    if len(content) > BYTES_AT_MOST:
        said = f"more than {BYTES_AT_MOST // 1_000_000} MB"
        raise _refused(name, "photo-too-large", f"it has {said}", "send a smaller copy of it")
    picture = _upright(_opened(content, name), name)
    whole, width, height = _jpeg(picture, WHOLE_PX)
    small, _, _ = _jpeg(picture, SMALL_PX)
    return EncodedPhoto(hashlib.sha256(whole).hexdigest(), width, height, whole, small)


def _opened(content: bytes, name: str) -> "Image":
    """The picture with its size known and its pixels not yet decoded."""
    from PIL import Image, UnidentifiedImageError

    Image.init()
    kinds: list[str] = [kind for kind in KINDS if kind in Image.OPEN]
    try:
        picture = Image.open(io.BytesIO(content), formats=kinds)
    except UnidentifiedImageError:
        raise _not_a_picture(content, name) from None
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise _too_many_pixels(name) from None
    except (OSError, ValueError, SyntaxError, EOFError):
        raise _damaged(name) from None
    if picture.width * picture.height > PIXELS_AT_MOST:
        raise _too_many_pixels(name)
    if min(picture.size) < SIDE_AT_LEAST:
        raise _refused(name, "photo-too-small", "it is only a few pixels wide", "send the photo itself")
    return picture


def _upright(picture: "Image", name: str) -> "Image":
    """The pixels alone, upright, on white where they are see-through, in the colours of every screen."""
    from PIL import Image, ImageOps

    try:
        picture.draft("RGB", (WHOLE_PX, WHOLE_PX))  # a JPEG is decoded no finer than it is kept
        picture.load()
        turned = ImageOps.exif_transpose(picture)
        turned.thumbnail((WHOLE_PX, WHOLE_PX), Image.Resampling.LANCZOS)
        turned = _in_usual_colours(turned)
        if turned.mode in {"RGBA", "LA", "PA"} or "transparency" in turned.info:
            turned = turned.convert("RGBA")
            bare = Image.new("RGB", turned.size, "white")
            bare.paste(turned, mask=turned.getchannel("A"))
            return bare
        bare = Image.new("RGB", turned.size)
        bare.paste(turned.convert("RGB"))
    except (OSError, ValueError, SyntaxError, EOFError, IndexError, TypeError, MemoryError):
        raise _damaged(name) from None
    return bare


def _in_usual_colours(picture: "Image") -> "Image":
    """Turned from the camera's own colour space, which is not kept either, to sRGB."""
    profile = picture.info.get("icc_profile")
    if not profile or picture.mode not in {"RGB", "CMYK", "L"}:
        return picture
    from PIL import ImageCms

    try:
        own = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        srgb = ImageCms.createProfile("sRGB")
        return ImageCms.profileToProfile(picture, own, srgb, outputMode="RGB") or picture
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        return picture


def _jpeg(picture: "Image", longest: int) -> tuple[bytes, int, int]:
    from PIL import Image

    made = picture.copy()
    made.thumbnail((longest, longest), Image.Resampling.LANCZOS)
    stream = io.BytesIO()
    made.save(stream, "JPEG", quality=QUALITY[longest], optimize=True, progressive=True)
    return stream.getvalue(), made.width, made.height


def _not_a_picture(content: bytes, name: str) -> InputError:
    if content[4:8] == b"ftyp" and content[8:12] in _HEIF_BRANDS:
        text = "it is a HEIC picture, which cannot be read here"
        return _refused(name, "photo-heic", text, "send it as JPEG: let the camera save that, or convert it")
    return _refused(name, "not-a-photo", "it is no picture that can be read", "send a JPEG, PNG or WebP")


def _too_many_pixels(name: str) -> InputError:
    text = f"it has more than {PIXELS_AT_MOST // 1_000_000} million pixels"
    return _refused(name, "photo-too-large", text, "send a smaller copy of it")


def _damaged(name: str) -> InputError:
    return _refused(name, "photo-damaged", "it is damaged or not whole", "send it again")


def _refused(name: str, code: str, text: str, remedy: str) -> InputError:
    shown = name if len(name) <= NAME_AT_MOST else f"...{name[3 - NAME_AT_MOST :]}"  # a path tells by its end
    return InputError(Finding(code, text, remedy, shown or "photo"))
