"""Which fonts the converter of pictures sees: its own Liberation Sans, and all others of the machine.

Where the machine has a Liberation Sans too, the converter would take that, of whatever version it is, and
open its file four times for each letter (measured: a page of 2400 letters takes 0.2 s, with its own font
0.03 s).
"""

import os
import tempfile
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Final
from xml.sax.saxutils import escape

FOLDERS: Final = ("/usr/share/fonts", "/usr/local/share/fonts", "~/.local/share/fonts", "~/.fonts")
"""Where the fonts of a machine lie, on systems whose font folders are listed in a file; others ignore it."""
VARIABLE: Final = "FONTCONFIG_FILE"
_EMPTY: Final = '<svg xmlns="http://www.w3.org/2000/svg" width="1" height="1"><text>a</text></svg>'


@cache
def converter() -> ModuleType:
    """The converter, its fonts loaded. A list of fonts that is set from outside is left as it is."""
    import vl_convert

    if VARIABLE in os.environ:
        return vl_convert
    with tempfile.TemporaryDirectory() as folder:
        listed = Path(folder) / "fonts.conf"
        listed.write_text(font_list([folder, *without_own(map(Path, FOLDERS))]), encoding="utf-8")
        os.environ[VARIABLE] = str(listed)
        try:
            vl_convert.svg_to_pdf(_EMPTY)  # the fonts are looked for once, with the first picture
        finally:
            del os.environ[VARIABLE]
    return vl_convert


def font_list(folders: Iterable[str | Path]) -> str:
    """A list of font folders, as fontconfig reads it."""
    named = "".join(f"<dir>{escape(str(folder))}</dir>" for folder in folders)
    return f'<?xml version="1.0"?><fontconfig>{named}</fontconfig>'


def without_own(folders: Iterable[Path]) -> Iterator[Path]:
    """The folders, or as much of them as holds no Liberation Sans."""
    for folder in folders:
        yield from _parts(folder.expanduser())


def _parts(folder: Path) -> list[Path]:
    try:
        if not any(folder.rglob("LiberationSans-*")):
            return [folder] if folder.is_dir() else []
        return [part for inner in sorted(folder.iterdir()) if inner.is_dir() for part in _parts(inner)]
    except OSError:
        return []
