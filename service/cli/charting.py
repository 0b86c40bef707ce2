"""``plaitlog chart``: how thick a plait of one cord comes out, as a picture or a table."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from plaitlog.service.cli.options import AsJson, Database, Strict
from plaitlog.service.cli.output import as_json, end, finding_json, findings, result, say, table
from plaitlog.service.cli.workshop import reading

if TYPE_CHECKING:
    from plaitlog.service.reports.cord_chart import CordChart


def register(app: typer.Typer) -> None:
    app.command("chart")(chart)


def chart(
    context: typer.Context,
    cord: Annotated[str, typer.Argument(help="The cord, by its name or a part of it.")],
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FILE", help="Draw it: a file ending in .svg, .png or .pdf."),
    ] = None,
    over: Annotated[
        list[str] | None,
        typer.Option(
            metavar="DIAMETER", help="The body plaited over, 0 for none; several times for several."
        ),
    ] = None,
    maker: Annotated[
        str | None, typer.Option(help="Whose hands; an unknown maker widens the interval.")
    ] = None,
    condition: Annotated[
        str | None, typer.Option(help="fresh, rolled (as if unsaid), waxed or broken in.")
    ] = None,
    pattern: Annotated[
        str | None,
        typer.Option(metavar="u2o2", help="How many strands are passed at once, whatever the count."),
    ] = None,
    json: AsJson = False,
    strict: Strict = False,
    database: Database = None,
) -> None:
    """Show how thick a plait of one cord comes out, by strand count and by the body it is plaited over.

    Without --out as a table: median and 90 % interval, in brackets where gaps show or the strands bunch. The
    picture shows the recorded readings on plaits of this cord as well.
    """
    from plaitlog.service.cli.picture_files import check_kind, write_picture
    from plaitlog.service.cli.predicting import condition_meant, diameter_meant
    from plaitlog.service.preferences import shown_units
    from plaitlog.service.reports.cord_chart import to_svg
    from plaitlog.service.usecases.pictures.charting import cord_chart

    if out is not None:
        check_kind(out)
    bodies = tuple(0.0 if text.strip() == "0" else diameter_meant(text, "--over") for text in over or ())
    with reading(context, database) as session:
        told = cord_chart(
            session,
            cord,
            over_mm=bodies,
            maker=maker,
            condition=condition_meant(condition),
            pattern=pattern,
            shown=shown_units(),
        )
    if out is not None:
        write_picture(out, to_svg(told))
        say(f"{told.cord}: {told.readings_in_all} readings behind it; see {out}")
    if json:
        as_json(_json(told))
    elif out is None:
        _print(told)
    end(told.findings, strict)


def _print(told: "CordChart") -> None:
    from plaitlog.service.reports.cord_chart import to_table

    unit = told.shown.diameters
    result(f"{told.cord}: finished diameter of a plait ({unit}), with its 90 % interval{told.asked}")
    result(f"{told.rests_on}; {told.readings_in_all} readings on plaits of this cord. {told.caution}")
    heads, rows = to_table(told)
    table(heads, rows, right=heads)
    if any(not point.lies_well for curve in told.curves for point in curve.points):
        result("(in brackets: gaps show, or the strands bunch)")
    findings(finding for finding in told.findings if finding.code != "no-fit")


def _json(told: "CordChart") -> dict[str, Any]:
    return {
        "cord": told.cord,
        "rests_on": told.rests_on,
        "curves": [
            {
                "over_mm": curve.over_mm,
                "counts": [
                    {
                        "strands": point.strands,
                        "diameter_mm": point.diameter_mm,
                        "low_90_mm": point.low_90_mm,
                        "high_90_mm": point.high_90_mm,
                        "cover": point.cover,
                    }
                    for point in curve.points
                ],
            }
            for curve in told.curves
        ],
        "readings": [
            {
                "whip": one.whip,
                "at_mm": one.at_mm,
                "strands": one.strands,
                "over_mm": one.over_mm,
                "diameter_mm": one.diameter_mm,
                "expected_mm": one.expected_mm,
                "mark": one.mark,
            }
            for one in told.readings
        ],
        "findings": [finding_json(finding) for finding in told.findings],
    }
