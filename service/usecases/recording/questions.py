"""Every question of the recording dialogue, in the order in which a maker has the whip in hand."""

from collections.abc import Iterator
from typing import Final, get_args

from plaitlog.models import units
from plaitlog.models.units import LengthUnit
from plaitlog.models.whip import DATUMS, STATUSES
from plaitlog.service.usecases.recording import answers
from plaitlog.service.usecases.recording.dialogue import Bench, Draft, Noted, Question, mend
from plaitlog.service.usecases.recording.layer_questions import (
    cords_named,
    layer_questions,
    reading_questions,
)
from plaitlog.service.usecases.recording.proposals import Proposals, proposals
from plaitlog.service.usecases.recording.rating_questions import rating_questions
from plaitlog.service.usecases.shown_units import ShownUnits

TYPES: Final = ("bullwhip", "stock whip", "snake whip", "signal whip", "cow whip", "test plait")


def questions(draft: Draft, bench: Bench) -> Iterator[Question]:
    """The questions for this draft; which come later may depend on the answers to those before."""
    typed_in = bench.units
    if typed_in is None:
        yield from _units(bench)
        typed_in = ShownUnits(_unit(draft, "units.lengths", "in"), _unit(draft, "units.diameters", "mm"))
    yield from _whip(draft, bench)
    known = proposals(draft, bench)
    yield from _lengths(draft, bench, known, typed_in)
    yield from layer_questions(draft, bench, known, typed_in)
    yield from reading_questions(draft, typed_in)
    if draft.mode == "new":
        yield from _finished(draft, bench, known, typed_in)
        if not known.is_plait:
            yield from rating_questions(draft, bench)
    yield Question(key="notes", ask="Notes", read=answers.text("notes"))


def _unit(draft: Draft, key: str, default: LengthUnit) -> LengthUnit:
    unit: LengthUnit
    for unit in get_args(LengthUnit):
        if unit == draft.text(key):
            return unit
    return default


def _units(bench: Bench) -> Iterator[Question]:
    why = "Asked once and remembered. A number with its own unit is always taken as typed."
    for key, ask, options, proposal in (
        ("units.lengths", "Lengths without a unit are in", ("in", "mm", "cm"), "in"),
        ("units.diameters", "Diameters without a unit are in", ("mm", "in"), "mm"),
    ):
        yield Question(
            key=key, ask=ask, read=_steering(options), proposal=proposal, choices=options, help=why
        )


def _steering(options: tuple[str, ...]) -> answers.Reader:
    def read(typed: str) -> Noted:
        return Noted(answer=answers.choice("", options)(typed).answer)

    return read


def _whip(draft: Draft, bench: Bench) -> Iterator[Question]:
    known = proposals(draft, bench)

    def label(typed: str) -> Noted:
        if typed in bench.labels:
            raise mend(
                "label-taken",
                f"{typed!r} is in the workshop already",
                f"choose another, such as {known.label}",
            )
        return Noted({"label": typed})

    yield Question(key="label", ask="Label", read=label, proposal=known.label, required=True)
    yield Question(
        key="type",
        ask="Type",
        read=answers.choice("type", TYPES, free=True),
        proposal=known.type,
        choices=TYPES,
    )
    yield Question(
        key="maker",
        ask="Maker",
        read=answers.choice("maker", bench.makers, free=True),
        proposal=known.maker,
        choices=bench.makers,
    )
    if draft.mode == "new":
        yield Question(
            key="status",
            ask="Status",
            read=answers.choice("status", STATUSES),
            proposal="finished",
            choices=STATUSES,
        )
    yield Question(
        key="made_on",
        ask="Finished on",
        read=answers.day("made_on", bench.today),
        proposal=bench.today.isoformat()
        if draft.mode == "new" and draft.text("status") == "finished"
        else "",
        help="A date such as 2026-03-02, or today, or yesterday.",
    )


def _lengths(draft: Draft, bench: Bench, known: Proposals, typed_in: ShownUnits) -> Iterator[Question]:
    if not known.is_plait:
        yield Question(
            key="datum",
            ask="Stations are counted from",
            read=answers.choice("datum", DATUMS),
            proposal=known.datum,
            choices=DATUMS,
        )
    yield Question(
        key="thong_length",
        ask=f"{'Length' if known.is_plait else 'Thong length'} ({typed_in.lengths})",
        read=answers.size("thong_length", typed_in.lengths, units.LENGTH),
        proposal=known.thong_length,
        help="From the handle end to the point, without fall and cracker. 5' 6 1/2\", 72 or 1.83 m.",
    )
    if known.is_plait or draft.mode == "new":
        # the quoted length of the last whip is proposed where the thong is as long as its
        yield from _handle_and_foundation(draft, proposals(draft, bench), typed_in)


def _handle_and_foundation(draft: Draft, known: Proposals, typed_in: ShownUnits) -> Iterator[Question]:
    if known.has_handle:
        yield Question(
            key="handle_length",
            ask=f"Handle length ({typed_in.lengths})",
            read=answers.size("handle_length", typed_in.lengths, units.LENGTH),
            proposal=known.handle_length,
            none=True,
        )
        yield Question(
            key="handle_diameter",
            ask=f"Handle diameter over everything ({typed_in.diameters})",
            read=answers.size("handle_diameter", typed_in.diameters, units.DIAMETER),
            proposal=known.handle_diameter,
            help="Of the finished handle. It is kept for the record and enters no calculation of the thong.",
        )
    if not known.is_plait:
        yield Question(
            key="quoted_length",
            ask="Length as quoted, saying what it includes",
            read=answers.text("quoted_length"),
            proposal=known.quoted_length,
            help="Such as: 6 ft over the handle, or: 5 ft thong.",
        )
    yield Question(
        key="foundation",
        ask=f"Foundation: diameter ({typed_in.diameters}), where it ends ({typed_in.lengths}), what it is",
        read=answers.foundation(
            typed_in.lengths, typed_in.diameters, draft.text("thong_length") if known.is_plait else None
        ),
        proposal=known.foundation,
        none=True,
        help="The rod, spike or mandrel that the layers lie on. Such as: 8 to 0 steel. Or none.",
    )


def _finished(draft: Draft, bench: Bench, known: Proposals, typed_in: ShownUnits) -> Iterator[Question]:
    lengths = typed_in.lengths
    yield Question(
        key="turn_lengths",
        ask=f"Turn length, station: length ({lengths})",
        read=answers.turn_lengths(lengths),
        help="How far along the thong one strand needs to go once round. Such as: 12: 2 1/2; 24: 2 1/4.",
    )
    yield Question(
        key="finish", ask="Finish", read=answers.words("finish"), proposal=known.finish, none=True,
        help="Such as: rolled, waxed.",
    )  # fmt: skip
    yield Question(
        key="weight",
        ask="Weight (g), and with what",
        read=answers.weight,
        help="Such as: 412 with fall, cracker. Or: 14 1/2 oz with none.",
    )
    if known.is_plait:
        return
    yield Question(
        key="balance",
        ask=f"Balance point ({lengths}), from where, how held",
        read=answers.balance(lengths),
        help="Such as: 17 1/2 from butt, laid straight.",
    )
    yield Question(key="hours", ask="Hours of work", read=answers.hours("hours"))
    letters = {
        key.removeprefix("cord."): text
        for key, text in draft.answers
        if text and len(key) == len("cord.A") and key.startswith("cord.")
    }
    names = tuple(cords_named(draft))
    if names:
        yield Question(
            key="cord_used",
            ask="Cord used (m)",
            read=answers.cord_used(letters, names),
            help=f"By letter or name, such as: {next(iter(letters), names[0])} 38.",
        )
    for part in ("fall", "cracker"):
        proposal = known.fall if part == "fall" else known.cracker
        yield Question(key=part, ask=part.capitalize(), read=answers.text(part), proposal=proposal, none=True)
