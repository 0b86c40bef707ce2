"""Plan again what is still ahead of a whip on the bench, by what was measured of it so far."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from sqlalchemy.orm import Session

from plaitlog.models.calibration.prediction import Observation
from plaitlog.models.errors import Finding, PlanError
from plaitlog.models.planning.asked import Asked, AskedLayer
from plaitlog.models.planning.optimum import untold
from plaitlog.models.whip import Layer, Reading, Whip
from plaitlog.service.usecases.changes.edited_records import Edited
from plaitlog.service.usecases.changes.editing_whips import edit_whip, read_whip
from plaitlog.service.usecases.observing import observe
from plaitlog.service.usecases.places import placed
from plaitlog.service.usecases.planning.misses import OFF_MM
from plaitlog.service.usecases.planning.plan import Plan, finish, make_plan
from plaitlog.service.usecases.planning.plan_json import planned_layer
from plaitlog.service.usecases.planning.planning import MM, Bench, Told, bench_of, told
from plaitlog.service.usecases.planning.starting import planned_record
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.to_layer_records import layer_record
from plaitlog.service.usecases.to_records import whip_record
from plaitlog.service.usecases.workshop import whip_with_version

BEYOND_MM: Final = 1.0
"""A place so far beyond the point is one at the point, rounded."""


@dataclass(frozen=True, slots=True)
class Standing:
    """How far a whip is: all layers before ``slot`` (from 1) are done, that one is plaited to ``to_mm``."""

    slot: int
    to_mm: float


@dataclass(frozen=True, slots=True)
class Replanned:
    """What lies ahead, planned again. spec : what is wanted. version : of the whip's record it rests on.
    readings : of the whip, on which it rests too."""

    told: Told
    spec: Mapping[str, Any]
    version: int
    standing: Standing
    readings: tuple[Observation, ...]

    @property
    def plan(self) -> Plan:
        return self.told.plan

    @property
    def point(self) -> str:
        """In words whether the wanted diameter at the point can still be reached."""
        return self.point_in(MM)

    def point_in(self, shown: ShownUnits) -> str:
        """The same in the units of a viewer."""
        return _point_in_words(self.plan, shown)


@dataclass(frozen=True, slots=True)
class Ahead:
    """What is to be planned again. made : the whip as it is recorded. asked : the question with what is done
    settled. The rest as in ``Replanned``."""

    bench: Bench
    made: Whip
    asked: Asked
    spec: Mapping[str, Any]
    version: int
    standing: Standing
    readings: tuple[Observation, ...]

    @property
    def whip(self) -> Whip:
        """Everything but the layers."""
        planned = self.bench.order.whip
        return replace(planned, label=self.made.label, maker=self.made.maker or planned.maker)


def replan(
    session: Session,
    label: str,
    data: Mapping[str, Any] | None = None,
    standing: Standing | None = None,
    *,
    most_work: float | None = None,
) -> Replanned:
    """Plan again a recorded whip whose layers are those of a plan.

    ``data``: what that plan was asked for; None: what is kept with the whip.
    Without ``standing`` the bench stands where the last reading was taken: on the outermost layer that was
    measured, at its furthest station. ``most_work``: as in ``Rules``.

    Raises
    ------
    NotFoundError
        Where no such whip is recorded.
    PlanError
        Where it is not told how far the whip is, its layers are not those of the plan, nothing is ahead, or
        no plan is kept with it.
    """
    return plan_ahead(ahead(session, label, data, standing), most_work=most_work)


def ahead(
    session: Session, label: str, data: Mapping[str, Any] | None = None, standing: Standing | None = None
) -> Ahead:
    """The question that is asked again, nothing of it worked out; as ``replan``."""
    version, recorded = whip_with_version(session, label)
    made = placed(recorded)
    spec = _spec_kept(made) if data is None else data
    bench = bench_of(session, spec)
    where = standing or _standing(made)
    asked = _ahead(bench.order.asked, made, where)
    seen, _ = observe(made, bench.cords)
    return Ahead(bench, made, asked, spec, version, where, tuple(seen))


def plan_ahead(
    found: Ahead, *, most_work: float | None = None, progress: Callable[[float], None] = untold
) -> Replanned:
    """The best plan for what lies ahead. Raises PlanError where the rules allow none."""
    asked, bench = found.asked, found.bench
    if most_work is not None:
        asked = replace(asked, rules=replace(asked.rules, most_work=most_work))
    plan = make_plan(
        bench.in_force,
        found.whip,
        asked,
        bench.cords,
        readings=found.readings,
        stock_m=bench.stock_m,
        pace=bench.pace,
        progress=progress,
    )
    return Replanned(told(bench, plan), found.spec, found.version, found.standing, found.readings)


def laid_ahead(found: Ahead, layers: Sequence[Any]) -> Replanned:
    """The same with layers that were planned before, as ``records_ahead`` gave them."""
    record = {**whip_record(replace(found.whip, layers=())), "layers": list(layers)}
    whip = replace(placed(read_whip(record)[0]), layers_complete=True)
    bench = found.bench
    plan = finish(
        bench.in_force,
        whip,
        found.asked,
        bench.cords,
        readings=found.readings,
        stock_m=bench.stock_m,
        pace=bench.pace,
    )
    return Replanned(told(bench, plan), found.spec, found.version, found.standing, found.readings)


def records_ahead(again: Replanned) -> list[Any]:
    """Its layers as they stand in the record of a whip."""
    return [
        layer_record(layer) if isinstance(question, Layer) else planned_record(planned_layer(layer))
        for question, layer in zip(again.plan.asked.layers, again.plan.whip.layers, strict=True)
    ]


def record_replanned(session: Session, again: Replanned, *, actor: str | None = None) -> Edited:
    """Record the layers that were planned again; the plan kept with the whip stays the one it was begun by.

    Raises
    ------
    StaleEditError
        Where the record was changed since.
    """
    changes = {"layers": records_ahead(again)}
    return edit_whip(session, again.plan.whip.label, changes, version=again.version, actor=actor)


def _spec_kept(made: Whip) -> Mapping[str, Any]:
    spec = None if made.plan is None else made.plan.get("spec")
    if spec is None:
        text = f"no plan is kept with {made.label} that says what was wanted"
        raise PlanError(Finding("no-plan-kept", text, "name the file with what was wanted, or its plan.json"))
    found: Mapping[str, Any] = spec
    return found


def _standing(made: Whip) -> Standing:
    measured = [one for one in made.readings if one.at_mm is not None]
    if not measured:
        text = f"{made.label} has no reading that says how far it is plaited"
        raise PlanError(Finding("standing-unknown", text, "say the layer and how far it is plaited"))

    def layer(reading: Reading) -> int:
        return reading.after_layer or len(made.layers)

    slot = max(map(layer, measured))
    return Standing(slot, max(one.at_mm or 0.0 for one in measured if layer(one) == slot))


def _ahead(asked: Asked, made: Whip, where: Standing) -> Asked:
    """The question with what is done settled, as it is recorded."""
    if [x.role for x in asked.layers] != [x.role for x in made.layers]:
        text = f"{made.label} is recorded with other layers than the plan has"
        remedy = "plan with the layers of the record: " + ", ".join(x.role for x in made.layers)
        raise PlanError(Finding("other-layers", text, remedy))
    if not 1 <= where.slot <= len(made.layers):
        raise PlanError(
            Finding("no-such-layer", f"there is no layer {where.slot}", f"1 to {len(made.layers)}")
        )
    if not 0 <= where.to_mm <= asked.length_mm + BEYOND_MM:
        text = f"{where.to_mm:g} mm lies not on the thong of {asked.length_mm:g} mm"
        raise PlanError(Finding("beyond-thong", text, "say how far that layer is plaited"))
    layers: list[AskedLayer | Layer] = []
    for slot, (question, layer) in enumerate(zip(asked.layers, made.layers, strict=True), start=1):
        if slot < where.slot or isinstance(question, Layer):
            layers.append(layer if slot <= where.slot else question)
        elif slot == where.slot:
            layers.append(_begun(question, layer, where.to_mm))
        else:
            layers.append(question)
    if not any(isinstance(layer, AskedLayer) for layer in layers):
        raise PlanError(
            Finding("nothing-ahead", "nothing of it is still to be plaited", "record its readings")
        )
    return replace(asked, layers=tuple(layers))


def _begun(question: AskedLayer, layer: Layer, to_mm: float) -> AskedLayer | Layer:
    """A layer as far as it is plaited; one that has ended before is settled."""
    steps = () if layer.schedule is None else layer.schedule.steps
    done = [step for step in steps if step.place.high_mm <= to_mm]
    if not done:
        return question
    running = round(done[-1].total.mid)
    if running == 0:
        return layer
    if [one.cord for one in layer.cords] != [one.cord.name for one in question.cords]:
        named = " and ".join(one.cord for one in layer.cords)
        text = f"the {layer.role} is recorded in {named}, which the plan does not have in it"
        raise PlanError(Finding("other-cords", text, "plan with the cords of the record, in their order"))
    return replace(question, start=running, begun=layer, begun_to_mm=to_mm)


def _point_in_words(plan: Plan, shown: ShownUnits) -> str:
    last = plan.stations[-1]
    if abs(last.diameter_mm - last.target_mm) <= OFF_MM:
        word = "can still be reached"
    elif last.low_90_mm <= last.target_mm <= last.high_90_mm:
        word = "is not likely to be reached"
    else:
        word = "is out of reach"
    expected, wanted = shown.diameter(last.diameter_mm), shown.diameter(last.target_mm)
    return f"the point is expected at {expected}; {wanted} {word}"
