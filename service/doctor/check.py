"""What the doctor says: one line for each thing looked at."""

from dataclasses import dataclass
from typing import Literal

State = Literal["ok", "note", "trouble"]


@dataclass(frozen=True, slots=True)
class Check:
    """One thing looked at. A note is worth knowing, trouble should be mended; ``remedy`` says how.

    ``name`` is stable for programs (``free-space``).
    """

    name: str
    state: State
    text: str
    remedy: str = ""
