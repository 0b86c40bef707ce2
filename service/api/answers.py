"""Answers as JSON."""

import json
from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from fastapi.responses import JSONResponse

from plaitlog.models.errors import Finding


class Answer(JSONResponse):
    """JSON in UTF-8, never NaN; text that is no Unicode is given back with its escapes."""

    def render(self, content: Any) -> bytes:
        text = json.dumps(content, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        return text.encode("utf-8", "backslashreplace")


def remark(finding: Finding) -> dict[str, str]:
    """A finding as it stands in an answer."""
    return asdict(finding)


def remarks(findings: Iterable[Finding]) -> list[dict[str, str]]:
    return [remark(finding) for finding in findings]
