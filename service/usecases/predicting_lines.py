"""Predictions by the line: one question a line of JSON, one answer a line, in the same order."""

import json
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, BinaryIO, Final

from pydantic import ValidationError

from plaitlog.models import units
from plaitlog.models.calibration.prediction import Interval, Observation, Prediction, Query, predict
from plaitlog.models.errors import Finding, InputError, PlaitlogError, RecordError, nearest_or
from plaitlog.models.stack import PLAITED, Stack, StackLayer, StrandGroup
from plaitlog.models.whip import NONE, TAPE_MM, Cord, Span, girth_to_diameter
from plaitlog.service.schemas.cords import CordRecord
from plaitlog.service.schemas.prediction import LayerIn, QueryIn, ReadingIn
from plaitlog.service.schemas.question_refusals import question_finding
from plaitlog.service.usecases.from_records import Refusals, cord_from
from plaitlog.service.usecases.json_lines import parse_line
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.slots import slots_of

AT_ONCE: Final = 5_000
"""Lines that are worked out together."""


class Reader:
    """Turns questions into queries; layers and readings that were seen before are not built again."""

    def __init__(self, cords: Mapping[str, Cord]) -> None:
        self.cords = cords
        self.layers: dict[tuple[LayerIn, int], StackLayer] = {}
        self.readings: dict[tuple[tuple[ReadingIn, ...], float], tuple[Observation, ...]] = {}

    def query(self, question: QueryIn) -> Query:
        """The query that a line asks.

        Raises
        ------
        InputError
            With the key, what is wrong there and the remedy.
        """
        foundation = self._foundation(question.foundation_mm, question.foundation, "foundation")
        stack = self.stack(question.layers, foundation, "layers")
        readings = self._readings(question.readings, foundation) if question.readings else ()
        return Query(
            stack=stack,
            maker=question.maker,
            condition=question.condition,
            at_mm=_size(question.at_mm, question.at, units.LENGTH, "at"),
            readings=readings,
            inner=_is_inner(stack),
        )

    def stack(self, layers: tuple[LayerIn, ...], foundation_mm: float, where: str) -> Stack:
        """The stack of these layers over a foundation (0: none)."""
        if not layers:
            raise refused(where, "empty-stack", "no layer is given", "name the layers, inside out")
        built = []
        for place, key in enumerate(zip(layers, slots_of([x.role for x in layers]), strict=True), start=1):
            layer = self.layers.get(key)
            if layer is None:
                layer = self.layers[key] = self._layer(*key, f"{where} {place}")
            built.append(layer)
        return Stack(tuple(built), foundation_mm)

    def _layer(self, layer: LayerIn, slot: int, where: str) -> StackLayer:
        diameter = _size(layer.diameter_mm, layer.diameter, units.DIAMETER, f"{where}, diameter")
        thickness = _size(layer.thickness_mm, layer.thickness, units.THICKNESS, f"{where}, thickness")
        if layer.strands is None:
            if (diameter is None) == (thickness is None):
                raise refused(
                    where,
                    "layer-open",
                    f"the {layer.role} has no strands and no size",
                    "give strands and cord",
                )
            if layer.role in PLAITED or layer.role == "filler":
                raise refused(
                    where,
                    "layer-needs-strands",
                    f"a {layer.role} is made of strands",
                    "give strands and cord",
                )
            return StackLayer(role=layer.role, diameter_mm=diameter, thickness_mm=thickness, slot=slot)
        if diameter is not None or thickness is not None:
            raise refused(where, "layer-twice", "strands and a size are given", "keep one of them")
        return StackLayer(
            role=layer.role,
            groups=self._groups(layer, where),
            pattern=layer.pattern,
            turn_mm=_size(layer.turn_mm, layer.turn, units.LENGTH, f"{where}, turn"),
            slot=slot,
        )

    def _groups(self, layer: LayerIn, where: str) -> tuple[StrandGroup, ...]:
        if (layer.cord is None) == (layer.cords is None) or layer.cords == ():
            raise refused(where, "cord-missing", "it is not said of which cord", "give either cord or cords")
        strands = layer.strands
        assert strands is not None
        low, high = (strands, strands) if isinstance(strands, int) else strands
        if low > high:
            raise refused(
                f"{where}, strands",
                "count-range",
                f"[{low}, {high}] runs backwards",
                f"write [{high}, {low}]",
            )
        if layer.cord is not None:
            return (StrandGroup(self._cord(layer.cord, where), Span(low, high), layer.gutted),)
        assert layer.cords is not None
        whole = sum(part.share for part in layer.cords)
        return tuple(
            StrandGroup(
                self._cord(part.cord, where),
                Span(low * part.share / whole, high * part.share / whole),
                layer.gutted,
            )
            for part in layer.cords
        )

    def _cord(self, named: str | CordRecord, where: str) -> Cord:
        if isinstance(named, str):
            found = self.cords.get(named)
            if found is None:
                raise refused(f"{where}, cord", *unknown_cord(named, self.cords))
            return found
        refusals = Refusals()
        stated = cord_from(named, refusals)
        if refusals.findings:
            raise InputError(refusals.findings[0].at(f"{where}, cord"))
        cord = stated.applied_to(
            Cord(name=named.name, material=named.material, construction=named.construction)
        )
        same = self.cords.get(cord.name)
        if same is not None and _measures(same) != _measures(cord):
            # Another cord under a known name must not borrow what was learnt about that one.
            return stated.applied_to(
                Cord(name=f"{cord.name} (inline)", material=cord.material, construction=cord.construction)
            )
        return cord

    def _readings(self, given: tuple[ReadingIn, ...], foundation_mm: float) -> tuple[Observation, ...]:
        readings = self.readings.get((given, foundation_mm))
        if readings is None:
            readings = self.readings[given, foundation_mm] = tuple(
                self._reading(reading, foundation_mm, f"readings {place}")
                for place, reading in enumerate(given, start=1)
            )
        return readings

    def _reading(self, reading: ReadingIn, foundation_mm: float, where: str) -> Observation:
        own = self._foundation(reading.foundation_mm, None, f"{where}, foundation")
        stack = self.stack(reading.layers, own if reading.foundation_mm is not None else foundation_mm, where)
        diameter = _size(reading.diameter_mm, reading.diameter, units.DIAMETER, f"{where}, diameter")
        if (diameter is None) == (reading.girth_mm is None):
            raise refused(where, "one-size", "a reading has one size", "give either diameter_mm or girth_mm")
        if reading.girth_mm is not None:
            diameter = girth_to_diameter(
                reading.girth_mm, TAPE_MM if reading.tape_mm is None else reading.tape_mm
            )
            if diameter <= 0:
                raise refused(
                    f"{where}, tape_mm", "tape-too-thick", "the tape is thicker than the whip", "check both"
                )
        assert diameter is not None
        return Observation(
            stack=stack,
            diameter_mm=diameter,
            whip="",
            at_mm=_size(reading.at_mm, reading.at, units.LENGTH, f"{where}, at"),
            method="caliper" if reading.girth_mm is None else "girth",
            condition=reading.condition,
            inner=_is_inner(stack),
            doubtful=reading.doubtful,
        )

    def _foundation(self, mm: float | str | None, typed: str | None, where: str) -> float:
        if mm == NONE or (mm is None and typed == NONE):
            return 0.0
        assert not isinstance(mm, str)
        return _size(mm, typed, units.DIAMETER, where) or 0.0


def unknown_cord(name: str, cords: Iterable[str]) -> tuple[str, str, str]:
    """Code, text and remedy for a cord that is not in the workshop."""
    remedy = nearest_or(name, cords, "add the cord, or give it inline with its properties", cutoff=0.5)
    return "unknown-cord", f"the cord {name!r} is not in the workshop", remedy


def refused(where: str, code: str, text: str, remedy: str) -> RecordError:
    return RecordError(Finding(code, text, remedy, where))


def _measures(cord: Cord) -> tuple[object, ...]:
    return (
        cord.material,
        cord.construction,
        cord.diameter_mm,
        cord.pressed_mm,
        cord.flat_width_mm,
        cord.linear_density_g_per_m,
        cord.fibre_density_g_per_cm3,
    )


def _size(mm: float | None, typed: str | None, quantity: units.Quantity, where: str) -> float | None:
    if typed is None:
        return mm
    if mm is not None:
        raise refused(where, "said-twice", "it is given as a number and as text", "keep one of them")
    try:
        return units.parse_length(typed, quantity=quantity)
    except InputError as error:
        raise RecordError(error.finding.at(where)) from error


def _is_inner(stack: Stack) -> bool:
    """A stack that ends below the overlay was measured, or is to be measured, before it was covered."""
    return bool(stack.layers) and stack.layers[-1].role != "overlay"


def answer_lines(
    in_force: InForce,
    cords: Mapping[str, Cord],
    lines: BinaryIO,
    *,
    limit_bytes: int,
    interval: Interval = "reading",
) -> Iterator[list[dict[str, Any]]]:
    """Answers to all lines, in order, some thousand at a time."""
    reader = Reader(cords)
    batch: list[tuple[Any, Query | Finding]] = []
    for raw in _raw_lines(lines, limit_bytes):
        batch.append(_asked(reader, raw, limit_bytes))
        if len(batch) == AT_ONCE:
            yield _answered(in_force, batch, interval)
            batch = []
            reader = Reader(cords)
    if batch:
        yield _answered(in_force, batch, interval)


def _raw_lines(stream: BinaryIO, limit_bytes: int) -> Iterator[bytes | None]:
    """Every line that is not blank; None for one above the limit, which is not held in memory."""
    while raw := stream.readline(limit_bytes + 2):
        if len(raw.rstrip(b"\r\n")) <= limit_bytes:
            if raw.strip():
                yield raw
            continue
        while raw and not raw.endswith(b"\n"):
            raw = stream.readline(65_536)
        yield None


def _asked(reader: Reader, raw: bytes | None, limit_bytes: int) -> tuple[Any, Query | Finding]:
    """The id of a line and its query, or why there is none."""
    if raw is None:
        return None, Finding(
            "line-too-long", f"the line is longer than {limit_bytes} bytes", "part the question into several"
        )
    try:
        question = QueryIn.model_validate_json(raw)
    except ValidationError as error:
        line = parse_line(raw)
        if line.refusal is not None:
            return None, line.refusal
        named = line.data.get("id") if isinstance(line.data, dict) else None
        return named, question_finding(error)
    try:
        return question.id, reader.query(question)
    except PlaitlogError as error:
        return question.id, error.finding


def _answered(
    in_force: InForce, batch: list[tuple[Any, Query | Finding]], interval: Interval
) -> list[dict[str, Any]]:
    queries = [asked for _, asked in batch if isinstance(asked, Query)]
    answers = iter(_predicted(in_force, queries, interval))
    of_fit = [_finding(finding) for finding in in_force.findings]
    return [
        _line(named, next(answers) if isinstance(asked, Query) else asked, of_fit) for named, asked in batch
    ]


def _predicted(in_force: InForce, queries: list[Query], interval: Interval) -> list[Prediction | Finding]:
    """All at once; where that fails one by one, so that only the line at fault goes without an answer."""
    try:
        return list(predict(in_force.calibration, queries, interval=interval))
    except PlaitlogError as error:
        if len(queries) == 1:
            return [error.finding]
        return [_predicted(in_force, [query], interval)[0] for query in queries]


def _line(named: Any, answer: Prediction | Finding, of_fit: list[dict[str, str]]) -> dict[str, Any]:
    if isinstance(answer, Finding):
        return {"id": named, "error": _finding(answer)}
    line = {"id": named, **prediction_json(answer)}
    line["findings"] += of_fit
    return line


def prediction_json(answer: Prediction) -> dict[str, Any]:
    """A prediction as it stands in a line of answers, without the id."""
    return {
        "diameter_mm": answer.diameter_mm,
        "sd_log": answer.sd_log,
        "low_50_mm": answer.low_50_mm,
        "high_50_mm": answer.high_50_mm,
        "low_90_mm": answer.low_90_mm,
        "high_90_mm": answer.high_90_mm,
        "cover": answer.cover,
        "new_cord": answer.new_cord,
        "findings": [_finding(finding) for finding in answer.findings],
    }


def encoded(answers: Iterable[Mapping[str, Any]]) -> bytes:
    """Answers as lines of JSON."""
    return "".join(f"{_ENCODE(answer)}\n" for answer in answers).encode("utf-8", "backslashreplace")


_ENCODE = json.JSONEncoder(ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode


def _finding(finding: Finding) -> dict[str, str]:
    text = f"{finding.where}: {finding.text}" if finding.where else finding.text
    return {"code": finding.code, "text": text, "remedy": finding.remedy}
