"""A whip from a form into the workshop: the same records as at the prompt, stored like lines of an import."""

from collections.abc import Mapping
from dataclasses import dataclass

from sqlalchemy.orm import Session

from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.listing import latest_change
from plaitlog.service.usecases.recording.checks import look_over
from plaitlog.service.usecases.recording.dialogue import Bench, Mode
from plaitlog.service.usecases.recording.form import fill
from plaitlog.service.usecases.recording.record import records, typed_units
from plaitlog.service.usecases.shown_units import ShownUnits


@dataclass(frozen=True, slots=True)
class KeptWhip:
    """The label it is found by, the number of the change, the units that were asked for beside it."""

    label: str
    change: int | None
    units: ShownUnits | None


def keep_whip(session: Session, typed: Mapping[str, str], mode: Mode, bench: Bench) -> KeptWhip | None:
    """Record what a form says. None, with nothing written, where a field of it cannot be taken.

    Raises
    ------
    InputError
        Where every field by itself is sound and the whole cannot be true.
    """
    filled = fill(typed, mode, bench)
    if filled.wrong:
        return None
    look_over(filled.draft, bench)
    take_records(session, records(filled.draft, bench), action="record")
    return KeptWhip(filled.draft.text("label") or "", latest_change(session), typed_units(filled.draft))
