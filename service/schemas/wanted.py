"""What is sent to the server beside records: edits, fits and questions."""

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from plaitlog.models.whip import Condition

QUESTIONS_AT_ONCE = 1_000


class Wanted(BaseModel):
    """Nothing is guessed: unknown keys and numbers in quotes are refused by name."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)


class EditIn(Wanted):
    """An edit of one record."""

    version: Annotated[int, Field(ge=0, le=2**31 - 1)] = Field(
        description="The version that was read; an older one than stored is refused with both values."
    )
    changes: dict[str, Any] = Field(
        description="Keys as in the record: one that is given replaces, null erases, others stay."
    )


class FitIn(Wanted):
    """How a fit is to be made."""

    evidence: bool = Field(
        True,
        description="Whether to hold out whips, cords and makers in turn; it takes most of the time.",
    )


class QuestionsIn(Wanted):
    """Stacks whose finished diameters are asked for."""

    interval: Literal["reading", "true"] = Field(
        "reading", description="Intervals for the next caliper reading, or (true) for the diameter itself."
    )
    questions: Annotated[list[Any], Field(max_length=QUESTIONS_AT_ONCE)] = Field(
        description=f"The questions, at most {QUESTIONS_AT_ONCE}, each a `QueryIn`; "
        "one that cannot be answered has an error in the place of its answer."
    )


class HandlingIn(Wanted):
    """Which taper parameters go with good ratings is asked."""

    qualities: Annotated[
        list[Annotated[str, Field(min_length=1, max_length=40)]], Field(min_length=1, max_length=8)
    ] = Field(default=["overall"], description="Qualities that were rated, such as volley or roll-out.")
    type: Annotated[str, Field(min_length=1, max_length=200)] | None = Field(
        None, description="Only whips of this type; null: all."
    )
    everything: bool = Field(
        False, description="Every parameter instead of the six headline ones; it costs in false discoveries."
    )
    like: Annotated[str, Field(min_length=1, max_length=200)] | None = Field(
        None, description="Label of a whip for which the rated ones most like it are wanted."
    )
    candidates: Annotated[list[Annotated[str, Field(min_length=1, max_length=200)]], Field(max_length=50)] = (
        Field(
            default_factory=list,
            description="Labels of whips, planned ones too: which of them would teach most is wanted.",
        )
    )


class AdviceIn(Wanted):
    """What advice on test plaits is asked for; at most one of `for_mm`, `stacks` and `like`."""

    cord: Annotated[str, Field(min_length=1, max_length=200)] = Field(
        description="Name of the cord to be learnt."
    )
    for_mm: Annotated[float, Field(gt=0, le=1_000)] | None = Field(
        None, description="Stacks of the cord alone that come out near this diameter matter, mm."
    )
    stacks: Annotated[list[Annotated[str, Field(max_length=500)]], Field(max_length=50)] = Field(
        default_factory=list,
        description="These stacks matter, layers inside out: `core 6A; belly 12A; overlay 16B`.",
    )
    letters: dict[str, str] = Field(
        default_factory=dict, description="The cord that each letter in `stacks` names."
    )
    like: Annotated[str, Field(min_length=1, max_length=200)] | None = Field(
        None, description="The stacks of this whip matter, by its label."
    )
    swap: dict[str, str] = Field(
        default_factory=dict, description="With `like`: cords of the whip, each with the one in its place."
    )


class LikeIn(Wanted):
    """A recorded whip that is asked for in other cords."""

    like: Annotated[str, Field(min_length=1, max_length=200)] = Field(description="Its label.")
    swap: dict[str, str] = Field(
        default_factory=dict, description="Cords of the whip, each with the one in its place."
    )
    maker: Annotated[str, Field(min_length=1, max_length=200)] | None = Field(
        None, description="Whose hands; null: those that made it."
    )
    condition: Condition | None = Field(None, description="Condition that is asked for; null: rolled.")
    interval: Literal["reading", "true"] = Field(
        "reading", description="Intervals for the next caliper reading, or (true) for the diameter itself."
    )


class ReplanIn(Wanted):
    """A whip on the bench of which what lies ahead is to be planned again.

    `layer` and `to_mm` (or `to`) say together how far it is plaited; null: as far as the last reading on the
    outermost layer that was measured.
    """

    whip: Annotated[str, Field(min_length=1, max_length=200)] = Field(description="Its label.")
    spec: dict[str, Any] | None = Field(
        None, description="What is wanted, a `PlanSpec`; null: what the plan kept with the whip says."
    )
    layer: Annotated[int, Field(ge=1, le=40)] | None = Field(
        None, description="The layer on the bench, from 1, innermost; those before it are done."
    )
    to_mm: Annotated[float, Field(ge=0, le=15_000)] | None = Field(
        None, description="How far that layer is plaited, mm from the handle end of the thong."
    )
    to: Annotated[str, Field(min_length=1, max_length=200)] | None = Field(
        None, description="The same as typed, with its unit: `40 in`."
    )
    record: bool = Field(False, description="Whether the new layers are recorded with the whip.")


class StartIn(Wanted):
    """A whip that is to be put on the bench."""

    whip: Annotated[str, Field(min_length=1, max_length=200)] = Field(
        description="Its label; with a plan a new one."
    )
    plan: dict[str, Any] | None = Field(
        None,
        description="The plan it is made from: `layers` as in the answer of a plan, and `spec`, what was "
        "asked for (`PlanSpec`); null: the whip is recorded, and only planned so far.",
    )


class AddIn(Wanted):
    """A whip that is to be added to the fit in force."""

    whip: Annotated[str, Field(min_length=1, max_length=200)] = Field(description="Its label.")
