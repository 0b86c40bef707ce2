"""The wanted diameters alone, before any layer is named: what a target looks like while it is typed."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy.orm import Session

from plaitlog.models.whip import Cord
from plaitlog.service.schemas.plan_spec import spec_from
from plaitlog.service.usecases.planning.asking import TapeUnit, asked_of
from plaitlog.service.usecases.workshop import whip

ANY: Final = Cord(name="any cord", construction="cored", material="nylon", diameter_mm=4.0)
"""Stands in for layers that are not named yet; no target depends on it."""
TARGET_KEYS: Final = (
    "label",
    "units",
    "pattern",
    "datum",
    "thong_length",
    "thong_length_mm",
    "handle_length",
    "handle_length_mm",
    "handle_diameter",
    "handle_diameter_mm",
    "transition",
    "transition_mm",
    "foundation",
    "target",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class WantedProfile:
    """Diameters at stations, mm from the handle end; nothing is dropped before ``held_to_mm`` nor behind
    ``held_from_mm``. unit : of the marks on the tape."""

    thong_mm: float
    at_mm: tuple[float, ...]
    diameter_mm: tuple[float, ...]
    held_to_mm: float
    held_from_mm: float
    unit: TapeUnit


def wanted_profile(session: Session, data: Mapping[str, Any]) -> WantedProfile:
    """What a plan is to look like, whatever its layers.

    Raises
    ------
    RecordError, NotFoundError, StackNotKnownError
        Where it does not say that, as ``asked_of`` does.
    """
    about = {key: data[key] for key in TARGET_KEYS if key in data}
    spec = spec_from({**about, "layers": [{"role": "overlay", "cord": ANY.name}]})
    order = asked_of(spec, {ANY.name: ANY}, lambda label: whip(session, label))
    goal, rules = order.asked.target, order.asked.rules
    length = order.asked.length_mm
    at = [float(one) for one in rules.at_nodes_mm(len(goal.diameter_mm))]
    sizes = [float(one) for one in goal.diameter_mm]
    if at[-1] < length:
        at, sizes = [*at, length], [*sizes, sizes[-1]]
    return WantedProfile(
        thong_mm=length,
        at_mm=tuple(at),
        diameter_mm=tuple(sizes),
        held_to_mm=goal.held_to_mm,
        held_from_mm=min(goal.held_from_mm, length),
        unit=order.unit,
    )
