"""The fields of the recording form as data of the page: groups, in each the questions with what was typed."""

from collections.abc import Iterator, Mapping
from typing import Any, Final

from plaitlog.service.pages.recording.rows import (
    LINE,
    ROWS,
    SIZE,
    layer_data,
    proposed_role,
    readings_data,
    size_data,
)
from plaitlog.service.pages.refusals import told
from plaitlog.service.usecases.recording.form import Field, Filled
from plaitlog.service.usecases.recording.record import NEEDED

GROUPS: Final = (
    ("units", "Units"),
    ("whip", "The whip"),
    ("lengths", "Its lengths"),
    ("layers", "Layers, from the inside out"),
    ("readings", "Readings"),
    ("finished", "Finished"),
    ("handling", "Handling"),
    ("notes", "Notes"),
)
WHIP: Final = ("label", "type", "maker", "status", "made_on")
LENGTHS: Final = (
    "datum", "thong_length", "handle_length", "handle_diameter", "quoted_length", "foundation",
)  # fmt: skip
YES_OR_NO: Final = ("complete", "rate")
CHOSEN: Final = ("status", "datum", "units.lengths", "units.diameters")
"""Questions with a few choices and no others."""
LISTED: Final = 300
"""More choices than these are not listed: part of the name does."""

LAYER_HINT: Final = (
    "Taken as {role}, unless it begins with core, belly, bolster, binding or overlay. Like this: "
    "16A; 30: -2 each 4 to 8 tuck 3; p. Without strands: binding 0.2 mm thread to 40."
)
READINGS_HINT: Final = (
    "Like this: 0 each 6: 19.2/18.8 17.9 16.4 _ 14.1? 12.6. Or: thick 18.5; mid 13; p 7.2. Over an inner "
    "layer: belly, fresh: 12: 13.9."
)
CORD_HINT: Final = "A part of the name is enough. A cord that is new is asked about right here."
HINTS: Final = {
    "compared_with": "Then better, same or worse is a rating too.",
    "lot": "Another lot than those listed may be typed too.",
}
SCORED: Final = "1 to 10, x for not tried."


def group_of(key: str) -> str:
    """The group that a question stands in."""
    head = key.partition(".")[0]
    if head in {"layer", "cord", "lot", "complete"}:
        return "layers"
    if head in {"rate", "hours_of_use", "compared_with", "rating", "feel"}:
        return "handling"
    if head in {"units", "readings", "notes"}:
        return head
    return "whip" if key in WHIP else "lengths" if key in LENGTHS else "finished"


def groups(filled: Filled, texts: Mapping[str, str], *, asked_to_keep: bool) -> list[dict[str, Any]]:
    """Every group that has a question.

    asked_to_keep : somebody wanted to keep the form, so that what is empty and needed is told as a slip.
    """
    blocks: dict[str, list[dict[str, Any]]] = {}
    for field in filled.fields:
        blocks.setdefault(group_of(field.question.key), []).append(_block(field, texts, asked_to_keep))
    return [{"key": key, "legend": legend, "blocks": blocks[key]} for key, legend in GROUPS if key in blocks]


def unasked(filled: Filled, texts: Mapping[str, str]) -> dict[str, str]:
    """What was typed for questions that are not asked just now: it stays in the form, unseen."""
    return {
        key: text
        for key, text in texts.items()
        if text and not key.startswith(("how.", "was.")) and _question_of(key) not in filled.asked
    }


def _question_of(field: str) -> str:
    """The question that a field of rows belongs to; the field's own name else."""
    parts = field.split(".")
    return ".".join(parts[1:3]) if parts[0] in {"rows", "size"} else field


def _block(field: Field, texts: Mapping[str, str], asked_to_keep: bool) -> dict[str, Any]:
    question = field.question
    key = question.key
    error = field.error if asked_to_keep or not field.needed else None
    label, hint = _words(field)
    block: dict[str, Any] = {
        "key": key,
        "label": label,
        "kind": "text",
        "value": texts.get(key, ""),
        "options": [],
        "hint": hint,
        "error": None if error is None else told(error),
        "echo": [line for line in field.echo.splitlines() if line],
        "findings": [told(finding) for finding in field.findings],
        "proposal": "" if field.typed or key == "rate" else question.proposal,
        "required": question.required,
        "wanted": question.required and field.error is not None and field.error.code == NEEDED,
        "how": "",
    }
    if key.startswith("layer."):
        _layer(block, texts, field)
    elif key.startswith("readings."):
        block |= {"kind": "readings", "how": texts.get(f"how.{key}") or LINE}
        block["readings"] = readings_data(texts, key) if block["how"] == ROWS else None
    elif key == "notes":
        block["kind"] = "lines"
    elif key in CHOSEN or key.endswith(".construction") or key in YES_OR_NO:
        block |= {"kind": "pick", "options": list(_options(field))}
    elif question.choices and len(question.choices) <= LISTED:
        block |= {"kind": "listed", "options": [[choice, choice] for choice in question.choices]}
    return block


def _layer(block: dict[str, Any], texts: Mapping[str, str], field: Field) -> None:
    key, role = field.question.key, proposed_role(field.question.ask)
    how = texts.get(f"how.{key}") or LINE
    block |= {"kind": "layer", "how": how}
    block["layer"] = layer_data(texts, key, role) if how == ROWS else None
    block["size"] = size_data(texts, key, role) if how == SIZE else None


def _options(field: Field) -> Iterator[list[str]]:
    question = field.question
    if question.key == "rate":
        yield from (["", "no"], ["yes", "yes"])
    elif question.key == "complete":
        yield from (["", "not noted"], ["yes", "yes"], ["no", "no"])
    else:
        if not question.key.startswith("units."):
            yield ["", "choose" if question.required else "not noted"]
        yield from ([choice, choice] for choice in question.choices)


def _words(field: Field) -> tuple[str, str]:
    """Label and hint of a question as they stand on a page."""
    question = field.question
    key, ask = question.key, question.ask
    head = key.partition(".")[0]
    if head == "layer":
        return ask.partition(" [")[0], LAYER_HINT.format(role=proposed_role(ask))
    if head == "readings":
        return ask, READINGS_HINT if key == "readings.1" else ""
    if head == "cord" and not key.endswith((".material", ".construction")):
        return ask, CORD_HINT
    if head == "rating":
        label, _, anchors = ask.partition(" (")
        beside = "better, same, worse; " if "better" in question.help else ""
        return label, f"{anchors.removesuffix(')')}. {beside}{SCORED}"
    return ask, HINTS.get(head, question.help)
