"""The tables a workshop goes in and out as, with what makers write above their columns."""

from typing import Final

from plaitlog.models.whip import FEELS, QUALITIES
from plaitlog.service.usecases.spreadsheets.columns import (
    Column,
    Table,
    diameter,
    fibre_density,
    girth,
    joined,
    length,
    linear_density,
    mass,
    text,
    thickness,
)

_FEEL_NAMES: Final = {
    "thong_handle": ("thong heavy to handle heavy", "thong heavy handle heavy", "thong or handle heavy"),
    "limp_stiff": ("limp to stiff", "stiffness"),
    "slow_quick": ("slow to quick", "quickness", "speed"),
}
_NOTES: Final = text("notes", "Notes", "note", "remarks", "comment", "comments")
_WHIP: Final = text("whip", "Whip", "label", "whip label", "whip no", "whip number", "whip id", way="text")
_AFTER: Final = text("after_layer", "After layer", "after", "on layer", "layer", way="whole")
_PRICE: Final = text("price_per_m", "Price per m", "price per metre", "price", "cost per metre", way="number")


def _said(key: str) -> str:
    return key.replace("_", " ").capitalize()


MAKERS: Final = Table(
    "makers",
    "maker",
    text("name", "Name", "maker", "maker name"),
    "name",
    (frozenset({"name"}),),
    names=("maker",),
)
CORDS: Final = Table(
    "cords",
    "cord",
    joined(
        text("name", "Name", "cord", "cord name"),
        text("material", "Material", "fibre", "fiber", "made of"),
        text("construction", "Construction", "build", "make up", way="word"),
        diameter("diameter_mm", "Diameter", "cord diameter", "dia", "touching", "just touching"),
        thickness("pressed_mm", "Pressed", "pressed shut", "pressed diameter", "pressed thickness", "shut"),
        diameter("flat_width_mm", "Flat width", "width", "width flat", "strand width"),
        linear_density(
            "linear_density_g_per_m", "Linear density", "mass per length", "weight per length",
            "weight per metre", "weight per meter", "mass per metre", "g per m", "g/m", "grams per metre",
        ),
        fibre_density("fibre_density_g_per_cm3", "Fibre density", "density", "fiber density"),
        text("supplier", "Supplier", "bought from", "source", "shop"),
        _PRICE,
        _NOTES,
    ),
    "name",
    (frozenset({"name"}), frozenset({"material"}), frozenset({"construction"})),
    names=("cord",),
)  # fmt: skip
STOCK: Final = Table(
    "stock",
    "stock",
    joined(
        text("cord", "Cord", "cord name", "name"),
        text("colour", "Colour", "color"),
        text("lot", "Lot", "batch", "lot number"),
        text(
            "metres", "Metres", "meters", "m", "length in stock", "metres left", "in stock",
            way="number",
        ),
        _PRICE,
        _NOTES,
    ),
    "cord",
    (frozenset({"cord"}), frozenset({"metres", "colour", "lot"})),
    names=("cord stock",),
)  # fmt: skip

_SLOTS: Final = ("core", "belly", "bolster", "second belly", "binding", "overlay")
SLOTS: Final = tuple(slot.replace(" ", "_") for slot in _SLOTS)
"""Layers a row of the notebook table has columns for, innermost first."""
PLAITED: Final = ("core", "belly", "second_belly", "overlay")


def _layers_of_a_row() -> tuple[Column, ...]:
    found: list[Column] = []
    for slot, name in zip(SLOTS, _SLOTS, strict=True):
        also = {
            "second_belly": ("belly 2", "2nd belly"),
            "belly": ("first belly", "belly 1", "1st belly"),
            "overlay": ("plait", "plaits", "strands", "strand count", "outer plait", "outer layer"),
        }.get(slot, ())
        title = name.capitalize()
        way = "strands" if slot in PLAITED else "stuff"
        more = tuple(f"{each} strands" for each in (name, *also))
        found += text(f"layer.{slot}.strands", title, *also, *more, way=way)  # type: ignore[arg-type]
        found += text(f"layer.{slot}.cord", f"{title} cord", *(f"{each} cord" for each in also), way="cords")
        found += text(f"layer.{slot}.fate", f"{title} fate", f"{name} drops")
        found += text(f"layer.{slot}.pattern", f"{title} pattern", way="pattern")
    return tuple(found)


LAYERS_OF_A_ROW: Final = joined(
    _layers_of_a_row(),
    text("layer.cord", "Cord", "cord used", "cord name", way="cords"),
    text("letters", "Letters", "cords by letter", "cord letters", way="letters"),
)
READINGS_OF_A_ROW: Final = joined(
    text("reading.condition", "Condition", "measured when", way="word"),
    text("reading.on", "Measured on", "reading date", "date measured", way="day"),
)
WHIPS: Final = Table(
    "whips",
    "whip",
    joined(
        text("label", "Label", "whip", "whip label", "no", "number", "whip no", "whip number", "id",
             "whip id"),
        text("maker", "Maker", "made by", "plaited by"),
        text("type", "Type", "whip type", "kind of whip", "style", "kind"),
        text("status", "Status", "state", way="word"),
        text("made_on", "Made on", "date", "made", "finished on", "date made", "date finished", "finished",
             way="day"),
        text("build_number", "Build number", "build no", "build", "running number", way="whole"),
        text("datum", "Datum", "counted from", "stations from", "zero at", way="word"),
        length("thong_length_mm", "Thong length", "thong", "length", "length of thong", "plait length"),
        text("quoted_length", "Quoted length", "quoted", "sold as", "nominal length"),
        length("handle_length_mm", "Handle length", "handle", "length of handle"),
        diameter("handle_diameter_mm", "Handle diameter", "handle dia", "diameter of handle",
                 "handle thickness"),
        diameter("foundation.diameter_mm", "Foundation", "foundation diameter", "rod", "rod diameter",
                 "spike"),
        length("foundation.to_mm", "Foundation to", "foundation end", "rod to", "rod end"),
        text("foundation.material", "Foundation material", "rod material"),
        text("layers_complete", "Layers complete", "all layers listed", way="yes"),
        text("readings_text", "Readings as typed"),
        text("finish", "Finish", "finishing", way="words"),
        mass("weight_g", "Weight", "mass", "weight finished", "total weight"),
        text("weight_with", "Weighed with", "weight with", "weight including", way="words"),
        length("balance.at_mm", "Balance at", "balance point", "balance point at"),
        text("balance.from", "Balance from", "balance counted from", way="word"),
        text("balance.how", "Balance how", "balanced how", "how balanced"),
        text("hours", "Hours", "hours of work", "time", "hours worked", way="number"),
        text("fall", "Fall"),
        text("cracker", "Cracker"),
        *(text(f"ratings.{each}", _said(each), way="score") for each in QUALITIES),
        text("plan", "Kept plan", way="document"),
        _NOTES,
    ),
    "label",
    (frozenset({"label"}),),
    names=("whip", "wide", "notebook", "whip log", "log"),
)  # fmt: skip
LAYERS: Final = Table(
    "layers",
    "whip",
    joined(
        _WHIP,
        text("position", "Position", "place", "no", "number", "layer no", "layer number", way="whole"),
        text("role", "Role", "layer", "layer role", "part", way="word"),
        text("cords", "Cord", "cords", "cord name", way="cords"),
        text("lot", "Lot", "batch", "lot number"),
        text("letters", "Letters", "letter", "cord letter", way="signs"),
        text("strands", "Strands", "schedule", "strand schedule", "line", "notation", "drops", way="strands"),
        text("steps", "Steps", "strand steps", way="steps"),
        text("pattern", "Pattern", "plait pattern", way="pattern"),
        text("fate", "Fate", "dropped strands", "fate of strands"),
        diameter("diameter_mm", "Diameter", "dia"),
        thickness("thickness_mm", "Thickness"),
        length("from_mm", "From", "begins", "starts", "start"),
        length("to_mm", "To", "ends", "end"),
        text("what", "What", "stuff", "of what"),
        _NOTES,
    ),
    "whip",
    (frozenset({"whip"}), frozenset({"role"})),
    part="layers",
    names=("layer", "schedules", "strands"),
)
TURN_LENGTHS: Final = Table(
    "turn lengths",
    "whip",
    joined(
        _WHIP,
        length("at_mm", "At", "station", "position"),
        length("turn_mm", "Turn length", "turn", "length of a turn"),
        _AFTER,
    ),
    "whip",
    (frozenset({"whip"}), frozenset({"turn_mm", "turn"})),
    part="turn_lengths",
    names=("turns", "turn length", "turn_lengths"),
)
WEIGHINGS: Final = Table(
    "weighings",
    "whip",
    joined(_WHIP, mass("weight_g", "Weighing", "further weight"), text("with", "With", way="words"), _AFTER),
    "whip",
    (frozenset({"whip"}), frozenset({"weight_g", "weight"})),
    part="weights",
    names=("weighing", "weights"),
)
CORD_USED: Final = Table(
    "cord used",
    "whip",
    joined(
        _WHIP,
        text("cord", "Cord", "cord name"),
        text("metres", "Metres", "meters", "m", "metres used", "used", way="number"),
    ),
    "whip",
    (frozenset({"whip"}), frozenset({"cord"}), frozenset({"metres"})),
    part="cord_used",
    names=("cord use", "cords used", "cord_used"),
)
READINGS: Final = Table(
    "readings",
    "reading",
    joined(
        _WHIP,
        length("at_mm", "At", "station", "position", "pos", "distance", "distance from handle", "where"),
        text("place", "Place", "named place"),
        diameter("diameter_mm", "Diameter", "dia", "diam", "reading", "caliper", "calipers", "measured", "d"),
        girth("girth_mm", "Girth", "circumference", "circ"),
        thickness("tape_mm", "Tape", "tape thickness"),
        text("after_layer", "After layer", "after", "on layer", "layer", way="whole"),
        text("condition", "Condition", "state", way="word"),
        text("doubtful", "Doubtful", "doubt", "unsure", way="yes"),
        text("on", "On", "date", "day", "measured on", "read on", way="day"),
        _NOTES,
    ),
    "whip",
    (frozenset({"whip"}), frozenset({"at_mm", "at", "place"}), frozenset({"diameter_mm", "diameter",
     "girth_mm", "girth"})),
    names=("reading", "measurements", "diameters", "calipers"),
)  # fmt: skip
RATINGS: Final = Table(
    "ratings",
    "rating",
    joined(
        _WHIP,
        text("by", "By", "rated by", "who", "rater", "judged by"),
        text("on", "On", "date", "day", "session", "rated on", way="day"),
        text("hours_of_use", "Hours of use", "hours used", "use hours", "hours", way="number"),
        text("fall", "Fall"),
        text("cracker", "Cracker"),
        text("compared_with", "Compared with", "beside", "against", "thrown beside"),
        *(text(f"scores.{each}", _said(each), way="score") for each in QUALITIES),
        *(text(f"feel.{each}", _said(each), *_FEEL_NAMES[each], way="feel") for each in FEELS),
        _NOTES,
    ),
    "whip",
    (frozenset({"whip"}), frozenset({*(f"scores.{x}" for x in QUALITIES), *(f"feel.{x}" for x in FEELS)})),
    names=("rating", "handling", "sessions"),
)

TABLES: Final = (
    MAKERS, CORDS, STOCK, WHIPS, LAYERS, TURN_LENGTHS, WEIGHINGS, CORD_USED, READINGS, RATINGS,
)  # fmt: skip
"""In the order in which an export writes them."""
NOTEBOOK: Final = ("notebook", "wide")
"""Names of the wide table, as an export: a row a whip, a column a station."""


def columns_of(table: Table) -> tuple[Column, ...]:
    """The columns of an export, and those that only a maker's own table has."""
    return joined(table.columns, LAYERS_OF_A_ROW, READINGS_OF_A_ROW) if table is WHIPS else table.columns


def table_named(name: str) -> Table | None:
    """The table of that name (``readings``, ``wide``, ...), None if there is none."""
    plain = " ".join(name.replace("_", " ").replace("-", " ").lower().split())
    return next((table for table in TABLES if plain in (table.name, *table.names)), None)
