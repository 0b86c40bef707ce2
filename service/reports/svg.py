"""SVG as text: elements with escaped content, numbers of fixed form, text that fits where it goes.

The same picture gives the same bytes. Sizes are millimetres on paper throughout.
"""

import re
from typing import Final
from xml.sax.saxutils import escape, quoteattr

from plaitlog.service.reports.pictures import FONT

INK: Final = "#1a1a1a"
GREY: Final = "#595959"
PALE: Final = "#bfbfbf"
Attribute = str | float | int

# What XML 1.0 cannot hold: most control characters, single surrogates, two non-characters.
_NO_XML: Final = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_NARROW: Final = frozenset("ijl.,:;'|!()[]ftI/ \u00a0′″`")
_WIDE: Final = frozenset("mwMW@%—…")


def number(value: float) -> str:
    """A coordinate to 0.001 mm, without needless digits."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


def element(name: str, *content: str, **attributes: Attribute) -> str:
    """An element around content that is SVG already; ``stroke_width`` stands for ``stroke-width``."""
    given = "".join(
        f" {key.rstrip('_').replace('_', '-')}={quoteattr(_value(value))}"
        for key, value in attributes.items()
    )
    return f"<{name}{given}>{''.join(content)}</{name}>" if content else f"<{name}{given}/>"


def _value(value: Attribute) -> str:
    return clean(value) if isinstance(value, str) else number(value)


def clean(text: str) -> str:
    """Text that XML can hold; what it cannot becomes the replacement character."""
    return _NO_XML.sub("\ufffd", text)


def text(x: float, y: float, words: str, size: float = 2.8, **attributes: Attribute) -> str:
    """A line of text, its baseline beginning at (x, y)."""
    return element("text", escape(clean(words)), x=x, y=y, font_size=size, **attributes)


def title(words: str) -> str:
    """The name of what it stands in, for screen readers and as a tooltip."""
    return element("title", escape(clean(words)))


def line(x1: float, y1: float, x2: float, y2: float, **attributes: Attribute) -> str:
    given: dict[str, Attribute] = {"stroke": INK, "stroke_width": 0.2, **attributes}
    return element("line", x1=x1, y1=y1, x2=x2, y2=y2, **given)


def rect(x: float, y: float, width: float, height: float, **attributes: Attribute) -> str:
    return element("rect", x=x, y=y, width=width, height=height, **attributes)


def path(points: list[tuple[float, float]], *, closed: bool = False, **attributes: Attribute) -> str:
    """Straight strokes from point to point."""
    strokes = " ".join(f"{'L' if k else 'M'}{number(x)} {number(y)}" for k, (x, y) in enumerate(points))
    return element("path", d=f"{strokes}{' Z' if closed else ''}", **attributes)


def width_of(words: str, size: float) -> float:
    """About how wide a text comes out, mm; Liberation Sans runs a little narrower."""
    return size * sum(
        0.29 if sign in _NARROW else 0.86 if sign in _WIDE else 0.7 if sign.isupper() else 0.545
        for sign in words
    )


def fitted(words: str, width: float, size: float) -> str:
    """The text, cut with an ellipsis where it is wider than ``width`` mm."""
    words = re.sub(r"[\t\n\r ]+", " ", words).strip()
    if width_of(words, size) <= width:
        return words
    kept = words
    while kept and width_of(f"{kept}…", size) > width:
        kept = kept[:-1]
    return f"{kept.rstrip()}…"


def wrapped(words: str, width: float, size: float) -> list[str]:
    """The text in lines of at most ``width`` mm, parted at blanks."""
    lines: list[str] = []
    for word in words.split():
        if lines and width_of(f"{lines[-1]} {word}", size) <= width:
            lines[-1] = f"{lines[-1]} {word}"
        else:
            lines.append(fitted(word, width, size))
    return lines


def document(width: float, height: float, name: str, *content: str) -> str:
    """A whole SVG of ``width`` by ``height`` mm on white, one unit a millimetre."""
    return element(
        "svg",
        title(name),
        rect(0, 0, width, height, fill="white"),
        *content,
        xmlns="http://www.w3.org/2000/svg",
        width=f"{number(width)}mm",
        height=f"{number(height)}mm",
        viewBox=f"0 0 {number(width)} {number(height)}",
        font_family=FONT,
        fill=INK,
        role="img",
    )
