"""The report on a fit as one page of HTML that needs nothing else: no script, no outside resource.

It prints on A4 and Letter, and can be read on a narrow and a wide screen, by day and by night.
"""

from plaitlog.service.reports.fit_content import content
from plaitlog.service.reports.fit_report import FitReport
from plaitlog.service.reports.page import rendered


def to_html(report: FitReport) -> str:
    """The page; names and words of the records are text in it, whatever they hold."""
    return rendered("fit_report.html", fit=content(report))
