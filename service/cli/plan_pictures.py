"""The files of a plan that are looked at or printed: bench sheet and drawing."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from plaitlog.service.reports.bench_sheet import Paper
    from plaitlog.service.usecases.planning.planning import Told
    from plaitlog.service.usecases.planning.replanning import Replanned
    from plaitlog.service.usecases.shown_units import ShownUnits


def sheet_files(
    told: "Told", shown: "ShownUnits", paper: "Paper", again: "Replanned | None" = None
) -> "dict[str, bytes]":
    """Names and contents: sheet.html, sheet.pdf, drawing.svg; ``again``: the sheet of what lies ahead."""
    from plaitlog.service.reports.bench_sheet import pages, to_html, to_pdf
    from plaitlog.service.reports.whip_drawing import to_svg
    from plaitlog.service.usecases.pictures.drawing import drawn
    from plaitlog.service.usecases.planning.sheet import bench_sheet

    bench = told.bench
    sheet = bench_sheet(
        bench.in_force,
        told.plan,
        shown,
        transition_mm=bench.order.transition_mm,
        readings=() if again is None else again.readings,
        standing=None if again is None else again.standing,
        point="" if again is None else again.point_in(shown),
    )
    printed = pages(sheet, paper)
    drawing = drawn(bench.in_force, told.plan.whip, bench.cords, shown)
    return {
        "sheet.html": to_html(sheet, printed).encode(),
        "sheet.pdf": to_pdf(printed),
        "drawing.svg": to_svg(drawing).encode(),
    }
