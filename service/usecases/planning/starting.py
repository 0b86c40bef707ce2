"""From a plan to a whip on the bench: the record then holds the planned layers, to be measured against."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

from sqlalchemy.orm import Session

from plaitlog.models.errors import AlreadyThereError, Finding, InputError, NotFoundError
from plaitlog.models.whip import ON_THE_BENCH
from plaitlog.service.usecases.changes.editing_whips import edit_whip
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.planning.planning import bench_of
from plaitlog.service.usecases.to_records import whip_record
from plaitlog.service.usecases.workshop import whip

LAYER_KEYS: Final = (
    "role",
    "strands",
    "fate",
    "pattern",
    "diameter_mm",
    "thickness_mm",
    "from_mm",
    "to_mm",
    "what",
)


def start_planned(session: Session, label: str, *, actor: str | None = None) -> None:
    """Put a recorded whip that is only planned on the bench.

    Raises
    ------
    NotFoundError
        Where no such whip is recorded.
    InputError
        Where it is past that.
    """
    found = whip(session, label)
    if found.status not in (None, "planned"):
        raise InputError(Finding("started-already", f"{label} is {found.status} already", "see show"))
    edit_whip(session, label, {"status": ON_THE_BENCH}, actor=actor)


def start_from_plan(
    session: Session, label: str, plan: Mapping[str, Any], *, actor: str | None = None
) -> None:
    """Record the whip of a plan (``plan.json``) under a label, on the bench, with the layers of the plan.

    Raises
    ------
    AlreadyThereError
        Where a whip of that label is recorded.
    InputError, NotFoundError
        Where it is no plan, or what it names is not in the workshop.
    """
    try:
        whip(session, label)
    except NotFoundError:
        pass
    else:
        text = f"{label} is recorded already"
        raise AlreadyThereError(Finding("there-already", text, "give another label"))
    if not isinstance(plan.get("spec"), dict) or not isinstance(plan.get("layers"), list):
        text = "it is no plan: what was asked for, or the layers, are missing"
        raise InputError(Finding("no-plan", text, "give the plan.json that plan writes"))
    made = bench_of(session, plan["spec"]).order.whip
    record = whip_record(replace(made, label=label, status=ON_THE_BENCH, layers=()))
    record["layers"] = [_layer_record(layer) for layer in plan["layers"]]
    take_records(session, [record], actor=actor)


def _layer_record(layer: Mapping[str, Any]) -> dict[str, Any]:
    """A layer of a plan as it stands in a record."""
    found = {key: layer[key] for key in LAYER_KEYS if layer.get(key) is not None}
    if layer.get("cord"):
        names = str(layer["cord"]).split(" + ")
        found |= {"cord": names[0]} if len(names) == 1 else {"cords": [{"cord": name} for name in names]}
    return found
