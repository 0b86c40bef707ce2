"""From a validation error to findings in the project's own words: where, what, how to mend it."""

from collections.abc import Sequence
from typing import Any, get_args

from pydantic import BaseModel, ValidationError

from plaitlog.models.errors import Finding, nearest_or
from plaitlog.service.schemas.records import KINDS, Record, any_record
from plaitlog.service.schemas.values import shown


def record_from(data: object) -> Record:
    """The record that a JSON object states.

    Raises
    ------
    pydantic.ValidationError
        Whose findings ``findings_of`` gives.
    """
    return any_record.validate_python(data)


def findings_of(error: ValidationError, shape: type[BaseModel] | None = None) -> list[Finding]:
    """One finding per thing that is wrong with a record; or with another ``shape``, which has no kinds."""
    return [_finding(found, shape) for found in error.errors(include_url=False)]


def place_of(path: Sequence[str | int]) -> str:
    """A key path in words: list members count from 1 (``readings 3, diameter_mm``)."""
    words: list[str] = []
    for part in path:
        if isinstance(part, int) and words:
            words[-1] = f"{words[-1]} {part + 1}"
        else:
            words.append(str(part))
    return ", ".join(words)


def _finding(found: Any, root: type[BaseModel] | None = None) -> Finding:
    kind = found["type"]
    value = found["input"]
    context = found.get("ctx", {})
    loc = [part for part in found["loc"] if not (isinstance(part, str) and part.startswith("<"))]
    # The path to a key of a record begins with the record's kind.
    loc = loc if root is None else ["", *loc]
    is_key = bool(loc) and loc[-1] == "[key]"
    path = loc[1:-1] if is_key else loc[1:]
    where = place_of(path)
    match kind:
        case "refused" if context["code"] == "not-a-number" and (beside := _text_key(loc, root)) is not None:
            return Finding(
                "not-a-number", context["text"], f"write a number, or the text under {beside!r}", where
            )
        case "refused":
            return Finding(context["code"], context["text"], context["remedy"], where)
        case "extra_forbidden":
            shape = _shape_at(loc[:-1], root)
            known = _keys(shape)
            return Finding(
                "unknown-key", f"{loc[-1]!r} is not a key here", _nearest(str(loc[-1]), known), where
            )
        case "union_tag_not_found" | "union_tag_invalid":
            return _wrong_kind(value)
        case "model_type" | "model_attributes_type" if len(loc) == 1:
            return Finding("not-an-object", f"{shown(value)} is not an object", "write {...}")
        case "missing":
            return Finding("missing", "is missing", f"write the {loc[-1]}", where)
        case "literal_error" if is_key:
            expected = context["expected"].replace(" or ", ", ").replace("'", "").split(", ")
            return Finding(
                "unknown-key", f"{value!r} is not a key here", _nearest(str(value), expected), where
            )
        case "literal_error":
            return Finding(
                "unknown-word", f"{shown(value)} is not known here", f"write {context['expected']}", where
            )
        case "string_type" if _unit_key(loc, root) is not None:
            return Finding(
                "unit-missing",
                f"{shown(value)} has no unit",
                f"write it as text with its unit, or the number under {_unit_key(loc, root)!r}",
                where,
            )
    return Finding(
        _code(kind), f"{shown(value)} {_WORDS.get(kind, 'cannot be taken here')}", _remedy(found), where
    )


def _wrong_kind(value: Any) -> Finding:
    if not isinstance(value, dict):
        return Finding("not-an-object", f"{shown(value)} is not a record", 'write an object {"kind": ...}')
    if "kind" not in value:
        return Finding("missing", "is missing", f"write one of {', '.join(KINDS)}", "kind")
    return Finding(
        "unknown-kind",
        f"{shown(value['kind'])} is not a kind of record",
        _nearest(str(value["kind"]), KINDS),
        "kind",
    )


_WORDS = {
    "string_type": "is not text",
    "int_type": "is not a whole number",
    "int_from_float": "is not a whole number",
    "bool_type": "is neither true nor false",
    "list_type": "is not a list",
    "dict_type": "is not an object",
    "model_type": "is not an object",
    "model_attributes_type": "is not an object",
    "string_too_short": "is empty",
    "string_too_long": "is too long",
    "too_long": "is too long",
    "greater_than_equal": "is too small",
    "less_than_equal": "is too large",
}


def _code(kind: str) -> str:
    return kind.replace("_", "-")


def _remedy(found: Any) -> str:
    context = found.get("ctx", {})
    # Told from the tag of the half of a union that was meant: the other half is the word "none".
    otherwise = '"none", or null' if found["loc"][-1:] == ("<value>",) else "or null"
    match found["type"]:
        case "string_too_short":
            return "write something, or null if not known"
        case "int_type" | "int_from_float":
            return "write a whole number, or null if not known"
        case "bool_type":
            return "write true or false"
        case "string_too_long":
            return f"at most {context['max_length']} characters"
        case "too_long":
            return f"at most {context['max_length']}"
        case "greater_than_equal":
            return f"at least {context['ge']}"
        case "less_than_equal":
            return f"at most {context['le']}"
        case "string_type":
            return 'write text in "quotes", or null if not known'
        case "list_type":
            return f"write a list [...], {otherwise} if not known"
        case "dict_type" | "model_type" | "model_attributes_type":
            return f"write an object {{...}}, {otherwise} if not known"
    return "see the keys and values of this kind of record"


def _unit_key(loc: Sequence[str | int], root: type[BaseModel] | None) -> str | None:
    """The key with a unit that stands beside a key for text, if the place is one."""
    shape = _shape_at(loc[:-1], root)
    if shape is None:
        return None
    for with_unit, (as_text, _) in getattr(shape, "as_typed", {}).items():
        if as_text == loc[-1]:
            return str(with_unit)
    return None


def _text_key(loc: Sequence[str | int], root: type[BaseModel] | None) -> str | None:
    """The key for text beside a key with a unit, if the place is one."""
    shape = _shape_at(loc[:-1], root)
    beside = getattr(shape, "as_typed", {}).get(loc[-1])
    return None if beside is None else str(beside[0])


def _shape_at(loc: Sequence[str | int], root: type[BaseModel] | None) -> type[BaseModel] | None:
    """The shape that a path leads to, told from the annotations on the way."""
    if not loc:
        return None
    kinds = _shapes_in(Record) if root is None else []
    shape = root or next((s for s in kinds if s.model_fields["kind"].default == loc[0]), None)
    for part in loc[1:]:
        if isinstance(part, int) or shape is None:
            continue
        field = next((f for name, f in shape.model_fields.items() if (f.alias or name) == part), None)
        inside = [] if field is None else _shapes_in(field.annotation)
        shape = inside[0] if inside else None
    return shape


def _shapes_in(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [shape for part in get_args(annotation) for shape in _shapes_in(part)]


def _keys(shape: type[BaseModel] | None) -> list[str]:
    if shape is None:
        return []
    return [field.alias or name for name, field in shape.model_fields.items()]


def _nearest(word: str, known: Sequence[str]) -> str:
    return nearest_or(word, known, f"known are {', '.join(known)}")
