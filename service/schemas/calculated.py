"""What the server answers about fits, predictions, imports and its own health."""

import datetime as dt
from typing import Any, Literal

from pydantic import Field

from plaitlog.service.schemas.answers import Number, PageOut, Wire
from plaitlog.service.schemas.failures import Remark
from plaitlog.service.schemas.prediction import PredictionOut, RefusalOut


class RatioEvidenceOut(Wire):
    """What was measured on whips that were left out in turn, against what is predicted and reckoned.

    Errors are root mean squares of the natural logarithm.
    """

    whips: int = Field(description="Number of whips.")
    measurements: int = Field(description="Number of measurements on them.")
    model: float = Field(description="Error of the prediction.")
    reckoned: float = Field(description="Error of the reckoning from strands and linear density alone.")
    mean_ratio: float = Field(description="Error of that reckoning times the mean ratio of the other whips.")
    coverage_90: float = Field(description="Share of measurements inside the 90 % interval, 0 to 1.")
    slips: int = Field(ge=0, description="Measurements that nothing came near, left out of all figures.")


class FitOut(Wire):
    """One stored fit."""

    fit: Number = Field(description="Its number.")
    created_at: dt.datetime = Field(description="When it was made, in UTC.")
    code_version: str = Field(description="The version of the program that made it.")
    readings: int = Field(description="Number of readings it rests on.")
    whips: int = Field(description="Number of whips it rests on.")
    cords: int = Field(description="Number of cords it rests on.")
    current: bool = Field(description="Whether it is in force: predictions rest on it.")
    stale: bool = Field(description="Whether whips, readings or cords changed since it was made.")
    added: int = Field(
        0, ge=0, description="Number of whips that were added to it one by one; its evidence is from before."
    )
    evidence: dict[str, Any] | None = Field(
        description="How well it predicts what was held out, errors as natural logarithms and in mm; "
        "null: it was skipped. Single held-out readings are in its report."
    )
    weighing: dict[str, RatioEvidenceOut] = Field(
        description="How well it predicts weights (`weight`), balance points (`balance`) and metres of cord "
        "(`cord_use`), as far as it knows three whips on which they are noted."
    )
    findings: list[Remark] | None = Field(
        None, description="When it was just made: readings left out, suspects, what else is worth a look."
    )


class FitReportOut(Wire):
    """What a fit is worth; sizes in mm, errors as natural logarithms."""

    fit: Number = Field(description="Its number.")
    made_at: dt.datetime = Field(description="When it was made, in UTC.")
    code_version: str = Field(description="The version of the program that made it.")
    fingerprint: str = Field(description="The state of the records that it was made from.")
    current: bool = Field(description="Whether it is in force.")
    records_changed: bool = Field(
        description="Whether whips, readings or cords changed since; cords and odd readings are told from "
        "the records as they are now."
    )
    readings: int = Field(description="Number of readings it rests on.")
    whips: int = Field(description="Number of whips it rests on.")
    makers: int = Field(description="Number of makers it rests on.")
    rests_on: str = Field(description="From what it learnt, in words.")
    verdict: list[str] = Field(description="How good it is against its rivals, in sentences.")
    evidence: dict[str, Any] | None = Field(
        description="The figures behind the verdict, with single held-out readings; null: it was skipped."
    )
    hands: str | None = Field(description="The maker whose plaits of each cord are predicted.")
    cords: list[dict[str, Any]] = Field(
        description="Cords of the workshop, the widest interval first: what teaches each, a typical plait of "
        "it in mm with its 90 % interval, what is thin, what each measurement that it lacks would bring."
    )
    cords_in_all: int = Field(description="Number of cords in the workshop.")
    odd_readings: list[dict[str, Any]] = Field(
        description="Readings that do not fit, the worst first, in mm: what the rest of the whip lets "
        "expect, the likeliest slip and the reading once it is put right."
    )
    odd_in_all: int = Field(description="Number of readings that did not fit when the fit was made.")
    test_plaits: list[dict[str, Any]] = Field(
        description="The short test plaits that would narrow most, with what they would bring, in mm."
    )
    weight: list[str] = Field(
        description="How well weights, balance points and cord use are predicted, in words."
    )
    weighing: dict[str, RatioEvidenceOut] = Field(description="The figures behind it.")
    findings: list[dict[str, str]] = Field(description="What else is worth knowing.")


class FitsPage(PageOut):
    """A page of the list of fits."""

    items: list[FitOut] = Field(description="Fits, the latest first.")


class PredictionsOut(Wire):
    """Answers to all questions."""

    fit: Number | None = Field(description="Number of the fit in force; null: geometry and priors alone.")
    rests_on: str = Field(description="What the predictions rest on, in words.")
    caution: str = Field(description="What to keep in mind; to be shown beside the diameters.")
    answers: list[PredictionOut | RefusalOut] = Field(description="One for each question, in their order.")


class CordExpectedOut(Wire):
    """Metres of one cord that a whip takes, tails included."""

    cord: str = Field(description="Name of the cord.")
    metres: float = Field(description="What is to be expected, m.")
    low_90_m: float = Field(description="Lower end of the 90 % interval, m.")
    high_90_m: float = Field(description="Upper end of the 90 % interval, m.")


class ExpectedOut(Wire):
    """What a whip should weigh, where it balances, what cord it takes."""

    weight_g: float = Field(description="Thong and handle without fall and cracker, g.")
    weight_low_90_g: float = Field(description="Lower end of its 90 % interval, g.")
    weight_high_90_g: float = Field(description="Upper end of its 90 % interval, g.")
    balance_from_butt_mm: float | None = Field(
        description="Balance point of the whip laid straight, mm from the butt, with what was on the scale; "
        "null: the handle's length is not known."
    )
    balance_low_90_mm: float | None = Field(description="Lower end of its 90 % interval, mm.")
    balance_high_90_mm: float | None = Field(description="Upper end of its 90 % interval, mm.")
    cord_use: list[CordExpectedOut] = Field(
        description="Metres of each cord; empty where the handle's length is not known."
    )
    weighed_whips: int = Field(ge=0, description="Number of weighed whips it rests on.")
    findings: list[str] = Field(description="What is worth knowing about it.")


class StationLikeOut(Wire):
    """One station of the whip."""

    at_mm: float = Field(description="Station, mm from the whip's datum.")
    measured_mm: list[float] = Field(description="Diameters measured there, mm.")
    as_was: PredictionOut = Field(description="What the fit makes of it in its own cords.")
    swapped: PredictionOut = Field(description="What it makes of it in the other cords.")


class LikeOut(Wire):
    """A recorded whip in other cords."""

    like: str = Field(description="Label of the whip.")
    swaps: dict[str, str] = Field(description="Cords of the whip, each with the one in its place.")
    stations: list[StationLikeOut] = Field(description="Its stations, from the datum on.")
    weighing: ExpectedOut | None = Field(
        description="Weight, balance point and cord use in the other cords; null: not known well enough."
    )
    findings: list[Remark] = Field(description="What is worth knowing about it.")
    rests_on: str = Field(description="What it rests on, in words.")
    caution: str = Field(description="What to keep in mind.")


class RowOut(Wire):
    """What became of one row of a file."""

    line: int = Field(description="Line of the file, or row of the sheet, from 1.")
    sheet: str = Field(description="Name of the sheet; empty where the file has none.")
    kind: str = Field(description="Kind of record; empty where it cannot be told.")
    name: str = Field(description="Label or name it is about; empty where it cannot be told.")
    outcome: Literal["add", "update", "there already", "rejected"] = Field(description="What became of it.")
    detail: str = Field(description="What is new or changed, in words.")
    implied: bool = Field(description="Whether it is no row of the file, but a maker whom a whip names.")
    findings: list[Remark] = Field(description="Why it is rejected, or what is worth a look.")


class CountsOut(Wire):
    """Rows of the file by outcome; they add up to its rows."""

    add: int = Field(ge=0, description="Rows that add a record.")
    update: int = Field(ge=0, description="Rows that change a record.")
    there_already: int = Field(ge=0, alias="there already", description="Rows that say nothing new.")
    rejected: int = Field(ge=0, description="Rows that cannot be taken.")


class ImportOut(Wire):
    """What an import did, or would do."""

    written: bool = Field(description="Whether anything was to be written; false for a dry run.")
    change: Number | None = Field(
        description="Number of the change in the history, to be undone whole; null: nothing changed."
    )
    counts: CountsOut = Field(description="Rows by outcome.")
    readings_added: int = Field(ge=0, description="Number of readings that are new.")
    rows: list[RowOut] = Field(description="Rows in their order; of a long file those with findings first.")
    rows_left_out: int = Field(ge=0, description="Number of rows that are not listed.")
    said: list[str] = Field(
        description="How a table was read: its columns, units and decimal mark, what was passed over."
    )
    findings: list[Remark] = Field(description="What is worth knowing about the file as a whole.")


class Alive(Wire):
    """The server runs."""

    status: Literal["alive"] = Field(description="Always alive.")


class Ready(Wire):
    """The server can do its work."""

    status: Literal["ready"] = Field(description="Always ready; else the answer is a failure.")
    database: Literal["sqlite", "postgresql"] = Field(description="Kind of database.")
    revision: str = Field(description="Revision of its tables.")
