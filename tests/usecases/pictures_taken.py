"""Pictures as cameras and telephones write them, made here, for tests of photos."""

import io
from typing import Any

from PIL import Image, ImageDraw

PLACE_TAKEN = "N 54 27 13"
CAMERA = "Tarn Hollow 3"
REMARK = "taken behind the shed"
ORIENTATION, MODEL, GPS = 0x0112, 0x0110, 0x8825


def scene(width: int = 640, height: int = 480) -> Image.Image:
    """A picture whose top left corner is red, the rest pale."""
    made = Image.new("RGB", (width, height), (225, 220, 205))
    ImageDraw.Draw(made).rectangle((0, 0, width // 4, height // 4), fill=(200, 20, 20))
    return made


def file(picture: Image.Image, kind: str = "JPEG", **more: Any) -> bytes:
    stream = io.BytesIO()
    picture.save(stream, kind, **more)
    return stream.getvalue()


def from_a_telephone(orientation: int = 1, **more: Any) -> bytes:
    """A JPEG with everything a camera writes beside the picture: where, with what, a remark."""
    exif = Image.Exif()
    exif[ORIENTATION], exif[MODEL] = orientation, CAMERA
    exif[GPS] = {1: "N", 2: (54.0, 27.0, 13.0), 3: "W", 4: (3.0, 12.0, 5.0), 29: PLACE_TAKEN}
    return file(scene(**more), exif=exif, comment=REMARK.encode(), dpi=(300, 300))
