"""The report on a fit, written into a folder as a page and as JSON."""

import json
from pathlib import Path
from typing import TYPE_CHECKING

from plaitlog.models.errors import Finding, InputError

if TYPE_CHECKING:
    from plaitlog.service.reports.fit_report import FitReport

PAGE, DATA = "fit.html", "fit.json"


def check_folder(folder: Path) -> None:
    """Make the folder; InputError where that cannot be, so that nobody waits for a fit in vain."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            Finding("file-unwritable", f"{folder} cannot be made: {error.strerror}", "name another folder")
        ) from error


def write_report(folder: Path, report: "FitReport") -> None:
    """``fit.html`` and ``fit.json`` in the folder, each all of it or nothing."""
    from plaitlog.service.cli.exporting import written
    from plaitlog.service.reports.fit_page import to_html
    from plaitlog.service.reports.fit_report import to_json

    data = json.dumps(to_json(report), ensure_ascii=False, allow_nan=False, indent=2)
    for name, text in ((PAGE, to_html(report)), (DATA, f"{data}\n")):
        with written(folder / name) as stream:
            stream.write(text.encode())
