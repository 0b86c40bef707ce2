"""An answer on handling as plain data, drawn and worded: what the report and the page of it both show."""

from collections.abc import Iterator
from typing import Any

from plaitlog.service.reports.handling_charts import forest, scatter
from plaitlog.service.reports.handling_report import AssociationRow, HandlingReport, Scatter


def content(report: HandlingReport) -> dict[str, Any]:
    """Texts, tables by quality, charts as SVG; only what JSON knows."""
    qualities = list(dict.fromkeys(row.quality for row in report.rows))
    rows = {quality: [row for row in report.rows if row.quality == quality] for quality in qualities}
    return {
        "asked": report.asked,
        "words": list(report.words),
        "made": f"{report.made_at.astimezone():%Y-%m-%d %H:%M}",
        "rests_on": report.rests_on,
        "price": report.price,
        "caution": report.caution,
        "tables": [{"quality": quality, "rows": list(map(_row, of))} for quality, of in rows.items()],
        "charts": [*_forests(rows), *map(_scatter, report.scatters)],
        "parts": [{"title": part.title, "sentences": list(part.sentences)} for part in report.parts],
    }


def _forests(of_quality: dict[str, list[AssociationRow]]) -> Iterator[dict[str, Any]]:
    for quality, rows in of_quality.items():
        if any(row.rho is not None for row in rows):
            yield {
                "words": f"How each parameter goes with {quality}: right of the middle more of it goes with "
                "better ratings. Filled: claimed; rings: may be chance.",
                "svg": forest(rows),
                "table": None,  # the figures stand in the table below
            }


def _scatter(picture: Scatter) -> dict[str, Any]:
    rows = sorted(picture.points, key=lambda one: -one.rating)
    return {
        "words": f"Every rated whip: {picture.quality} against {picture.parameter}.",
        "svg": scatter(picture),
        "table": {
            "heads": ["whip", picture.parameter, f"{picture.quality}, spreads from the rater's mean"],
            "rows": [[one.label, f"{one.value:.3g}", f"{one.rating:+.2f}"] for one in rows],
        },
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
