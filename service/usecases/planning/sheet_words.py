"""What a bench sheet says in words: what to take care of, the jobs beside the plaiting, what is expected."""

import re
from collections.abc import Iterator, Mapping
from typing import Final

from plaitlog.models.whip import NONE, Cord, Foundation, Whip
from plaitlog.service.reports.bench_sheet_content import Section
from plaitlog.service.usecases.planning.plan import Plan
from plaitlog.service.usecases.planning.sheet_places import on_tape, tape_text, tape_unit
from plaitlog.service.usecases.recording.proposals import WITHOUT_FALL
from plaitlog.service.usecases.shown_units import ShownUnits

DEFER: Final = "Local rules and a qualified teacher come before anything printed here."
CUT: Final = "sharp blades and fids; cut away from the hand."
ROD: Final = "saw and grind with eye protection; round and cap the ends."
MELT: Final = "burning nylon drips, sticks and burns; ventilate."
PULL: Final = (
    "cord cuts fingers: tape or gloves, never wound round the hand; eyes clear when a strand lets go; rest the "
    "wrists."
)
LOAD: Final = "lead is toxic, none in a whip that is sold: steel instead; keep loose shot from children."
WAX: Final = "If it is waxed: a double boiler, no open flame, never water on burning wax."
_SHOT: Final = re.compile(r"\b(shot|lead|load\w*)\b", re.IGNORECASE)
_PLACE: Final = re.compile(r"\bat (\d+(?:\.\d+)?) mm\b")


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
        lengths.append(f"thong {shown.long_length(whip.thong_length_mm)}")
    if whip.handle_length_mm:
        size = "" if whip.handle_diameter_mm is None else f", {shown.diameter(whip.handle_diameter_mm)} thick"
        lengths.append(f"handle {shown.length(whip.handle_length_mm)}{size}")
    elif whip.handle_length_mm == 0:
        lengths.append("no handle" if whip.type != "stock whip" else "without its handle")
    if whip.quoted_length:
        lengths.append(f"quoted as {whip.quoted_length}")
    if lengths:
        said = "; ".join(lengths)
        yield f"{said[:1].upper()}{said[1:]}."
    start = "the butt" if whip.datum == "butt" else "the handle end of the thong"
    grid = "half inch" if tape_unit(shown.lengths) == "in" else "10 mm"
    yield f"Stations are counted from {start} (0) towards the point, to the nearest {grid}."


def estimates(plan: Plan, shown: ShownUnits) -> Iterator[str]:
    """Weight, balance point and how near the plan comes to its target."""
    off = f"{plan.misfit_mm / 25.4:.3f} in" if shown.diameters == "in" else f"{plan.misfit_mm:.1f} mm"
    yield f"Diameter: off the target by {off} (root mean square over the thong)."
    found = plan.expected
    if found is None:
        return
    weight = found.weight
    yield f"Weight: {weight.value:.0f} g, {weight.low_90:.0f}–{weight.high_90:.0f} g in 90 %, without fall and cracker."
    if found.balance is not None:
        low, at, high = (
            shown.length(float(on_tape(mm, shown.lengths)))
            for mm in (found.balance.low_90, found.balance.value, found.balance.high_90)
        )
        yield f"Balance point: {at} from the butt, {low} to {high} in 90 %, laid straight."


def findings(plan: Plan, shown: ShownUnits) -> Iterator[str]:
    """What the plan warns of, its places on the viewer's tape."""

    def place(found: re.Match[str]) -> str:
        at = on_tape(float(found[1]), shown.lengths)
        return f"at {tape_text(at, shown.lengths)} {tape_unit(shown.lengths)}"

    for finding in plan.findings:
        text = _PLACE.sub(place, finding.text)
        yield f"{text[:1].upper()}{text[1:]}{f'; {finding.remedy}' if finding.remedy else ''}."


def foundation(whip: Whip, shown: ShownUnits) -> Section:
    """The rod, spike or mandrel, or that there is none."""
    found = whip.foundation
    if isinstance(found, Foundation):
        what = found.material or "rod"
        end = (
            "the handle end"
            if found.to_mm is None
            else shown.length(float(on_tape(found.to_mm, shown.lengths)))
        )
        steps = (f"{what.capitalize()}, {shown.diameter(found.diameter_mm)}, from the butt to {end}.",)
    elif found == NONE or whip.handle_length_mm == 0 or found is None:
        steps = ("None: the core is begun at the heel.",)
    return Section("Foundation", steps)


def parts(whip: Whip, shown: ShownUnits) -> Iterator[Section]:
    """Handle and transition; point, hitch, fall and cracker; finish."""
    if whip.handle_length_mm:
        yield Section("Handle and transition", tuple(_handle(whip, shown)))
    elif whip.type in ("stock whip", "cow whip"):
        yield Section("Handle and keeper", ("Tie the heel knot; fit the keeper; join thong and handle.",))
    yield Section("Point, hitch, fall, cracker", tuple(_point(whip)))
    done = (
        ""
        if not whip.finish
        else " None is planned."
        if whip.finish == NONE
        else f" {', '.join(whip.finish)}."
    )
    yield Section("Finish", (f"Roll the whip from heel to point.{done}", WAX))


def _handle(whip: Whip, shown: ShownUnits) -> Iterator[str]:
    thick = "" if whip.handle_diameter_mm is None else f" to {shown.diameter(whip.handle_diameter_mm)}"
    yield f"Plait over the handle{thick}; heel knot{'' if whip.type == 'stock whip' else ' and wrist loop'}."
    yield "Feel along the transition: it bends evenly, with no step and no hinge. It is not measured."


def _point(whip: Whip) -> Iterator[str]:
    yield "Finish the overlay at the point; its last strands go into the hitch."
    if whip.fall != NONE and (whip.fall or whip.type not in WITHOUT_FALL):
        yield f"Tie on the fall{f' ({whip.fall})' if whip.fall else ''} with the fall hitch; the hitch is not measured."
    if whip.cracker != NONE:
        yield f"Tie on the cracker{f' ({whip.cracker})' if whip.cracker else ''}."
