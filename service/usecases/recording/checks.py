"""The record so far, looked over after every answer: the same checks as an import, and the fit's view."""

from collections.abc import Sequence

from pydantic import ValidationError

from plaitlog.models.errors import Finding, RecordError
from plaitlog.models.plausibility import check_cord, check_whip
from plaitlog.models.whip import Cord, Whip
from plaitlog.service.schemas.cords import CordRecord
from plaitlog.service.schemas.refusals import findings_of, record_from
from plaitlog.service.schemas.whips import WhipRecord
from plaitlog.service.usecases.describing import describe, missing, rating_line
from plaitlog.service.usecases.from_records import Refusals, cord_from, rating_from
from plaitlog.service.usecases.merging import begin, take_in
from plaitlog.service.usecases.missing.lacking import RATED
from plaitlog.service.usecases.places import placed
from plaitlog.service.usecases.recording.dialogue import Bench, Draft
from plaitlog.service.usecases.recording.record import Record, next_question, records, typed_units
from plaitlog.service.usecases.reviewing import review
from plaitlog.service.usecases.shown_units import ShownUnits


def look_over(draft: Draft, bench: Bench) -> list[Finding]:
    """What there is to remark on the whip so far.

    Raises
    ------
    InputError
        Where it can no longer be true: a reading past the point, a layer that does not run there.
    """
    pending = next_question(draft, bench)
    if pending is not None and pending.key.startswith("cord."):
        return []  # the layer cannot be judged before its cords are named
    whip, cords, findings = whip_of(draft, bench)
    slips = check_whip(whip, today=bench.today)
    far: list[Finding] = []
    if whip.readings and bench.in_force is not None:
        found = review(bench.in_force, whip, cords).findings
        far = [finding for finding in found if finding.code == "far-from-prediction"]
    return [*findings, *slips, *far]


def whip_of(draft: Draft, bench: Bench) -> tuple[Whip, dict[str, Cord], tuple[Finding, ...]]:
    """The whip so far, every cord it may name, and findings.

    Raises
    ------
    InputError
        With the first thing that cannot be taken.
    """
    return whip_from(records(draft, bench), bench)


def whip_from(found: Sequence[Record], bench: Bench) -> tuple[Whip, dict[str, Cord], tuple[Finding, ...]]:
    """The same from the records of the answers.

    Raises
    ------
    InputError
        With the first thing that cannot be taken.
    """
    refusals = Refusals()
    cords = dict(bench.cords)
    whip = Whip(label="")
    findings: tuple[Finding, ...] = ()
    for record in found:
        if record["kind"] == "rating" or (record["kind"] == "cord" and "construction" not in record):
            continue
        shape = _shape({"label": "(no label yet)", **record} if record["kind"] == "whip" else record)
        if isinstance(shape, CordRecord):
            cord = cord_from(shape, refusals).applied_to(
                Cord(name=shape.name, material=shape.material, construction=shape.construction)
            )
            findings += check_cord(cord)
            cords[cord.name] = cord
        elif isinstance(shape, WhipRecord):
            merged = begin(None, shape.label)
            findings += take_in(merged, shape, 1, refusals)
            whip = placed(merged.after)
    if refusals.findings:
        raise RecordError(refusals.findings[0])
    return whip, cords, findings


def _shape(record: Record) -> object:
    try:
        return record_from(record)
    except ValidationError as error:
        raise RecordError(findings_of(error)[0]) from error


def in_words(draft: Draft, bench: Bench) -> list[str]:
    """The whole whip in words, with what is missing, to be looked at before it is kept."""
    whip, _, _ = whip_of(draft, bench)
    return words_of(whip, records(draft, bench), bench.units or typed_units(draft) or ShownUnits())


def words_of(whip: Whip, found: Sequence[Record], shown: ShownUnits) -> list[str]:
    """The same of a whip and the records that it was read from."""
    lines = describe(whip, shown)
    for record in found:
        if record["kind"] == "rating":
            lines.append(rating_line(rating_from(record_from(record))))  # type: ignore[arg-type]
        if record["kind"] == "cord":
            lines.append(
                f"new cord {record['name']}: {record.get('material', 'material not said yet')}, "
                f"{record.get('construction', 'construction not said yet')}"
            )
    rated = any(record["kind"] == "rating" for record in found)
    lacking = [line for line in missing(whip, shown) if not (rated and line == RATED.name)]
    if lacking:
        lines += ["not noted:", *(f"  {line}" for line in lacking)]
    return lines
