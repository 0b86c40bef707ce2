"""Makers, cords and stock as they stand in a file."""

from typing import ClassVar, Literal

from pydantic import Field

from plaitlog.models import units
from plaitlog.models.whip import Construction
from plaitlog.service.schemas.values import (
    DiameterMm,
    FibreDensity,
    Keys,
    LinearDensity,
    Metres,
    Name,
    Price,
    Shape,
    Text,
    Typed,
)


class MakerRecord(Shape):
    """A maker of whips."""

    kind: Literal["maker"] = Field("maker", description="Kind of record: maker.")
    name: Name = Field(description="The maker's name, unique in the workshop.")


class CordRecord(Shape):
    """A cord kind: what a fit learns about. Colour and lot belong to the stock."""

    as_typed: ClassVar[Keys] = {
        "diameter_mm": ("diameter", units.parse_diameter),
        "pressed_mm": ("pressed", units.parse_thickness),
        "flat_width_mm": ("flat_width", units.parse_diameter),
        "linear_density_g_per_m": ("linear_density", units.parse_linear_density),
        "fibre_density_g_per_cm3": ("fibre_density", units.parse_fibre_density),
    }

    kind: Literal["cord"] = Field("cord", description="Kind of record: cord.")
    name: Name = Field(description="The cord's name, unique in the workshop.")
    material: Name = Field(description="What the fibre is: nylon, polyester, kangaroo leather, ...")
    construction: Construction = Field(
        description="cored (sheath over inner yarns), gutted (sheath only) or solid (a cut strand)."
    )
    diameter_mm: DiameterMm | None = Field(None, description="Caliper reading just touching, mm.")
    diameter: Typed | None = Field(None, description="The same as typed, with its unit.")
    pressed_mm: DiameterMm | None = Field(None, description="Caliper reading pressed shut, mm.")
    pressed: Typed | None = Field(None, description="The same as typed, with its unit.")
    flat_width_mm: DiameterMm | None = Field(
        None, description="Width of one strand lying flat, mm: ten side by side, divided by ten."
    )
    flat_width: Typed | None = Field(None, description="The same as typed, with its unit.")
    linear_density_g_per_m: LinearDensity | None = Field(None, description="Mass per length, g/m.")
    linear_density: Typed | None = Field(None, description="The same as typed: 7.2 g/m, 225 ft/lb.")
    fibre_density_g_per_cm3: FibreDensity | None = Field(None, description="Density of the fibre, g/cm3.")
    fibre_density: Typed | None = Field(None, description="The same as typed, with its unit.")
    supplier: Text | None = Field(None, description="Where it is bought.")
    price_per_m: Price | None = Field(None, description="Price of a metre, in the maker's own currency.")
    notes: Text | None = Field(None, description="Anything else worth noting.")


class StockRecord(Shape):
    """Metres of one cord in one colour and lot; cord, colour and lot together tell stock apart."""

    kind: Literal["stock"] = Field("stock", description="Kind of record: stock.")
    cord: Name = Field(description="Name of the cord.")
    colour: Text | None = Field(None, description="Its colour.")
    lot: Text | None = Field(None, description="The lot it was bought in.")
    metres: Metres | None = Field(None, description="Metres in stock.")
    price_per_m: Price | None = Field(None, description="Price of a metre, in the maker's own currency.")
    notes: Text | None = Field(None, description="Anything else worth noting.")
