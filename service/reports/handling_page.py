"""The report on handling as one page of HTML that needs nothing else."""

from plaitlog.service.reports.handling_content import content
from plaitlog.service.reports.handling_report import HandlingReport
from plaitlog.service.reports.page import rendered


def handling_page(report: HandlingReport) -> str:
    """The page; names and words of the records are text in it, whatever they hold."""
    return rendered("handling_report.html", answer=content(report))
