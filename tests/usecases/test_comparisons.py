"""Ratings beside another whip: what is refused, and that they follow that whip wherever it goes."""

from collections.abc import Callable
from typing import Any

import pytest
from sqlalchemy import Engine

from plaitlog.models.errors import ImportRefusedError, RecordError, UndoError
from plaitlog.models.whip import RatingSession
from plaitlog.service.database import reading, writing
from plaitlog.service.usecases import workshop
from plaitlog.service.usecases.changes import editing
from plaitlog.service.usecases.changes.undoing import redo, undo
from plaitlog.service.usecases.describing import rating_line
from plaitlog.service.usecases.exporting import export_records
from plaitlog.service.usecases.import_writing import WHIPS_AT_ONCE
from plaitlog.service.usecases.importing import take_records
from tests.spreadsheets.workshop_files import take as take_table
from tests.usecases.contents import contents
from tests.usecases.examples import WORKSHOP

LABEL, OTHER = "2026-014", "old 3"
BESIDE = {
    "kind": "rating",
    "whip": LABEL,
    "by": "Orrin",
    "on": "2026-03-10",
    "compared_with": OTHER,
    "scores": {
        "ease": "worse",
        "volley": "better",
        "tracking": "same",
        "balance": 6,
        "accuracy": "not tried",
    },
}


def do(engine: Engine, work: Callable[..., Any], *what: Any, **named: Any) -> Any:
    with writing(engine) as session:
        return work(session, *what, **named)


def refused(engine: Engine, record: dict[str, Any]) -> list[tuple[str, str]]:
    """Place and words of what is to be mended in a record, after making sure that nothing was written."""
    before = contents(engine)
    with pytest.raises(ImportRefusedError) as error:
        do(engine, take_records, [record])
    assert contents(engine) == before
    return [(finding.where, str(finding)) for finding in error.value.findings]


def sessions(engine: Engine, label: str = LABEL) -> list[RatingSession]:
    with reading(engine) as session:
        return [x for x in workshop.whip(session, label).ratings if x.compared_with is not None]


def exported(engine: Engine) -> list[dict[str, Any]]:
    with reading(engine) as session:
        return [x for x in export_records(session) if "compared_with" in x]


@pytest.fixture
def stocked(engine: Engine) -> Engine:
    do(engine, take_records, [*WORKSHOP, BESIDE])
    return engine


def test_a_comparison_is_kept_as_it_was_given(stocked: Engine) -> None:
    (found,) = sessions(stocked)
    assert (found.compared_with, found.scores) == (OTHER, BESIDE["scores"])
    assert exported(stocked) == [{**BESIDE, "scores": {**BESIDE["scores"]}}]


def test_one_line_says_what_it_was_compared_with() -> None:
    line = rating_line(RatingSession(by="Orrin", compared_with="2026-014", scores={"volley": "better"}))
    assert line == "rated by Orrin beside 2026-014: volley better"


@pytest.mark.parametrize(
    ("changes", "where", "words"),
    [
        ({"compared_with": None}, "scores, ease", "give compared_with"),
        ({"compared_with": LABEL}, "compared_with", "compared with itself"),
        ({"compared_with": "old 4"}, "compared_with", "did you mean 'old 3'?"),
        ({"compared_with": "Fenn's"}, "compared_with", "add the whip, or correct the label"),
        ({"scores": {"ease": "nicer"}}, "scores, ease", "write 'not tried', 'better', 'same' or 'worse'"),
    ],
)
def test_what_cannot_be_is_refused_with_what_to_do(
    stocked: Engine, changes: dict[str, Any], where: str, words: str
) -> None:
    found = refused(stocked, {**BESIDE, "on": "2026-03-11", **changes})
    assert any(place.endswith(where) and words in said for place, said in found), found


def test_the_short_rating_of_a_whip_compares_with_nothing(stocked: Engine) -> None:
    found = refused(stocked, {"kind": "whip", "label": LABEL, "ratings": {"ease": "better"}})
    assert found == [("line 1, ratings, ease", found[0][1])]
    assert "write 'not tried'" in found[0][1]


def test_an_edit_is_checked_like_a_file(stocked: Engine) -> None:
    with reading(stocked) as session:
        keys = [key for key, _, x in workshop.ratings_with_keys(session, LABEL) if x.compared_with]
    before = contents(stocked)
    for changes, words in (
        ({"compared_with": "old 4"}, "did you mean 'old 3'?"),
        ({"compared_with": LABEL}, "compared with itself"),
        ({"compared_with": None}, "give compared_with"),
        ({"whip": OTHER}, "compared with itself"),
    ):
        with pytest.raises(RecordError, match=words.replace("?", r"\?")):
            do(stocked, editing.edit_rating, keys[0], changes)
    assert contents(stocked) == before
    number = do(stocked, editing.edit_rating, keys[0], {"scores": {"ease": "same"}}).number
    assert sessions(stocked)[0].scores == {"ease": "same"}
    do(stocked, editing.edit_rating, keys[0], {"compared_with": None, "scores": {"ease": 4}})
    assert sessions(stocked) == []
    do(stocked, undo)
    do(stocked, undo, number)
    assert contents(stocked) == before


def test_comparisons_with_two_whips_on_one_day_stand_side_by_side(stocked: Engine) -> None:
    do(stocked, take_records, [{"kind": "whip", "label": "third"}, {**BESIDE, "compared_with": "third"}])
    assert [x.compared_with for x in sessions(stocked)] == [OTHER, "third"]
    do(stocked, take_records, [{**BESIDE, "scores": {"ease": "same"}}])
    assert [dict(x.scores) for x in sessions(stocked)] == [{"ease": "same"}, BESIDE["scores"]]


def test_a_comparison_follows_the_label_of_the_other_whip_there_and_back(stocked: Engine) -> None:
    before = contents(stocked)
    do(stocked, editing.edit_whip, OTHER, {"label": "old three"})
    assert [x["compared_with"] for x in exported(stocked)] == ["old three"]
    do(stocked, undo)
    assert contents(stocked) == before
    do(stocked, redo)
    assert [x.compared_with for x in sessions(stocked)] == ["old three"]


def test_the_other_whip_stays_as_long_as_it_is_named(stocked: Engine) -> None:
    before = contents(stocked)
    with pytest.raises(RecordError, match=r"named by ratings of 2026-014.*remove these ratings first"):
        do(stocked, editing.remove_whip, OTHER)
    assert contents(stocked) == before
    do(stocked, editing.remove_whip, LABEL)
    do(stocked, editing.remove_whip, OTHER)
    with pytest.raises(UndoError):
        do(stocked, undo, 2)
    do(stocked, undo)
    do(stocked, undo)
    assert contents(stocked) == before


def test_an_undo_takes_no_whip_away_that_a_later_rating_names(engine: Engine) -> None:
    do(engine, take_records, WORKSHOP)
    do(engine, take_records, [{"kind": "whip", "label": "third"}])
    do(engine, take_records, [{**BESIDE, "compared_with": "third"}])
    with pytest.raises(UndoError, match="rating of 2026-014"):
        do(engine, undo, 2)
    do(engine, undo, 3)
    do(engine, undo, 2)
    assert sessions(engine) == []


def test_two_whips_of_one_file_may_each_be_compared_with_the_other(engine: Engine) -> None:
    back = {**BESIDE, "whip": OTHER, "compared_with": LABEL}
    do(engine, take_records, [BESIDE, back, *WORKSHOP])
    assert [x.compared_with for x in (*sessions(engine), *sessions(engine, OTHER))] == [OTHER, LABEL]


def test_a_table_of_ratings_has_a_column_for_it(engine: Engine) -> None:
    do(engine, take_records, WORKSHOP)
    table = b"Whip;Rated by;Beside;Ease;Roll-out;Volley\n2026-014;Wenna;old 3;Better;SAME;4\n"
    take_table(engine, table, "ratings.csv")
    (found,) = sessions(engine)
    assert found.compared_with == OTHER
    assert found.scores == {"ease": "better", "roll_out": "same", "volley": 4}


def test_the_other_whip_may_stand_far_down_a_long_file(engine: Engine) -> None:
    """Further down than what is written at once; the order of sessions stays as the file has it."""
    many = [{"kind": "whip", "label": f"w{number:03}"} for number in range(WHIPS_AT_ONCE + 1)]
    last = {**BESIDE, "whip": "w000", "compared_with": many[-1]["label"]}
    numbers = {"kind": "rating", "whip": "w000", "by": "Orrin", "scores": {"ease": 4}}
    do(engine, take_records, [last, numbers, *many])
    with reading(engine) as session:
        found = workshop.whip(session, "w000").ratings
    assert [x.compared_with for x in found] == [many[-1]["label"], None]
    do(engine, undo)
    assert not any(contents(engine).values())
    do(engine, redo)
    assert [x.compared_with for x in sessions(engine, "w000")] == [many[-1]["label"]]
