"""What a record states of a whip, beside its layers and readings."""

from dataclasses import dataclass

from plaitlog.models.whip import CordUse, Foundation, KnownNone, RatingSession, Weight
from plaitlog.service.schemas.whips import FoundationShape, WhipRecord
from plaitlog.service.usecases.from_measurements import balance_from, turn_lengths_from, weights_from
from plaitlog.service.usecases.from_records import Refusals, Stated, known_values, sizes, stated_keys, words
from plaitlog.service.usecases.kept_plans import kept_plan_from


@dataclass(frozen=True, slots=True)
class WhipStated:
    """What a record states of a whip; layers are read apart, since they need the whip's length."""

    own: Stated
    weight: Weight | None = None
    weights: tuple[Weight, ...] | None = None
    rating: RatingSession | None = None
    weight_with: tuple[str, ...] | KnownNone | None = None


def whip_from(record: WhipRecord, refusals: Refusals) -> WhipStated:
    """What a record states of a whip beside its layers and readings."""
    stated = sizes(record, refusals)
    values = dict(stated.fields)
    if values.get("handle_diameter_mm") == 0.0:
        del values["handle_diameter_mm"]
        if values.setdefault("handle_length_mm", 0.0) > 0.0:
            refusals.add(
                "handle_diameter_mm", "disagree", "there is no handle, but it has a length", "correct one"
            )
    plain = stated_keys(
        record,
        (
            "maker", "type", "status", "made_on", "build_number", "datum", "quoted_length",
            "layers_complete", "hours", "fall", "cracker", "notes",
        ),
    )  # fmt: skip
    if record.foundation is not None:
        plain["foundation"] = _foundation(record.foundation, refusals)
    if record.finish is not None:
        plain["finish"] = words(record.finish)
    if record.turn_lengths is not None:
        plain["turn_lengths"] = turn_lengths_from(record.turn_lengths, refusals)
    if record.balance is not None:
        plain["balance"] = balance_from(record.balance, refusals)
    if record.plan is not None:
        plain["plan"] = kept_plan_from(record.plan, refusals)
    if record.cord_used is not None:
        plain["cord_used"] = tuple(CordUse(use.cord, use.metres) for use in record.cord_used)
    typed = dict(stated.typed)
    weight_g, weight_text = values.pop("weight_g", None), typed.pop("weight", None)
    weight_with = None if record.weight_with is None else words(record.weight_with)
    weight = None
    if weight_g is not None:
        weight = Weight(weight_g, weight_with, None, {"weight": weight_text} if weight_text else {})
    rating = None if record.ratings is None else RatingSession(scores=known_values(record.ratings))
    return WhipStated(
        own=Stated({**plain, **values}, typed, stated.settled),
        weight=weight,
        weights=None if record.weights is None else weights_from(record.weights, refusals),
        rating=rating,
        weight_with=weight_with,
    )


def _foundation(shape: FoundationShape | str, refusals: Refusals) -> Foundation | str | None:
    if isinstance(shape, str):
        return shape
    stated = sizes(shape, refusals, "foundation")
    if "diameter_mm" not in stated.fields:
        refusals.add("foundation, diameter_mm", "missing", "is missing", 'give it, or "foundation":null')
        return None
    return Foundation(**stated.fields, material=shape.material, typed=stated.typed)
