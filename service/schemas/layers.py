"""Layers as they stand in a file."""

from typing import Annotated, Any, ClassVar

from pydantic import Field, Tag, WithJsonSchema

from plaitlog.models import units
from plaitlog.models.whip import Role
from plaitlog.service.schemas.values import (
    DiameterMm,
    Keys,
    Name,
    Shape,
    Share,
    StationMm,
    Text,
    TextOrList,
    Typed,
)

Notation = Annotated[str, Field(min_length=1, max_length=20_000)]
LineNotation = Annotated[Notation, Tag("<text>")]
# A step is [place, count, fate]: its three members are read one by one, so that a refusal can name each.
Steps = Annotated[
    list[Any],
    WithJsonSchema(
        {
            "type": "array",
            "description": "Steps [from_mm, count] or [from_mm, count, fate]; from_mm may be a range "
            "[low, high] or null (not noted); count a number, a range, or an object of these by cord name.",
            "items": {"type": "array", "minItems": 2, "maxItems": 3},
        }
    ),
]
Patterns = Annotated[
    list[Any],
    WithJsonSchema(
        {
            "type": "array",
            "description": 'Steps [from_mm, pattern], such as [900, "u3o3"].',
            "items": {"type": "array", "minItems": 2, "maxItems": 2},
        }
    ),
]
StrandsShape = Annotated[LineNotation | Annotated[Steps, Tag("<list>")], TextOrList]
PatternShape = Annotated[LineNotation | Annotated[Patterns, Tag("<list>")], TextOrList]


class LayerCordShape(Shape):
    """One of several cords in a layer."""

    cord: Name = Field(description="Name of the cord.")
    share: Share | None = Field(None, description="Its strands as a share of the layer's; null: 1.")
    lot: Text | None = Field(None, description="The lot it was bought in.")


class LayerShape(Shape):
    """One layer: strands of its cords along the thong, or a given diameter or thickness."""

    as_typed: ClassVar[Keys] = {
        "diameter_mm": ("diameter", units.parse_diameter),
        "thickness_mm": ("thickness", units.parse_thickness),
        "from_mm": ("from", units.parse_length),
        "to_mm": ("to", units.parse_length),
    }

    role: Role = Field(description="core, belly, bolster, binding or overlay.")
    cord: Name | None = Field(None, description="Name of the layer's only cord.")
    lot: Text | None = Field(None, description="The lot that the layer's only cord was bought in.")
    cords: list[LayerCordShape] | None = Field(None, description="The cords of a layer that has several.")
    strands: StrandsShape | None = Field(None, description="Strand counts as steps, or line notation.")
    strands_text: Notation | None = Field(
        None, description="The line notation that the steps were typed as; it must say the same."
    )
    pattern: PatternShape | None = Field(None, description='"u2o2", or steps [from_mm, pattern].')
    fate: Text | None = Field(
        None, description="What becomes of dropped strands: cut, tuck LENGTH [gut], run [gut] [until LENGTH]."
    )
    diameter_mm: DiameterMm | None = Field(None, description="Diameter of a layer without strands, mm.")
    diameter: Typed | None = Field(None, description="The same as typed, with its unit.")
    thickness_mm: DiameterMm | None = Field(None, description="Thickness of a layer without strands, mm.")
    thickness: Typed | None = Field(None, description="The same as typed, with its unit.")
    from_mm: StationMm | None = Field(None, description="Where a layer without strands begins, mm.")
    from_: Typed | None = Field(None, alias="from", description="The same as typed, with its unit.")
    to_mm: StationMm | None = Field(None, description="Where it ends, mm; null: at the point.")
    to: Typed | None = Field(None, description="The same as typed, with its unit.")
    what: Text | None = Field(None, description="What a layer without strands is: tape, thread, rope, ...")
    notes: Text | None = Field(None, description="Anything else worth noting.")
