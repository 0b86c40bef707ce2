"""What axe-core finds on a page. It is run from outside: the page's own policy lets no script tag in."""

from importlib.resources import files
from typing import Any

from playwright.sync_api import Page

SERIOUS = {"serious", "critical"}


def serious_findings(page: Page) -> list[str]:
    """Findings that would keep somebody out, each with where it is; empty where all is well."""
    source = (files("axe_playwright_python") / "axe.min.js").read_text("utf-8")
    page.evaluate(source)
    found: Any = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    return [
        f"{violation['id']}: {node['html'][:200]} {node['failureSummary']}"
        for violation in found["violations"]
        if violation["impact"] in SERIOUS
        for node in violation["nodes"]
    ]
