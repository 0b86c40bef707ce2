"""A sound whip of a core under an overlay, and notation to punch holes into it."""

from dataclasses import replace
from typing import Any

from plaitlog.models.calibration.calibrated import prior_calibration
from plaitlog.models.notation import parse_schedule
from plaitlog.models.whip import Cord, Layer, RatingSession, Reading, Role, Whip
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.shown_units import ShownUnits

RIDGE = Cord(
    name="Ridge 4 mm", material="nylon", construction="cored", diameter_mm=4.0, linear_density_g_per_m=7.2
)
FELL = Cord(
    name="Fell 3 mm", material="nylon", construction="cored", diameter_mm=3.0, linear_density_g_per_m=4.0
)
CORDS = {cord.name: cord for cord in (RIDGE, FELL)}
LETTERS = {"A": "Ridge 4 mm", "B": "Fell 3 mm"}
POINT_MM = 1600.0
PRIORS = InForce(prior_calibration(), None)
INCHES, MILLIMETRES = ShownUnits("in", "mm"), ShownUnits("mm", "mm")


def layer(role: Role, line: str, point_mm: float | None = POINT_MM, **keys: Any) -> Layer:
    """A layer in notation; without a letter its cord is not noted."""
    lettered = any(letter in line for letter in LETTERS)
    read = parse_schedule(line, letters=LETTERS if lettered else None, point_mm=point_mm)
    return Layer(role=role, cords=read.cords, schedule=read.schedule, fate=read.fate, **keys)


CORE = layer("core", "mm: 6A; 700: end cut")
OVERLAY = layer("overlay", "mm: 16B; 900: -4 cut; 1300: -4; p")
READINGS = (
    Reading(at_mm=0.0, place="thick", diameter_mm=15.0),
    Reading(at_mm=800.0, place="mid", diameter_mm=11.0),
    Reading(at_mm=1600.0, place="point", diameter_mm=6.0),
)
RATED = RatingSession(by="Orrin", scores={"ease": 7.0})
SOUND = Whip(
    label="S-1",
    maker="Orrin",
    status="finished",
    thong_length_mm=POINT_MM,
    layers=(CORE, OVERLAY),
    readings=READINGS,
    ratings=(RATED,),
)


def having(**keys: Any) -> Whip:
    """The sound whip with other things noted."""
    return replace(SOUND, **keys)


def with_overlay(line: str, **keys: Any) -> Whip:
    return having(layers=(CORE, layer("overlay", line)), **keys)
