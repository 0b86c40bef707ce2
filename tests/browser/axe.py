"""What axe-core finds on a page. It is run from outside: the page's own policy lets no script tag in."""

from collections.abc import Sequence
from importlib.resources import files
from typing import Any

from playwright.sync_api import Page

SERIOUS = {"serious", "critical"}


def serious_findings(page: Page, rules: Sequence[str] = ()) -> list[str]:
    """Findings that would keep somebody out, each with where it is; empty where all is well.

    rules : only these; without any, all there are.
    """
    if not page.evaluate("'axe' in window"):
        page.evaluate((files("axe_playwright_python") / "axe.min.js").read_text("utf-8"))
    options: dict[str, Any] = {"resultTypes": ["violations"]}
    if rules:
        options["runOnly"] = list(rules)
    found: Any = page.evaluate("options => axe.run(document, options)", options)
    return [
        f"{violation['id']}: {node['html'][:200]} {node['failureSummary']}"
        for violation in found["violations"]
        if violation["impact"] in SERIOUS
        for node in violation["nodes"]
    ]
