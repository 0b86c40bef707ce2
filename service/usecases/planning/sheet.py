"""The bench sheet of a plan: everything in the order of work, places on the grid of the maker's tape."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

from plaitlog.models.calibration.prediction import Observation
from plaitlog.models.planning.cut_list import TAIL_MM, CordTotal, Piece
from plaitlog.models.whip import ON_THE_BENCH, Cord, Foundation, Whip
from plaitlog.service.reports.bench_sheet_content import BenchSheet, CutRow, TotalRow
from plaitlog.service.usecases.pictures.carding import questions_in_order
from plaitlog.service.usecases.pictures.drawing_words import about
from plaitlog.service.usecases.planning import sheet_words
from plaitlog.service.usecases.planning.miss_words import on_sheet, said_on_tape
from plaitlog.service.usecases.planning.plan import Plan
from plaitlog.service.usecases.planning.replanning import Standing
from plaitlog.service.usecases.planning.sheet_layers import SheetOf, layer_blocks, measure_rows
from plaitlog.service.usecases.planning.sheet_places import OFF_DROP_MM, tape_unit, up_on_tape
from plaitlog.service.usecases.predicting import CAUTION, InForce
from plaitlog.service.usecases.recording.questions import TYPES
from plaitlog.service.usecases.shown_units import ShownUnits

TRANSITION_MM: Final = 100.0
"""Behind a handle that is plaited over, where the plan says nothing of it (own choice)."""
BEFORE: Final = ("made_on", "thong_length", "handle_length", "handle_diameter")
AFTER: Final = (
    "turn_lengths", "finish", "weight", "balance", "hours", "cord_used", "fall", "cracker", "notes",
)  # fmt: skip
MADE: Final[Mapping[str, str]] = {"cored": "cored", "gutted": "gutted", "solid": "solid"}


def bench_sheet(
    in_force: InForce,
    plan: Plan,
    shown: ShownUnits,
    *,
    transition_mm: float | None = None,
    readings: tuple[Observation, ...] = (),
    standing: Standing | None = None,
    point: str = "",
) -> BenchSheet:
    """The sheet from which the planned whip is made.

    transition_mm : its length behind the handle, None where it is not stated. readings : of the same whip.
    standing : how far it is plaited; what is done by then is left out, or ticked in a layer that is begun.
    point : in words whether the point can still be reached.
    """
    whip = plan.whip if standing is None else replace(plan.whip, status=ON_THE_BENCH)
    letters = cord_letters(whip)
    bench = SheetOf(
        in_force=in_force,
        whip=whip,
        cords=plan.cords,
        shown=shown,
        letters=letters,
        bare_from_mm=bare_from_mm(whip, transition_mm),
        readings=readings,
        standing=standing,
    )
    begun = 0 if standing is None else standing.slot
    asks = _asks(whip, shown)
    outermost = len(whip.layers)
    return BenchSheet(
        label=whip.label,
        about=about(whip),
        facts=(*sheet_words.facts(whip, shown), *sheet_words.so_far(whip, standing, point, shown)),
        cords=tuple((letter, name) for name, letter in letters.items()),
        rests_on=in_force.rests_on,
        caution=CAUTION,
        estimates=tuple(sheet_words.estimates(plan, shown)),
        findings=tuple(on_sheet(plan.misses, shown)),
        cautions=tuple(sheet_words.cautions(whip, plan.cords)),
        defer=sheet_words.DEFER,
        length_unit=tape_unit(shown.lengths),
        diameter_unit=shown.diameters,
        cut=tuple(
            _cut_row(piece, whip, plan.cords, letters, shown) for piece in plan.pieces if piece.slot > begun
        ),
        cut_words=_cut_words(shown),
        totals=() if begun else tuple(_total_row(one, letters) for one in plan.totals),
        foundation=sheet_words.foundation(whip, shown, done=begun > 0),
        layers=layer_blocks(bench),
        parts=tuple(sheet_words.parts(whip, shown)),
        blanks_before=tuple(asks[key] for key in BEFORE if key in asks),
        final=measure_rows(replace(bench, standing=None), [outermost]) if outermost else (),
        blanks_after=tuple(asks[key] for key in AFTER if key in asks),
    )


def cord_letters(whip: Whip) -> dict[str, str]:
    """By cord its letter: the one it has in the whip, else the next that is free."""
    given = {cord.cord: cord.letter for layer in whip.layers for cord in layer.cords if cord.letter}
    free = (letter for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ" if letter not in given.values())
    return {
        name: given.get(name) or next(free)
        for name in dict.fromkeys(cord.cord for layer in whip.layers for cord in layer.cords)
    }


def bare_from_mm(whip: Whip, transition_mm: float | None = None) -> float:
    """Station from which on it can be measured: behind handle, rod and transition."""
    thick = (whip.handle_length_mm or 0.0) if whip.datum == "butt" else 0.0
    rod = isinstance(whip.foundation, Foundation)
    if transition_mm is None:
        transition_mm = TRANSITION_MM if rod and whip.handle_length_mm else 0.0
    end = whip.foundation.to_mm or 0.0 if isinstance(whip.foundation, Foundation) else 0.0
    return max(thick + transition_mm, end + OFF_DROP_MM if end > thick else 0.0)


def _asks(whip: Whip, shown: ShownUnits) -> dict[str, str]:
    """The questions of recording by their key, in their order."""
    kind = whip.type if whip.type in TYPES else "bullwhip"
    return {question.key: question.ask for question in questions_in_order(kind, shown)}


def _cut_row(
    piece: Piece, whip: Whip, cords: Mapping[str, Cord], letters: Mapping[str, str], shown: ShownUnits
) -> CutRow:
    if piece.middle_mm is None:
        middle = "one strand"
    elif piece.middle_mm * 2 == piece.length_mm:
        middle = "in the middle"
    else:
        middle = sheet_words.long_on_tape(piece.middle_mm, shown)
    return CutRow(
        layer=f"{piece.slot} {whip.layers[piece.slot - 1].role}",
        letter=letters.get(piece.cord, ""),
        pieces=f"{piece.pieces} ×",
        length=shown.long_length(float(up_on_tape(piece.length_mm, shown.lengths))),
        middle=middle,
        made=MADE[cords[piece.cord].construction],
    )


def _cut_words(shown: ShownUnits) -> str:
    tail = said_on_tape(TAIL_MM, shown)
    return (
        f"Lengths of cord as it lies, not pulled; the safe end of what is expected, with {tail} of each "
        "strand to hold. A folded piece makes two strands."
    )


def _total_row(one: CordTotal, letters: Mapping[str, str]) -> TotalRow:
    lacks = (
        "stock not noted" if one.lacks_m is None else f"{one.lacks_m:.1f} m" if one.lacks_m > 0 else "nothing"
    )
    return TotalRow(
        letter=letters.get(one.cord, ""),
        cord=one.cord,
        metres=f"{one.metres:.1f} m",
        grams="not known" if one.grams is None else f"{one.grams:.0f} g",
        lacks=lacks,
        price="not noted" if one.price is None else f"{one.price:.2f}",
    )
