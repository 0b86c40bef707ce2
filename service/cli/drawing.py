"""``plaitlog show LABEL --drawing FILE``: the technical drawing of a whip, or its table of stations."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

from plaitlog.service.cli.output import as_json, result, say, table
from plaitlog.service.cli.picture_files import check_kind, write_picture
from plaitlog.service.preferences import shown_units

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from plaitlog.service.reports.drawn_whip import WhipDrawing

TABLE = "-"


def show_drawing(session: "Session", label: str, file: str, *, json: bool) -> None:
    """Draw the whip into the file; with "-" print its stations as a table, or as JSON."""
    from plaitlog.service.reports.whip_drawing import to_svg
    from plaitlog.service.usecases.pictures.drawing import whip_drawing

    if file != TABLE:
        check_kind(Path(file))
    drawing = whip_drawing(session, label, shown=shown_units())
    if file != TABLE:
        write_picture(Path(file), to_svg(drawing))
        say(f"{label} is drawn in {file}")
    if json:
        as_json(_json(drawing))
    elif file == TABLE:
        _print(drawing)


def _print(drawing: "WhipDrawing") -> None:
    from plaitlog.service.reports.whip_drawing import to_table

    result(f"{drawing.label}: {drawing.about}")
    result(drawing.lengths)
    result(f"{drawing.rests_on}. {drawing.caution}")
    heads, rows = to_table(drawing)
    table(heads, rows, right=("at", "predicted"))
    for remark in drawing.remarks:
        result(f"note: {remark}")


def _json(drawing: "WhipDrawing") -> dict[str, Any]:
    return {
        "label": drawing.label,
        "datum": drawing.datum,
        "start_mm": drawing.start_mm,
        "end_mm": drawing.end_mm,
        "point_mm": drawing.point_mm,
        "rests_on": drawing.rests_on,
        "sections": [
            {
                "from_mm": section.from_mm,
                "to_mm": section.to_mm,
                "reason": section.reason,
                "foundation_mm": section.foundation_mm,
                "layers": [
                    {
                        "layer": layer.place,
                        "role": layer.role,
                        "low_strands": layer.count and layer.count.low,
                        "high_strands": layer.count and layer.count.high,
                        "diameter_over_it_mm": layer.outer_mm,
                    }
                    for layer in section.layers
                ],
                "diameter_mm": None if section.reason else section.diameter_mm,
                "low_90_mm": None if section.reason else section.low_90_mm,
                "high_90_mm": None if section.reason else section.high_90_mm,
            }
            for section in drawing.sections
        ],
        "readings": [
            {
                "at_mm": reading.at_mm,
                "diameter_mm": reading.diameter_mm,
                "after_layer": reading.after_layer,
                "doubtful": reading.doubtful,
            }
            for reading in drawing.readings
        ],
        "remarks": list(drawing.remarks),
    }
