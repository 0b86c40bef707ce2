"""The one shape in which the server says that something cannot be done."""

from typing import Any

from pydantic import BaseModel, ConfigDict, Field


class Remark(BaseModel):
    """Something the maker should know: what was found, where, and what can be done about it."""

    model_config = ConfigDict(extra="forbid", from_attributes=True)

    code: str = Field(description="Short name, stable for programs.", examples=["not-a-size"])
    text: str = Field(description="What was found, with the value.", examples=["-4.0 is not a size"])
    remedy: str = Field(
        description="What can be done about it; empty where nothing needs mending.",
        examples=["write a number of mm above 0, or null if not known"],
    )
    where: str = Field(
        description="The key, line, parameter or name it is about; empty where it concerns the whole.",
        examples=["diameter_mm"],
    )


class ConflictingValue(BaseModel):
    """One key that somebody else changed in the meantime."""

    model_config = ConfigDict(extra="forbid")

    key: str = Field(description="The key of the record.", examples=["notes"])
    typed: Any = Field(description="What was sent for it.", examples=["soft; waxed twice"])
    stored: Any = Field(description="What is stored now; null where it is not known.", examples=["soft"])


class Conflict(BaseModel):
    """What is stored now, where an edit rests on an older version."""

    model_config = ConfigDict(extra="forbid")

    version: int = Field(description="The version that is stored now; number of the change it comes from.")
    values: list[ConflictingValue] = Field(description="Each key sent that differs, with both values.")


class Failure(BaseModel):
    """The answer wherever something cannot be done; nothing was written."""

    model_config = ConfigDict(extra="forbid")

    error: Remark = Field(description="What is wrong, where, and how to mend it.")
    findings: list[Remark] = Field(
        description="Everything that is to be mended, where there is more than one thing; may be empty."
    )
    conflict: Conflict | None = Field(
        None, description="Only where an edit rests on an older version: what is stored now."
    )
