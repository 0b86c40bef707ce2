"""What is wrong with a question, in the project's own words."""

from typing import Any, Final, get_args

from pydantic import BaseModel, ValidationError

from plaitlog.models.errors import Finding, nearest_or
from plaitlog.service.schemas.cords import CordRecord
from plaitlog.service.schemas.prediction import CordShare, LayerIn, QueryIn, ReadingIn
from plaitlog.service.schemas.refusals import place_of
from plaitlog.service.schemas.values import shown

_SHAPES: Final[tuple[type[BaseModel], ...]] = (QueryIn, ReadingIn, LayerIn, CordShare, CordRecord)
_NOT_KEYS: Final = frozenset({"str", "int", "float", "bool", "CordRecord", "none"})
_WORDS: Final = {
    "greater_than": "is not a size",
    "greater_than_equal": "is too small",
    "less_than_equal": "is more than any whip has",
    "finite_number": "is not a number",
    "float_type": "is not a number",
    "int_type": "is not a whole number",
    "string_type": "is not text",
    "string_too_short": "is empty",
    "string_too_long": "is too long",
    "bool_type": "is neither true nor false",
    "tuple_type": "is not a list",
    "too_short": "is not a pair",
    "too_long": "is not a pair",
    "model_type": "is not an object",
    "model_attributes_type": "is not an object",
}


def question_finding(error: ValidationError) -> Finding:
    """The first thing that is wrong, and how to mend it."""
    found = max(error.errors(include_url=False), key=_tells)
    path = [part for part in found["loc"] if isinstance(part, int) or _is_key(part)]
    where = place_of(path)
    value, context = found["input"], found.get("ctx", {})
    match found["type"]:
        case "refused":
            return Finding(context["code"], context["text"], context["remedy"], where)
        case "extra_forbidden":
            return _unknown_key(found["loc"])
        case "missing":
            return Finding("missing", "is missing", f"give {path[-1]}", where)
        case "literal_error":
            return Finding(
                "unknown-word", f"{shown(value)} is not known here", f"write {context['expected']}", where
            )
        case "model_type" | "model_attributes_type" if not path:
            return Finding(
                "not-an-object", f"{shown(value)} is not a question", 'write an object {"id": ...}'
            )
    kind = found["type"]
    return Finding(
        kind.replace("_", "-"),
        f"{shown(value)} {_WORDS.get(kind, 'cannot be taken here')}",
        _remedy(found),
        where,
    )


def _tells(found: Any) -> tuple[int, int]:
    """Of the errors of several allowed shapes the one that fits the value best tells most."""
    value, kind = found["input"], found["type"]
    beside = (
        (kind in {"string_type", "int_type", "float_type"} and isinstance(value, dict | list))
        or (
            kind in {"tuple_type", "model_type", "model_attributes_type", "literal_error"}
            and not isinstance(value, str)
        )
        or (kind in {"tuple_type", "model_type", "model_attributes_type"} and isinstance(value, str))
    )
    return (-int(beside), len(found["loc"]))


def _is_key(part: str) -> bool:
    return part not in _NOT_KEYS and not part.startswith(
        ("constrained", "tuple", "literal", "function", "nullable")
    )


def _unknown_key(loc: tuple[int | str, ...]) -> Finding:
    parts = [part for part in loc[:-1] if isinstance(part, int) or _is_key(part)]
    shape: type[BaseModel] = QueryIn
    for part in parts:
        if isinstance(part, str) and part in shape.model_fields:
            inside = [x for x in _SHAPES if x in _types_in(shape.model_fields[part].annotation)]
            shape = inside[0] if inside else shape
    known = [field.alias or name for name, field in shape.model_fields.items()]
    remedy = nearest_or(str(loc[-1]), known, f"known are {', '.join(known)}")
    return Finding("unknown-key", f"{loc[-1]!r} is not a key here", remedy, place_of(parts))


def _types_in(annotation: Any) -> list[Any]:
    return [annotation, *(found for part in get_args(annotation) for found in _types_in(part))]


def _remedy(found: Any) -> str:
    context = found.get("ctx", {})
    match found["type"]:
        case "greater_than":
            return f"write a number above {context['gt']:g}, or null if not known"
        case "greater_than_equal":
            return f"at least {context['ge']:g}"
        case "less_than_equal":
            return f"at most {context['le']:g}; check number and unit"
        case "finite_number" | "float_type":
            return "write a finite number, or the text under the key without the unit"
        case "int_type":
            return "write a whole number, or a pair [least, most]"
        case "too_short" | "too_long" | "tuple_type":
            return "write a list [...]"
        case "bool_type":
            return "write true or false"
        case "string_too_long":
            return f"at most {context['max_length']} characters"
    return "see the keys and values of a question"
