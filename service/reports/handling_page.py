"""The report on handling as one page of HTML that needs nothing else."""

from collections.abc import Iterator
from typing import Any

from plaitlog.service.reports.handling_charts import forest, scatter
from plaitlog.service.reports.handling_report import AssociationRow, HandlingReport
from plaitlog.service.reports.page import markup, rendered


def handling_page(report: HandlingReport) -> str:
    """The page; names and words of the records are text in it, whatever they hold."""
    qualities = dict.fromkeys(row.quality for row in report.rows)
    return rendered(
        "handling_report.html",
        report=report,
        made=f"{report.made_at.astimezone():%Y-%m-%d %H:%M}",
        tables=[
            {"quality": quality, "rows": [_row(one) for one in report.rows if one.quality == quality]}
            for quality in qualities
        ],
        charts=list(_charts(report)),
    )


def _charts(report: HandlingReport) -> Iterator[dict[str, Any]]:
    for quality in dict.fromkeys(row.quality for row in report.rows):
        rows = [row for row in report.rows if row.quality == quality]
        if any(row.rho is not None for row in rows):
            yield {
                "words": f"How each parameter goes with {quality}: right of the middle more of it goes with "
                "better ratings. Filled: claimed; rings: may be chance.",
                "svg": markup(forest(rows)),
            }
    for picture in report.scatters:
        yield {
            "words": f"Every rated whip: {picture.quality} against {picture.parameter}.",
            "svg": markup(scatter(picture)),
        }


def _row(one: AssociationRow) -> dict[str, Any]:
    told = one.low_95 is not None and one.high_95 is not None
    return {
        "title": one.title,
        "n": one.n,
        "rho": "" if one.rho is None else f"{one.rho:+.2f}",
        "interval": f"{one.low_95:+.2f} to {one.high_95:+.2f}" if told else "",
        "p": one.p,
        "q": one.q,
        "partial": one.partial,
        "bend": one.bend,
        "claimed": one.claimed,
        "why": one.why,
    }
