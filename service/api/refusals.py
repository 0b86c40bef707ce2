"""Everything that can go wrong in a request, in one shape: FastAPI's own errors included."""

from collections.abc import Iterable
from http import HTTPStatus
from typing import Any, Final

from fastapi import Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from sqlalchemy.exc import TimeoutError as PoolTimeoutError
from starlette.exceptions import HTTPException
from starlette.routing import Match

from plaitlog.models.errors import (
    Finding,
    ImportRefusedError,
    PlaitlogError,
    RecordError,
    StaleEditError,
    UndoError,
)
from plaitlog.service import errors
from plaitlog.service.api.answers import Answer, remark

RETRY_AFTER_S: Final = 1
BUSY: Final = Finding("busy", "the server has more to do than it can at once", "try again in a moment")
_WORDS: Final = {
    404: Finding("no-such-address", "there is nothing at this address", "see /api/v1 for what there is"),
    405: Finding("no-such-method", "this address does not know that method", "see the header Allow"),
}


class Refused(HTTPException):
    """A request that HTTP itself has a status for: a body too long, a content type not known."""

    def __init__(self, status: int, finding: Finding) -> None:
        super().__init__(status, detail=str(finding))
        self.finding = finding


def failure(
    status: int,
    finding: Finding,
    findings: Iterable[Finding] = (),
    *,
    conflict: dict[str, Any] | None = None,
    headers: dict[str, str] | None = None,
) -> JSONResponse:
    """The one shape of every answer that says no."""
    body: dict[str, Any] = {"error": remark(finding), "findings": [remark(one) for one in findings]}
    if conflict is not None:
        body["conflict"] = conflict
    if status == HTTPStatus.SERVICE_UNAVAILABLE:
        headers = {"Retry-After": str(RETRY_AFTER_S), **(headers or {})}
    return Answer(body, status, headers=headers)


def _plaitlog_error(request: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, PlaitlogError)
    findings = error.findings if isinstance(error, RecordError | ImportRefusedError | UndoError) else ()
    return failure(errors.status(error), error.finding, findings, conflict=conflict_of(error))


def conflict_of(error: PlaitlogError) -> dict[str, Any] | None:
    """Both values of every key that somebody else changed; None where the error is another one."""
    if not isinstance(error, StaleEditError):
        return None
    values = [
        {"key": key, "typed": typed, "stored": stored} for key, (typed, stored) in error.conflicts.items()
    ]
    return {"version": error.version, "values": values}


def _parameters(request: Request, error: Exception) -> JSONResponse:
    """Parameters in the address or a header that cannot be taken."""
    assert isinstance(error, RequestValidationError)
    findings = [_parameter(found) for found in error.errors()]
    return failure(422, findings[0], findings)


def _parameter(found: Any) -> Finding:
    where = ", ".join(map(str, found["loc"]))
    if found["type"] == "missing":
        return Finding("missing", "is missing", f"give {found['loc'][-1]}", where)
    text = repr(found["input"])
    text = text if len(text) <= 60 else f"{text[:57]}..."
    return Finding("parameter", f"{text} cannot be taken here", _remedy(found), where)


def _remedy(found: Any) -> str:
    limits = found.get("ctx", {})
    match found["type"]:
        case "int_parsing" | "int_from_float" | "int_parsing_size":
            return "write a whole number"
        case "bool_parsing":
            return "write true or false"
        case "greater_than_equal":
            return f"at least {limits['ge']}"
        case "less_than_equal":
            return f"at most {limits['le']}"
        case "string_too_short":
            return "write something, or leave it out"
        case "string_too_long":
            return f"at most {limits['max_length']} characters"
        case "enum" | "literal_error":
            return f"write {limits['expected']}"
    return "correct it"


def _http(request: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, HTTPException)
    headers = dict(error.headers or {})
    if isinstance(error, Refused):
        return failure(error.status_code, error.finding, headers=headers)
    if error.status_code == HTTPStatus.METHOD_NOT_ALLOWED:
        headers["Allow"] = ", ".join(methods_at(request))
    phrase = HTTPStatus(error.status_code).phrase
    otherwise = Finding(f"http-{error.status_code}", phrase.lower(), "correct the request")
    return failure(error.status_code, _WORDS.get(error.status_code, otherwise), headers=headers)


def methods_at(request: Request) -> list[str]:
    """Every method that the address of a request knows: each of them is a route of its own."""
    found: set[str] = set()
    for route in request.app.state.routes:
        if route.matches(request.scope)[0] is not Match.NONE:
            found |= set(getattr(route, "methods", None) or ())
    return sorted(found)


def _busy(request: Request, error: Exception) -> JSONResponse:
    return failure(503, BUSY)


HANDLERS: Final = {
    PlaitlogError: _plaitlog_error,
    RequestValidationError: _parameters,
    HTTPException: _http,
    PoolTimeoutError: _busy,
}
"""How each error is answered by the interface for programs."""
