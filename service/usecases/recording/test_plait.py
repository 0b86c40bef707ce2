"""A test plait that was advised, as the typed answers of a new record: its readings are still to be taken."""

from plaitlog.service.usecases.cords.short_plaits import ShortPlait
from plaitlog.service.usecases.recording.proposals import TEST_PLAIT


def plait_texts(plait: ShortPlait, maker: str | None) -> dict[str, str]:
    """What to type to record it, all but the readings."""
    (layer,) = plait.stack.layers
    return {
        "label": plait.label,
        "type": TEST_PLAIT,
        "status": "finished",
        "maker": maker or "",
        "thong_length": f"{plait.length_mm:g} mm",
        "foundation": f"{plait.foundation_mm:g} mm",
        "layer.1": f"overlay {plait.strands}A {layer.pattern}; p",
        "cord.A": plait.cord.name,
        "complete": "yes",
    }
