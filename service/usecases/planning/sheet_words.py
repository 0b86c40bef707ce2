"""What a bench sheet says in words: what to take care of, the jobs beside the plaiting, what is expected."""

import re
from collections.abc import Iterator, Mapping
from typing import Final

from plaitlog.models.whip import NONE, Cord, Foundation, Whip
from plaitlog.service.reports.bench_sheet_content import Section
from plaitlog.service.usecases.planning.miss_words import said_on_tape
from plaitlog.service.usecases.planning.plan import Plan
from plaitlog.service.usecases.planning.replanning import Standing
from plaitlog.service.usecases.planning.sheet_places import on_tape, tape_unit
from plaitlog.service.usecases.recording.proposals import WITHOUT_FALL, WITHOUT_FOUNDATION
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.working_hours import hours_in_words

DEFER: Final = "Local rules and a qualified teacher come before anything printed here."
CUT: Final = "sharp blades and fids; cut away from the hand."
ROD: Final = "saw and grind with eye protection; round and cap the ends."
MELT: Final = "burning nylon drips, sticks and burns; ventilate."
PULL: Final = (
    "cord cuts fingers: tape or gloves, never round the hand; eyes clear when a strand lets go; "
    "rest the wrists."
)
LOAD: Final = "lead is toxic, none in a whip that is sold: steel instead; keep loose shot from children."
WAX: Final = "If it is waxed: a double boiler, no open flame, never water on burning wax."
WITH_HANDLE_APART: Final = ("stock whip", "cow whip")
_SHOT: Final = re.compile(r"\b(shot|lead|load\w*)\b", re.IGNORECASE)


def long_on_tape(mm: float, shown: ShownUnits) -> str:
    """The length of a thong or of a piece on the grid: 6 ft, 1830 mm."""
    return shown.long_length(float(on_tape(mm, shown.lengths)))


def cautions(whip: Whip, cords: Mapping[str, Cord]) -> Iterator[tuple[str, str]]:
    """Job by job, those alone that this whip has."""
    yield "Cut", CUT
    used = {cord.cord for layer in whip.layers for cord in layer.cords}
    if any("leather" not in cords[name].material.casefold() for name in used if name in cords):
        yield "Melt", MELT
    yield "Pull", PULL
    if isinstance(whip.foundation, Foundation):
        yield "Rod", ROD
    if any(_SHOT.search(f"{layer.what or ''} {layer.notes or ''}") for layer in whip.layers):
        yield "Load", LOAD


def facts(whip: Whip, shown: ShownUnits) -> Iterator[str]:
    """Lengths, and in words where places are counted from."""
    lengths = []
    if whip.thong_length_mm is not None:
        lengths.append(f"thong {long_on_tape(whip.thong_length_mm, shown)}")
    if whip.handle_length_mm:
        size = "" if whip.handle_diameter_mm is None else f", {shown.diameter(whip.handle_diameter_mm)} thick"
        lengths.append(f"handle {said_on_tape(whip.handle_length_mm, shown)}{size}")
    elif whip.handle_length_mm == 0:
        lengths.append("no handle" if whip.type != "stock whip" else "without its handle")
    if whip.quoted_length:
        lengths.append(f"quoted as {whip.quoted_length}")
    if lengths:
        said = "; ".join(lengths)
        yield f"{said[:1].upper()}{said[1:]}."
    start = "the butt" if whip.datum == "butt" else "the handle end of the thong"
    grid = "half inch" if tape_unit(shown.lengths) == "in" else "10 mm"
    yield f"Stations are counted from {start} (0) to the point, to the nearest {grid}."


def estimates(plan: Plan, shown: ShownUnits) -> Iterator[str]:
    """Weight, balance point and how near the plan comes to its target."""
    off = f"{plan.misfit_mm / 25.4:.3f} in" if shown.diameters == "in" else f"{plan.misfit_mm:.1f} mm"
    yield f"Diameter: off the target by {off} (root mean square over the thong)."
    yield "Low–high, here and in the tables: nine of ten readings lie between."
    if plan.hours is not None:
        yield f"{hours_in_words(plan.hours, plan.whip.maker)}."
    found = plan.expected
    if found is None:
        return
    low, high = found.weight.low_90, found.weight.high_90
    yield f"Weight without fall and cracker: {found.weight.value:.0f} g ({low:.0f}–{high:.0f})."
    if found.balance is not None:
        ends = (found.balance.low_90, found.balance.value, found.balance.high_90)
        first, at, last = (said_on_tape(mm, shown) for mm in ends)
        yield f"Balance point, laid straight: {at} from the butt ({first} to {last})."


def so_far(whip: Whip, standing: Standing | None, point: str, shown: ShownUnits) -> Iterator[str]:
    """How far a whip on the bench is plaited, and whether its point can still be reached."""
    if standing is not None:
        role = whip.layers[standing.slot - 1].role
        end = said_on_tape(standing.to_mm, shown)
        where = f"layer {standing.slot} ({role}), plaited to {end}"
        yield f"On the bench: {where}; what is done is left out or ticked."
    if point:
        yield f"By what was measured {point}."


def foundation(whip: Whip, shown: ShownUnits, *, done: bool = False) -> Section:
    """The rod, spike or mandrel, or that there is none; without steps once it is done."""
    found = whip.foundation
    if done:
        return Section("Foundation", ())
    if isinstance(found, Foundation):
        what = found.material or "rod"
        end = said_on_tape(found.to_mm, shown) if found.to_mm else "the handle end"
        beyond = (found.to_mm or 0.0) if whip.datum != "butt" else 0.0
        whole = f" {said_on_tape(whip.handle_length_mm + beyond, shown)}," if whip.handle_length_mm else ""
        said = f"{what.capitalize()}, {shown.diameter(found.diameter_mm)},{whole} from the butt to {end}."
    elif found == NONE or not whip.handle_length_mm or whip.type in WITHOUT_FOUNDATION:
        said = "None: the core begins at the heel."
    else:
        said = "Not noted in the plan."
    return Section("Foundation", (said,))


def parts(whip: Whip, shown: ShownUnits) -> Iterator[Section]:
    """Handle and transition; point, hitch, fall and cracker; finish."""
    apart = whip.type in WITH_HANDLE_APART
    if whip.handle_length_mm or apart:
        title = "Handle and keeper" if apart else "Handle and transition"
        yield Section(title, tuple(_handle(whip, shown)))
    yield Section("Point, hitch, fall, cracker", tuple(_point(whip)))
    planned = () if whip.finish in (None, NONE) else tuple(whip.finish or ())
    yield Section("Finish", (f"Roll the whip from heel to point{''.join(f', {x}' for x in planned)}.", WAX))


def _handle(whip: Whip, shown: ShownUnits) -> Iterator[str]:
    thick = "" if whip.handle_diameter_mm is None else f", {shown.diameter(whip.handle_diameter_mm)} over all"
    if isinstance(whip.foundation, Foundation):
        yield f"Handle {said_on_tape(whip.handle_length_mm or 0.0, shown)}{thick}: heel knot, wrist loop."
        yield "Transition: feel that it bends evenly, without a step or a hinge; it is not measured."
    else:
        yield "Heel knot; join thong and handle, with a keeper where there is one; it is not measured."


def _point(whip: Whip) -> Iterator[str]:
    yield "Finish the overlay at the point; its last strands go into the hitch."
    if whip.fall != NONE and (whip.fall or whip.type not in WITHOUT_FALL):
        fall = f" ({whip.fall})" if whip.fall else ""
        yield f"Tie on the fall{fall} with the fall hitch; the hitch is not measured."
    if whip.cracker != NONE:
        yield f"Tie on the cracker{f' ({whip.cracker})' if whip.cracker else ''}."
