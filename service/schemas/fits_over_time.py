"""What the server answers about fits over time, and about what to plait next."""

from typing import Any

from pydantic import Field

from plaitlog.service.schemas.answers import Number, Wire


class CordComparedOut(Wire):
    """One cord by two fits."""

    cord: str = Field(description="Name of the cord.")
    stack: str = Field(description="The stack of it that is told, in words.")
    before_mm: float = Field(description="Its diameter by the earlier fit, mm.")
    after_mm: float = Field(description="Its diameter by the later fit, mm.")
    half_90_before_mm: float = Field(description="Half the 90 % interval by the earlier fit, mm.")
    half_90_after_mm: float = Field(description="Half the 90 % interval by the later fit, mm.")
    readings_before: int = Field(description="Number of readings on it in the earlier fit.")
    readings_after: int = Field(description="Number of readings on it in the later fit.")


class ComparisonOut(Wire):
    """What changed from one fit to another; pairs hold what was and what is."""

    before: Number = Field(description="Number of the fit that is compared with.")
    after: Number = Field(description="Number of the fit that is told.")
    readings: list[int] = Field(description="Number of readings of both.")
    whips: list[int] = Field(description="Number of whips of both.")
    new_whips: list[str] = Field(description="Labels of whips that only the later knows.")
    gone_whips: list[str] = Field(description="Labels of recorded whips that only the earlier knows.")
    cords: list[CordComparedOut] = Field(description="Every cord, the largest change first.")
    parameters: dict[str, list[Any]] = Field(description="Parameters that differ, by name.")
    code_versions: list[str] | None = Field(description="Versions of the program; null: the same.")
    spreads: dict[str, list[float]] = Field(
        description="Standard deviations, as natural logarithms, that changed by more than a tenth."
    )
    words: list[str] = Field(description="The same in sentences.")


class WhipOffOut(Wire):
    """One whip against what was expected of it."""

    whip: str = Field(description="Its label.")
    readings: int = Field(description="Number of its readings.")
    off_log: float = Field(description="Mean natural logarithm of diameter over what was expected.")


class CheckedOut(Wire):
    """Some whips against a fit without them; numbers are null where they are too few."""

    whips: int = Field(description="Number of whips.")
    drifts: bool = Field(description="Whether chance shows such a shift in fewer than 1 of 20 checks.")
    words: str = Field(description="The same in a sentence.")
    shift_log: float | None = Field(description="The common shift, as a natural logarithm.")
    low_95_log: float | None = Field(description="Lower end of its 95 % interval.")
    high_95_log: float | None = Field(description="Upper end of its 95 % interval.")
    shift_mm: float | None = Field(description="The shift at `at_mm`, mm.")
    at_mm: float | None = Field(description="Geometric mean of the readings, mm.")
    p_value: float | None = Field(description="How often chance alone shows as much, 0 to 1.")
    each: list[WhipOffOut] = Field(description="Every whip by itself.")


class DriftOut(Wire):
    """Whether the latest whips are off in one direction."""

    fit: Number = Field(description="Number of the fit in force.")
    since: CheckedOut = Field(description="Up to ten latest whips that the fit does not know.")
    latest: CheckedOut = Field(description="The last ten that it knows, against a fit without them.")


class NarrowedOut(Wire):
    """What is left of an interval once something more is known."""

    half_90_mm: float = Field(description="Half the 90 % interval that is left, mm, on the average.")
    narrower: float = Field(description="Share by which the interval narrows, 0 to 1.")


class ProposalOut(NarrowedOut):
    """One test plait and what it would bring."""

    strands: int = Field(description="Number of strands.")
    foundation_mm: float = Field(description="Diameter of the rod it is plaited over, mm.")
    length_mm: float = Field(description="Its length, mm.")
    read_at_mm: list[float] = Field(description="Stations to be read, mm from its beginning.")
    minutes: float = Field(description="Minutes of work; see `minutes_are`.")


class MeasureOut(NarrowedOut):
    """One measurement that the cord lacks and what it would bring by itself."""

    how: str = Field(description="How it is taken.")


class AdviceOut(Wire):
    """What to plait, and to measure, to learn a cord."""

    cord: str = Field(description="Name of the cord.")
    wanted: str = Field(description="The stacks that matter, in words.")
    half_90_mm: float = Field(description="Half their 90 % interval now, mm, on the average.")
    least_half_90_mm: float = Field(description="What no record takes away of it, mm.")
    proposals: list[ProposalOut] = Field(
        description="The advised test plait first, then one of each other strand count; empty: none is "
        "worth its minutes."
    )
    second: ProposalOut | None = Field(
        description="Another one after the advised one, both together; null: not worth it."
    )
    measurements: list[MeasureOut] = Field(description="What the cord lacks, the most narrowing first.")
    minutes_are: str = Field(description="What minutes are reckoned from.")
    record: dict[str, Any] | None = Field(
        description="Record of the advised plait, to be sent once its diameters (null) are filled in."
    )
    words: list[str] = Field(description="The same in sentences.")
    rests_on: str = Field(description="What it rests on, in words.")
    caution: str = Field(description="What to keep in mind.")
