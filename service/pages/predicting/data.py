"""What the page of predictions shows, as plain data: the stack both ways, the answer, why, the counts."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from itertools import accumulate
from typing import Any, Final

from plaitlog.models.calibration.prediction import Interval, Prediction, Query
from plaitlog.models.errors import Finding, InputError, PlaitlogError
from plaitlog.models.stack import Stack
from plaitlog.models.units import parse_diameter
from plaitlog.models.whip import CONDITIONS, Cord
from plaitlog.service.pages.predicting.asked import BESIDE, Asked, address_of, letters_text, with_line
from plaitlog.service.pages.refusals import told
from plaitlog.service.reports.share_bar import share_bar
from plaitlog.service.usecases.explaining_stacks import LayerShare, explained, readings_of_cords
from plaitlog.service.usecases.names import cord_meant
from plaitlog.service.usecases.predicting import CAUTION, InForce
from plaitlog.service.usecases.predicting_stacks import (
    cover_text,
    is_inner_stack,
    lies_well,
    stack_findings,
    strands_for,
    typed_stack,
)
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.stack_rows import ROLES, StackLine, StackRow, line_of, rows_of
from plaitlog.service.usecases.wanted_stacks import maker_of_most, typical_stacks

NEAREST: Final = 7
"""How many counts the answer to "how many strands" shows."""


def at_first(in_force: InForce, cords: Mapping[str, Cord], maker: str | None) -> Asked:
    """A common stack that lies well to begin with, of the cord that is known best, in the usual hands."""
    counted = in_force.calibration.cords
    name = min(cords, key=lambda name: (-counted.get(name, 0), name), default=None)
    beside = {**dict.fromkeys(BESIDE, ""), "maker": maker or maker_of_most(in_force.calibration) or ""}
    layers: list[tuple[str, str]] = [("core", ""), ("overlay", "")]
    if name is not None:
        typical = typical_stacks(in_force, cords[name], beside["maker"]).queries
        covers = [one.cover or 0.0 for one in in_force.predict(typical)]
        lying = [query for query, cover in zip(typical, covers, strict=True) if lies_well(cover)]
        stack = (lying or typical)[0].stack
        layers = [(layer.role, f"{layer.count.low:g}") for layer in stack.layers]
    rows = tuple(StackRow(role=role, cord=name or "", strands=strands) for role, strands in layers)
    return Asked(rows, StackLine("", {}), beside)


def answered(
    in_force: InForce, cords: Mapping[str, Cord], makers: Iterable[str], asked: Asked, shown: ShownUnits
) -> dict[str, Any]:
    """The whole page. What cannot be answered is told beside it, and stays as it was typed."""
    rows = asked.rows
    line = asked.line
    refused: dict[str, str] | None = None
    stack: Stack | None = None
    try:
        if rows is None:
            line = _whole_names(line, cords)
            read = rows_of(line, _only(asked, cords))
            rows = None if read is None else tuple(read)
        else:
            line = line_of(rows, shown)
        stack = typed_stack(line.text, cords, line.letters, asked.only or None)
    except InputError as error:
        refused = told(_for_page(error.finding))
        rows = asked.typed_rows if asked.rows is None else asked.rows
    said = letters_text(line.letters)
    was = (line.text, said) if stack is not None or asked.rows is not None else asked.was
    asked = with_line(asked, line)
    beside = asked.beside
    counts, counts_refused = _counts(in_force, cords, asked, stack, shown)
    return {
        "rows": None if rows is None else [asdict(row) for row in rows],
        "rows_from": "line" if asked.rows is None else "rows",
        "roles": [[role, role] for role in ROLES],
        "cords": list(cords),
        "of_cords": [["", "that of the outermost layer"], *([name, name] for name in cords)],
        "makers": [["", "not said"], *([name, name] for name in _with(makers, beside["maker"]))],
        "conditions": [["", "rolled, as where nothing is said"], *([one, one] for one in CONDITIONS)],
        "intervals": [["", "the next caliper reading"], ["true", "the diameter itself"]],
        "typed": {
            **beside,
            "line": asked.line.text,
            "cords": said,
            "line_was": was[0],
            "cords_was": was[1],
            "only": asked.only,
        },
        "unit": shown.diameters,
        "refused": refused,
        "answer": None if stack is None else _answer(in_force, stack, beside, shown),
        "counts": counts,
        "counts_refused": counts_refused,
        "address": address_of(asked),
        "caution": CAUTION,
        "rests_on": in_force.rests_on,
    }


def _answer(
    in_force: InForce, stack: Stack, beside: Mapping[str, str], shown: ShownUnits
) -> dict[str, Any] | None:
    query = Query(
        stack=stack,
        maker=beside["maker"] or None,
        condition=_condition(beside),
        inner=is_inner_stack(stack),
    )
    try:
        one, layers = explained(in_force, query, shown, _interval(beside))
    except PlaitlogError as error:
        return {"cannot": told(error.finding)}
    findings = [*stack_findings(stack), *(x for x in one.findings if x.code != "no-fit")]
    readings = [
        f"{name}: {number or 'no'} reading{'' if number == 1 else 's'}"
        for name, number in readings_of_cords(in_force, stack)
    ]
    return {
        "cannot": None,
        "diameter_mm": one.diameter_mm,
        "low_90_mm": one.low_90_mm,
        "high_90_mm": one.high_90_mm,
        "diameter": shown.diameter_number(one.diameter_mm),
        "interval": shown.interval(one.low_90_mm, one.high_90_mm),
        "half": shown.interval(one.low_50_mm, one.high_50_mm),
        "meant": "the diameter itself" if _interval(beside) == "true" else "the next caliper reading",
        "cover": _cover(one),
        "inner": is_inner_stack(stack),
        "new_cord": one.new_cord,
        "findings": [told(finding) for finding in findings],
        "readings": readings,
        "layers": _layers(layers, shown),
        "body": shown.diameter(layers[-1].inner_mm) if layers[-1].inner_mm else "",
    }


def _layers(shares: Sequence[LayerShare], shown: ShownUnits) -> list[dict[str, Any]]:
    starts = [0.0, *accumulate(one.share for one in shares)]
    return [
        {
            "name": one.name,
            "made_of": one.made_of,
            "outer": shown.diameter_number(one.outer_mm),
            "share": f"{100 * one.share:.0f} %",
            "share_of_whole": one.share,
            "bar": share_bar(start, one.share),
            "cover": "" if one.cover is None else shown.number(f"{one.cover:.2f}"),
            "angle": "" if one.angle_deg is None else f"{one.angle_deg:.0f}°",
        }
        for one, start in zip(shares, starts, strict=False)
    ]


def _counts(
    in_force: InForce, cords: Mapping[str, Cord], asked: Asked, stack: Stack | None, shown: ShownUnits
) -> tuple[dict[str, Any] | None, dict[str, str] | None]:
    """How many strands for a diameter, or what is to be mended in the question."""
    beside = asked.beside
    if not beside["for"]:
        return None, None
    try:
        wanted_mm = _diameter(beside["for"], "for", shown)
        over_mm = None if not beside["over"] else _diameter(beside["over"], "over", shown)
        cord = _cord_of(beside["of"], cords, stack)
        if over_mm is not None and over_mm >= wanted_mm:
            raise InputError(
                Finding("over", "it is not thinner than what is wanted", "give the body", "over")
            )
        lines = strands_for(
            in_force,
            cord,
            wanted_mm,
            over_mm=over_mm,
            maker=beside["maker"] or None,
            condition=_condition(beside),
            interval=_interval(beside),
        )
    except PlaitlogError as error:
        return None, told(error.finding)
    best, well = lines[0], next((line for line in lines if line.lies_well), None)
    body = "over nothing" if over_mm is None else f"over {shown.diameter(over_mm)}"
    return {
        "cord": cord.name,
        "wanted": shown.diameter(wanted_mm),
        "body": body,
        "best": best.count,
        "best_words": f"{best.count} strands, {best.pattern}: {shown.diameter(best.prediction.diameter_mm)}",
        "well": None
        if well is None or best.lies_well
        else f"{well.count} strands, {well.pattern}: {shown.diameter(well.prediction.diameter_mm)}",
        "lines": [
            {
                "count": line.count,
                "pattern": line.pattern,
                "diameter": shown.diameter_number(line.prediction.diameter_mm),
                "off": shown.difference(line.off_mm(wanted_mm)),
                "interval": shown.interval(line.prediction.low_90_mm, line.prediction.high_90_mm),
                **_cover_words(line.prediction, shown),
            }
            for line in sorted(lines[:NEAREST], key=lambda line: line.count)
        ],
    }, None


def _only(asked: Asked, cords: Mapping[str, Cord]) -> str | None:
    """The cord of counts without a letter: as it is said, else the only one there is."""
    named = [asked.only] if asked.only else list(asked.line.letters.values()) or list(cords)
    return cord_meant(named[0], cords).name if len(named) == 1 else None


def _with(names: Iterable[str], chosen: str) -> list[str]:
    """The names there are, and the one that was chosen where it is none of them."""
    found = list(names)
    return found if not chosen or chosen in found else [*found, chosen]


def _cover_words(one: Prediction, shown: ShownUnits) -> dict[str, str]:
    """The cover, and in words how strands lie that cannot lie like that."""
    cover, _, words = cover_text(one).partition(" ")
    return {"cover": shown.number(cover), "lies": words}


def _cord_of(typed: str, cords: Mapping[str, Cord], stack: Stack | None) -> Cord:
    if typed:
        return cord_meant(typed, cords)
    outermost = [group.cord for layer in (stack.layers if stack else ()) for group in layer.groups]
    if outermost:
        return outermost[-1]
    raise InputError(Finding("cord-missing", "it is not said of which cord", "choose one", "of"))


def _whole_names(line: StackLine, cords: Mapping[str, Cord]) -> StackLine:
    """The line with the names of its cords as the workshop has them, where a part of one was typed."""
    return StackLine(
        line.text, {letter: cord_meant(typed, cords).name for letter, typed in line.letters.items()}
    )


def _cover(one: Prediction) -> str:
    return "" if one.cover is None else f"{one.cover:.2f}"


def _interval(beside: Mapping[str, str]) -> Interval:
    return "true" if beside["interval"] == "true" else "reading"


def _condition(beside: Mapping[str, str]) -> str | None:
    return beside["condition"] if beside["condition"] in CONDITIONS else None


def _diameter(typed: str, where: str, shown: ShownUnits) -> float:
    try:
        return parse_diameter(typed, unit=shown.diameters)
    except InputError as error:
        raise InputError(error.finding.at(where)) from error


def _for_page(finding: Finding) -> Finding:
    """Where a cord is not named the page says how to name it; the remedy of the command line is its own."""
    if finding.code != "cord-missing":
        return finding
    return Finding(finding.code, finding.text, "name it under cords, like A = Ridge 4 mm", finding.where)
