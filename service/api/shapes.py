"""From a JSON object to a shape that is no record, refused in the project's own words."""

from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from plaitlog.models.errors import Finding, RecordError, nearest_or
from plaitlog.service.schemas.refusals import place_of
from plaitlog.service.schemas.values import shown

Shape = TypeVar("Shape", bound=BaseModel)


def shape_from(shape: type[Shape], data: dict[str, Any]) -> Shape:
    """The shape that an object states; RecordError with everything that is to be mended."""
    try:
        return shape.model_validate(data, strict=True)
    except ValidationError as error:
        raise RecordError(*[_finding(shape, found) for found in error.errors(include_url=False)]) from None


def _finding(shape: type[BaseModel], found: Any) -> Finding:
    where = place_of(found["loc"])
    match found["type"]:
        case "missing":
            return Finding("missing", "is missing", f"give {found['loc'][-1]}", where)
        case "extra_forbidden":
            known = list(shape.model_fields)
            remedy = nearest_or(str(found["loc"][-1]), known, f"known are {', '.join(known)}")
            return Finding("unknown-key", f"{found['loc'][-1]!r} is not a key here", remedy, where)
    code = found["type"].replace("_", "-")
    return Finding(code, f"{shown(found['input'])} cannot be taken", found["msg"].lower(), where)
