"""From a plan to a whip on the bench: the record holds the planned layers, and keeps the plan beside them."""

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from typing import Any, Final

from sqlalchemy.orm import Session

from plaitlog.models.errors import AlreadyThereError, Finding, InputError, NotFoundError, StackNotKnownError
from plaitlog.models.planning.asked import AskedLayer
from plaitlog.models.whip import ON_THE_BENCH, Layer, Whip
from plaitlog.service.usecases.changes.editing_whips import edit_whip, read_whip
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.places import placed
from plaitlog.service.usecases.planning.keeping import kept_document
from plaitlog.service.usecases.planning.plan import finish
from plaitlog.service.usecases.planning.planning import Bench, bench_of
from plaitlog.service.usecases.predicting import fit_in_force
from plaitlog.service.usecases.to_layer_records import layer_record
from plaitlog.service.usecases.to_records import whip_record
from plaitlog.service.usecases.workshop import cords_by_name, whip

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


def start_planned(session: Session, label: str, *, actor: str | None = None) -> bool:
    """Put a recorded whip that is only planned on the bench, and keep what is expected of it.

    Returns whether anything could be kept: False where too little is known of its layers.

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
    changes: dict[str, Any] = {"status": ON_THE_BENCH}
    if found.plan is None:
        # What is planned is all that there is to be.
        whole = placed(replace(found, layers_complete=True))
        with suppress(StackNotKnownError):
            changes["plan"] = kept_document(fit_in_force(session), whole, cords_by_name(session))
    edit_whip(session, label, changes, actor=actor)
    return found.plan is not None or "plan" in changes


def start_from_plan(
    session: Session, label: str, plan: Mapping[str, Any], *, actor: str | None = None
) -> None:
    """Record the whip of a plan (``plan.json``) under a label, on the bench, with the layers of the plan.

    What is expected of it is worked out again by the fit in force, and kept with it.

    Raises
    ------
    AlreadyThereError
        Where a whip of that label is recorded.
    InputError, RecordError, NotFoundError
        Where it is no plan, or what it names is not in the workshop.
    """
    try:
        whip(session, label)
    except NotFoundError:
        pass
    else:
        text = f"{label} is recorded already"
        raise AlreadyThereError(Finding("there-already", text, "give another label"))
    bench, record = record_of(session, label, plan)
    laid, _ = read_whip(record)
    expected = finish(bench.in_force, placed(laid), bench.order.asked, bench.cords, pace=bench.pace)
    record["plan"] = kept_document(
        bench.in_force, placed(laid), bench.cords, plan=expected, spec=plan["spec"]
    )
    take_records(session, [record], actor=actor)


def planned_whip(session: Session, label: str, plan: Mapping[str, Any]) -> Whip:
    """The whip of a plan with its layers, as if it were recorded under a label; nothing is written.

    Raises InputError, RecordError or NotFoundError as ``start_from_plan`` does.
    """
    return placed(read_whip(record_of(session, label, plan)[1])[0])


def record_of(session: Session, label: str, plan: Mapping[str, Any]) -> tuple[Bench, dict[str, Any]]:
    """The record of a plan's whip under a label, on the bench, with what its question rests on.

    Raises InputError, RecordError or NotFoundError as ``start_from_plan`` does.
    """
    layers = plan.get("layers")
    if not isinstance(plan.get("spec"), dict) or not isinstance(layers, list):
        text = "it is no plan: what was asked for, or the layers, are missing"
        raise InputError(Finding("no-plan", text, "give the plan.json that plan writes"))
    bench = bench_of(session, plan["spec"])
    roles = [layer.get("role") if isinstance(layer, Mapping) else None for layer in layers]
    if roles != [layer.role for layer in bench.order.asked.layers]:
        text = "its layers are not those that were asked for in it"
        raise InputError(Finding("other-layers", text, "give the plan.json as plan writes it"))
    made = replace(bench.order.whip, label=label, status=ON_THE_BENCH, layers=(), layers_complete=True)
    return bench, {**whip_record(made), "layers": _layer_records(bench.order.asked.layers, layers)}


def is_started(session: Session, label: str, plan: Mapping[str, Any] | None) -> bool:
    """Whether a whip is on the bench already, from the same plan."""
    try:
        found = whip(session, label)
    except NotFoundError:
        return False
    kept = found.plan or {}
    return found.status == ON_THE_BENCH and (plan is None or kept.get("spec") == plan.get("spec"))


def _layer_records(asked: Sequence[AskedLayer | Layer], planned: Sequence[Any]) -> list[Any]:
    """The layers of a plan as they stand in a record; those that were given stay as they were given."""
    return [
        layer_record(question) if isinstance(question, Layer) else planned_record(layer)
        for question, layer in zip(asked, planned, strict=True)
    ]


def planned_record(layer: Any) -> Any:
    """A layer of plan.json as it stands in a record; what is none is refused with the record."""
    if not isinstance(layer, Mapping):
        return layer
    found = {key: layer[key] for key in LAYER_KEYS if layer.get(key) is not None}
    match layer.get("by_cord"):
        case [[_, {} as begins], *_] as steps:
            cords = [{"cord": name, "share": count or 1} for name, count in begins.items()]
            return {**found, "strands": steps, "cords": cords}
    if layer.get("cord"):
        found["cord"] = layer["cord"]
    return found
