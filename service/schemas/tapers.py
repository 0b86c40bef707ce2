"""What the server answers about the taper of a whip."""

from typing import Literal

from pydantic import Field

from plaitlog.service.schemas.answers import Wire
from plaitlog.service.schemas.failures import Remark

TaperWord = Literal["parallel", "early", "even", "late"]


class TaperParameterOut(Wire):
    """One taper parameter, in the unit that it names."""

    name: str = Field(description="Its name, stable for programs.", examples=["fullness"])
    title: str = Field(description="Its name in words.", examples=["fullness"])
    unit: Literal["diameter", "length", "share", "ratio", "mm per m", "log ratio", "mm2", "g per m"] = Field(
        description="What the numbers are: diameter and length in mm, share from 0 to 1, ratio of two of one "
        "kind, log ratio a natural logarithm, mm of diameter per m of thong, mm2, g per m."
    )
    value: float = Field(description="The value, in its unit.")
    sd: float = Field(ge=0, description="Its standard deviation, in the same unit; 0: known exactly.")
    low_90: float = Field(description="Lower end of the 90 % interval, in the same unit.")
    high_90: float = Field(description="Upper end of the 90 % interval, in the same unit.")
    known: Literal["measured", "predicted", "recorded", "reckoned"] = Field(
        description="By readings of the thong; by the fit, from the stack; noted by the maker; worked out "
        "from the strands."
    )
    says: str = Field(description="What it tells a maker.")
    definition: str = Field(description="How it is worked out, with its source.")


class LayerDropsOut(Wire):
    """Drops of one layer."""

    layer: int = Field(ge=1, description="Place of the layer, from 1 innermost.")
    role: str = Field(description="core, belly, overlay, ...")
    drops: int = Field(ge=0, description="Number of places at which strands are dropped.")
    spacing_mm: float | None = Field(
        description="Mean distance between neighbouring drops, mm; null: fewer than two."
    )


class TaperOut(Wire):
    """The taper parameters of one whip."""

    label: str = Field(description="The whip's label.")
    type: str | None = Field(description="bullwhip, stock whip, ...; null: not known.")
    summary: list[str] = Field(description="The shape in sentences, most important first.")
    taper: TaperWord | None = Field(
        description="By where diameter is lost; null: too little is known for a word."
    )
    perhaps: list[TaperWord] = Field(description="Words that the uncertainty of the fullness leaves open.")
    parameters: list[TaperParameterOut] = Field(
        description="What is known; a parameter that is not is absent."
    )
    drops: list[LayerDropsOut] = Field(description="Drops by layer, as far as strands are noted.")
    stations: int = Field(ge=0, description="Number of measured stations that the shape rests on.")
    condition: str | None = Field(
        description="Condition in which these were measured: fresh, rolled, ...; null: none were."
    )
    left_out: dict[str, int] = Field(description="Number of readings left out, by reason.")
    predicted_from: str | None = Field(
        description="What predicted parameters rest on; null: none is predicted."
    )
    findings: list[Remark] = Field(description="What would have to be measured or noted to know more.")
