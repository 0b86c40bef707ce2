"""Ratings as they stand in a file."""

from typing import Annotated, Literal

from pydantic import Field, Tag

from plaitlog.models.whip import Feel, Quality
from plaitlog.service.schemas.values import Day, FeelNote, Hours, Name, Score, ScoreOrWord, Shape, Text

ScoreOrNotTried = Annotated[
    Annotated[Score, Tag("<value>")] | Annotated[Literal["not tried"], Tag("<word>")], ScoreOrWord
]
ScoreOrComparison = Annotated[
    Annotated[Score, Tag("<value>")]
    | Annotated[Literal["not tried", "better", "same", "worse"], Tag("<word>")],
    ScoreOrWord,
]
Scores = dict[Quality, ScoreOrComparison | None]
OwnScores = dict[Quality, ScoreOrNotTried | None]
"""Of a rating without a session, which names no other whip."""


class RatingRecord(Shape):
    """One person's judgement of a whip on one day."""

    kind: Literal["rating"] = Field("rating", description="Kind of record: rating.")
    whip: Name = Field(description="Label of the whip.")
    by: Name | None = Field(None, description="Who judged it.")
    on: Day | None = Field(None, description="Day of the session.")
    hours_of_use: Hours | None = Field(None, description="Hours the whip had been used by then.")
    fall: Text | None = Field(None, description="Fall fitted during the session.")
    cracker: Text | None = Field(None, description="Cracker fitted during the session.")
    compared_with: Name | None = Field(None, description="Label of the whip it was thrown beside.")
    scores: Scores = Field(
        {},
        description='Per quality 1 to 10, or "not tried"; beside another whip "better", "same", "worse" too.',
    )
    feel: dict[Feel, FeelNote | None] = Field(
        {}, description="-2 to +2: thong-heavy to handle-heavy, limp to stiff, slow to quick."
    )
    notes: Text | None = Field(None, description="Anything else worth noting.")
