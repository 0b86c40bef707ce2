"""What cannot be done, told on a page. A form that can be mended is shown again by its own route instead."""

from http import HTTPStatus
from typing import Any, Final

from fastapi import Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import Response
from sqlalchemy.exc import TimeoutError as PoolTimeoutError
from starlette.exceptions import HTTPException

from plaitlog.models.errors import Finding, PlaitlogError
from plaitlog.service import errors
from plaitlog.service.pages.remedies import on_a_page
from plaitlog.service.pages.rendering import page

HEADS: Final = {
    403: "This request is not answered",
    404: "Not found",
    409: "Not as things stand",
    500: "Something went wrong",
    503: "Not just now",
}
BUSY: Final = Finding("busy", "the server has more to do than it can at once", "try again in a moment")
NO_PAGE: Final = Finding("no-such-page", "there is no page at this address", "choose one from the list above")


def refusal_page(
    request: Request, status: int, finding: Finding, findings: tuple[Finding, ...] = ()
) -> Response:
    """A page that says what cannot be done and what to do about it."""
    data = {
        "head": HEADS.get(status, "That cannot be taken"),
        "status": status,
        "sent": request.method == "POST",
        "error": told(finding),
        "findings": [told(one) for one in findings if one != finding],
    }
    return page(request, "refusal.html", data, status)


def findings_of(error: PlaitlogError) -> tuple[Finding, ...]:
    """Everything that an error says is to be mended: the one finding of most, every one of a record's."""
    return tuple(getattr(error, "findings", ())) or (error.finding,)


def told(finding: Finding) -> dict[str, str]:
    """A finding as data of a page."""
    remedy = on_a_page(finding.remedy)
    return {"code": finding.code, "text": finding.text, "remedy": remedy, "where": finding.where}


def plaitlog_error(request: Request, error: Exception) -> Response:
    assert isinstance(error, PlaitlogError)
    findings = tuple(getattr(error, "findings", ()))
    return refusal_page(request, errors.status(error), error.finding, findings)


def bad_parameters(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    wrong: Any = error.errors()[0]
    where = ", ".join(map(str, wrong["loc"][1:]))
    finding = Finding(
        "parameter", f"{str(wrong['input'])[:60]!r} cannot be taken", "correct the address", where
    )
    return refusal_page(request, 422, finding)


def http_error(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    if error.status_code in {HTTPStatus.NOT_FOUND, HTTPStatus.METHOD_NOT_ALLOWED}:
        return refusal_page(request, error.status_code, NO_PAGE)
    phrase = HTTPStatus(error.status_code).phrase.lower()
    return refusal_page(request, error.status_code, Finding("http", phrase, "go back and try again"))


def busy(request: Request, error: Exception) -> Response:
    return refusal_page(request, 503, BUSY)


HANDLERS: Final = {
    PlaitlogError: plaitlog_error,
    RequestValidationError: bad_parameters,
    HTTPException: http_error,
    PoolTimeoutError: busy,
}
"""How each error is told to a person."""
