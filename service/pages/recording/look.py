"""What stands beside the recording form: the small drawing, what was found, the whip in words."""

from typing import Any

from plaitlog.service.pages.refusals import told
from plaitlog.service.reports.whip_sketch import sketch_svg
from plaitlog.service.usecases.predicting import CAUTION
from plaitlog.service.usecases.recording.dialogue import Bench
from plaitlog.service.usecases.recording.form import Filled, is_letter
from plaitlog.service.usecases.recording.looking import Looked, look_at
from plaitlog.service.usecases.reviewing import ReviewLine
from plaitlog.service.usecases.shown_units import ShownUnits


def look(filled: Filled, bench: Bench, shown: ShownUnits) -> dict[str, Any]:
    """All of it as data of the page."""
    looked = look_at(filled, bench, shown)
    return {
        "sketch": "" if looked.sketch is None else sketch_svg(looked.sketch),
        "strips": _strips(looked),
        "refused": None if looked.refused is None else told(looked.refused),
        "findings": [told(finding) for finding in looked.findings if not _is_waiting(finding.code, filled)],
        "beside": [_beside(line, shown) for line in looked.beside],
        "rests_on": "" if bench.in_force is None else bench.in_force.rests_on,
        "caution": CAUTION,
        "words": list(looked.words),
        "use": list(looked.use),
        "to_mend": [field.question.ask for field in filled.wrong if not field.needed],
        "to_name": [field.question.ask for field in filled.fields if field.needed],
    }


def _is_waiting(code: str, filled: Filled) -> bool:
    """Whether a remark only says that a cord is not named, which its own field says already."""
    return code == "unknown-cord" and any(
        field.needed and is_letter(field.question.key) for field in filled.fields
    )


def _strips(looked: Looked) -> list[dict[str, Any]]:
    """The same as the drawing, as text: each layer with its counts and where they begin."""
    if looked.sketch is None:
        return []
    shown = looked.sketch.shown
    return [
        {
            "layer": f"{layer.place} {layer.role}",
            "made_of": layer.made_of,
            "counts": "; ".join(f"{step.count} from {shown.length(step.mid_mm)}" for step in layer.steps),
        }
        for layer in looked.sketch.layers
    ]


def _beside(line: ReviewLine, shown: ShownUnits) -> dict[str, Any]:
    at, measured, on, expected, interval, remark = line.cells(shown)
    return {
        "at": at,
        "measured": measured,
        "on": on,
        "expected": expected,
        "interval": interval,
        "remark": remark,
        "far": line.far,
    }
