"""What was measured and judged, nouns to rows, through the journal: readings and rating sessions."""

from collections.abc import Iterable, Sequence

from sqlalchemy import select

from plaitlog.models.tables import RatingSessionRow, ReadingRow, ScoreRow, WhipRow
from plaitlog.models.whip import COMPARISONS, FEELS, RatingSession, Reading
from plaitlog.service.usecases.changes.journal import Entry, Journal, Row
from plaitlog.service.usecases.loading import whip_keys
from plaitlog.service.usecases.places import unplaced
from plaitlog.service.usecases.storing_parts import Keys, fields, typed
from plaitlog.service.usecases.to_records import is_short, rating_record, reading_record

_READING = (
    "at_mm", "place", "diameter_mm", "girth_mm", "tape_mm", "after_layer", "condition", "doubtful", "on",
    "notes",
)  # fmt: skip
_SESSION = ("by", "on", "hours_of_use", "fall", "cracker", "notes")


def add_readings(journal: Journal, whip_key: int, label: str, readings: Sequence[Reading]) -> None:
    """Append readings to a whip that is in the workshop."""
    insert_readings(
        journal,
        [(journal.entry("reading", label, None, reading_record(label, x)), whip_key, x) for x in readings],
    )


def insert_readings(journal: Journal, owned: Sequence[tuple[Entry, int, Reading]]) -> None:
    """Append readings, each with its entry and the key of its whip."""
    journal.insert(ReadingRow, [(entry, _reading_row(key, x)) for entry, key, x in owned])


def replace_reading(
    journal: Journal, key: int, whip_key: int, before: tuple[str, Reading], after: tuple[str, Reading]
) -> None:
    """``before`` and ``after`` name the whip too; ``whip_key`` is that of the whip after."""
    entry = journal.entry(
        "reading", after[0], reading_record(*before), reading_record(*after), former_name=before[0]
    )
    journal.update(entry, ReadingRow, key, _reading_row(whip_key, after[1]))


def remove_reading(journal: Journal, key: int, label: str, reading: Reading) -> None:
    journal.delete(journal.entry("reading", label, reading_record(label, reading), None), ReadingRow, [key])


def _reading_row(whip_key: int, reading: Reading) -> Row:
    return {**fields(unplaced(reading), _READING), "whip_id": whip_key, "typed": typed(reading.typed)}


def add_ratings(journal: Journal, whip_key: int, label: str, ratings: Sequence[RatingSession]) -> None:
    """Append rating sessions to a whip that is in the workshop."""
    entries = [journal.entry("rating", label, None, rating_record(label, x)) for x in ratings]
    insert_ratings(journal, [(entry, whip_key, x) for entry, x in zip(entries, ratings, strict=True)])
    for entry, rating in zip(entries, ratings, strict=True):
        if is_short(rating):
            _touch_whip(journal, entry, whip_key)


def insert_ratings(journal: Journal, owned: Sequence[tuple[Entry, int, RatingSession]]) -> None:
    """Append rating sessions, each with its entry and the key of its whip.

    Whips that they were thrown beside are in the workshop already.
    """
    beside = _keys_beside(journal, [x for _, _, x in owned])
    keys = journal.insert(
        RatingSessionRow, [(entry, {**_session_row(x, beside), "whip_id": key}) for entry, key, x in owned]
    )
    journal.insert(
        ScoreRow,
        [(entry, row) for key, (entry, _, x) in zip(keys, owned, strict=True) for row in _score_rows(key, x)],
    )


def replace_rating(
    journal: Journal,
    key: int,
    whip_key: int,
    before: tuple[str, RatingSession],
    after: tuple[str, RatingSession],
) -> None:
    """``before`` and ``after`` name the whip too; ``whip_key`` is that of the whip after."""
    entry = journal.entry(
        "rating", after[0], rating_record(*before), rating_record(*after), former_name=before[0]
    )
    session = journal.session
    old_whip = session.scalars(select(RatingSessionRow.whip_id).where(RatingSessionRow.id == key)).one()
    values = {**_session_row(after[1], _keys_beside(journal, [after[1]])), "whip_id": whip_key}
    journal.update(entry, RatingSessionRow, key, values)
    if before[1].scores != after[1].scores:
        scores = session.scalars(select(ScoreRow.id).where(ScoreRow.session_id == key)).all()
        journal.delete(entry, ScoreRow, scores)
        journal.insert(ScoreRow, [(entry, row) for row in _score_rows(key, after[1])])
    if is_short(before[1]):
        _touch_whip(journal, entry, old_whip)
    if is_short(after[1]):
        _touch_whip(journal, entry, whip_key)


def remove_rating(journal: Journal, key: int, whip_key: int, label: str, rating: RatingSession) -> None:
    entry = journal.entry("rating", label, rating_record(label, rating), None)
    journal.delete(entry, RatingSessionRow, [key])
    if is_short(rating):
        _touch_whip(journal, entry, whip_key)


def _touch_whip(journal: Journal, entry: Entry, key: int) -> None:
    """The short rating is part of its whip's record, so the whip has another version with it."""
    version = journal.session.scalars(select(WhipRow.version).where(WhipRow.id == key)).one()
    if version != journal.number:
        journal.update(entry, WhipRow, key, {})


def _keys_beside(journal: Journal, ratings: Iterable[RatingSession]) -> Keys:
    """Keys of the whips that these were thrown beside, which are in the workshop."""
    labels = {x.compared_with for x in ratings if x.compared_with is not None}
    return whip_keys(journal.session, labels) if labels else {}


def _session_row(rating: RatingSession, beside: Keys) -> Row:
    return {
        **fields(rating, _SESSION),
        **{feel: rating.feel.get(feel) for feel in FEELS},
        "compared_with_id": None if rating.compared_with is None else beside[rating.compared_with],
    }


def _score_rows(key: int, rating: RatingSession) -> list[Row]:
    return [
        {
            "session_id": key,
            "quality": quality,
            "score": None if isinstance(score, str) else score,
            "comparison": score if score in COMPARISONS else None,
        }
        for quality, score in rating.scores.items()
    ]
