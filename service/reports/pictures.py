"""An SVG as PNG or PDF.

The converter brings Liberation Sans with it (plain, bold, italic), so the same text comes out the same on
every machine, primes, fractions, diameter and minus signs included; it is embedded in the PDF, where text
stays text. Only a character that it lacks is taken from the machine's own fonts.
"""

import re
from typing import Final

from plaitlog.service.reports.picture_fonts import converter

FONT: Final = "Liberation Sans, Arial, Helvetica, sans-serif"
"""The family to name in an SVG; where it is missing, a browser's Arial has the same widths."""
PNG_SCALE: Final = 2.0
PT_PER_PX: Final = 0.75
"""96 CSS pixels and 72 points are an inch."""
_ROOT: Final = re.compile(r"<svg\b[^>]*>")
_SIZE: Final = re.compile(r'(\s(?:width|height)=")([\d.]+)')


def png_from_svg(svg: str, *, scale: float = PNG_SCALE) -> bytes:
    """The picture as PNG; ``scale`` pixels for one CSS pixel (1/96 in) of the SVG."""
    return bytes(converter().svg_to_png(svg, scale=scale))


def pdf_from_svg(svg: str) -> bytes:
    """The picture, which states its size and its viewBox, as one page of PDF in that size."""
    # The converter takes a pixel for a point, so the size is stated to it in points.
    in_points = _ROOT.sub(lambda root: _SIZE.sub(_scaled, root[0]), svg, count=1)
    return bytes(converter().svg_to_pdf(in_points))


def _scaled(size: re.Match[str]) -> str:
    return f"{size[1]}{float(size[2]) * PT_PER_PX:g}"
