"""The files of a plan that are looked at or printed: bench sheet and drawing."""

from typing import TYPE_CHECKING

from plaitlog.service.cli.preferences import shown_units

if TYPE_CHECKING:
    from plaitlog.service.usecases.planning.planning import Told


def sheet_files(told: "Told", paper: str) -> "dict[str, bytes]":
    """Names and contents: sheet.html, sheet.pdf, drawing.svg."""
    from plaitlog.service.reports.whip_drawing import to_svg
    from plaitlog.service.usecases.pictures.drawing import drawn

    bench, shown = told.bench, shown_units()
    drawing = drawn(bench.in_force, told.plan.whip, bench.cords, shown)
    return {"drawing.svg": to_svg(drawing).encode()}
