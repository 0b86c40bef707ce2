"""The records behave like a plain dictionary: import, edit, remove, undo, redo, export in whatever order.

Beside the real store a dictionary is kept: whips with their stated keys and a bag of readings. Every rule
changes both; after every rule the export must say what the dictionary says. Undo and redo are held to more:
where every table is as the change left it, or found it, they must succeed and leave every table, keys and
versions included, as it was before the change, or after it.
"""

import copy
import io
import json
import os
import tempfile
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from sqlalchemy import func, select

from plaitlog.models.errors import RecordError, UndoError
from plaitlog.models.tables import HistoryRow
from plaitlog.service.database import reading, writing
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases import workshop
from plaitlog.service.usecases.changes import editing
from plaitlog.service.usecases.changes.undoing import redo, undo
from plaitlog.service.usecases.exporting import export_records
from plaitlog.service.usecases.importing import import_lines
from plaitlog.service.usecases.to_records import reading_record
from tests.usecases.contents import content_hash
from tests.usecases.examples import FELL, RIDGE

LONG = os.environ.get("PLAITLOG_TESTS_LONG") == "1"
"""1,000 runs of 50 steps, for the figures that stand for a release; some twenty minutes."""

LAYERS: list[list[dict[str, Any]]] = [
    [{"role": "core", "cord": "Ridge 4 mm", "strands": [[0, 6], [300, 4], [700, 0]], "fate": "cut"}],
    [
        {"role": "core", "cord": "Fell 3 mm", "strands": [[0, 4], [500, 0]]},
        {"role": "binding", "thickness_mm": 0.2, "to_mm": 900},
        {"role": "overlay", "cord": "Ridge 4 mm", "strands": [[0, 16], [900, [10, 12]]]},
    ],
    [{"role": "overlay"}],
]
KEYS: dict[str, st.SearchStrategy[Any]] = {
    "hours": st.integers(1, 40),
    "fall": st.sampled_from(["none", "red"]),
    "foundation": st.sampled_from(["none", {"diameter_mm": 8, "to_mm": 20}]),
    "finish": st.sampled_from([["waxed"], "none"]),
    "layers": st.sampled_from(LAYERS),
    "weight_g": st.sampled_from([300, 412.5]),
    "balance": st.just({"at_mm": 450, "from": "butt"}),
    "turn_lengths": st.just([{"at_mm": 300, "turn_mm": 62}]),
    "ratings": st.sampled_from([{"ease": 7}, {"volley": "not tried"}]),
    "cord_used": st.just([{"cord": "Ridge 4 mm", "metres": 38}]),
    "notes": st.just("late"),
}
labels = st.sampled_from(["a", "b", "Ä 1"])
whip_keys = st.fixed_dictionaries({}, optional={**KEYS, "notes": st.none() | KEYS["notes"]})
edits = st.fixed_dictionaries({}, optional={key: st.none() | value for key, value in KEYS.items()})
places, sizes = st.sampled_from([0, 300, 600]), st.sampled_from([10, 12.5])
a_reading = st.fixed_dictionaries(
    {"at_mm": places, "diameter_mm": sizes}, optional={"condition": st.just("fresh")}
)
bags = st.lists(a_reading, max_size=4)
nth = st.integers(0, 11)


@dataclass
class Whip:
    """A whip of the dictionary: its label is one of its keys; readings as text, each with its number."""

    keys: dict[str, Any]
    bag: Counter[str] = field(default_factory=Counter)


Whips = dict[int, Whip]
"""By a number of their own, since labels change hands."""


@dataclass
class Change:
    """One change of both: the dictionary, and the hash of every table, before and after."""

    number: int
    before: Whips
    after: Whips
    hash_before: str
    hash_after: str


def as_text(shape: dict[str, Any]) -> str:
    return json.dumps(shape, sort_keys=True)


def moved(now: Whips, found: Whips, left: Whips) -> Whips:
    """The dictionary with what lies between ``found`` and ``left`` done to it, whip by whip."""
    result = copy.deepcopy(now)
    for key in found.keys() | left.keys():
        one, other = found.get(key), left.get(key)
        if one == other:
            continue
        there = result.pop(key, None)
        if (one.keys if one else None) != (other.keys if other else None):
            assert (there.keys if there else None) == (one.keys if one else None)
        if other is None:
            assert there is not None
            assert one is not None
            assert there.bag == one.bag, "readings that came later would be lost"
            continue
        bag = Counter(there.bag if there else {})
        bag.update(other.bag)
        bag.subtract(one.bag if one else Counter())
        assert min(bag.values(), default=0) >= 0
        keys = other.keys if one is None or one.keys != other.keys or there is None else there.keys
        result[key] = Whip(dict(keys), +bag)
    return result


class Store(RuleBasedStateMachine):
    """The store and the dictionary side by side."""

    @initialize()
    def open(self) -> None:
        self.folder = tempfile.TemporaryDirectory()
        self.engine, _ = ready_engine(str(Path(self.folder.name) / "whips.db"))
        self.whips: Whips = {}
        self.next = 0
        self.done: list[Change] = []
        self.undone: list[Change] = []
        self.take([RIDGE, FELL])

    def teardown(self) -> None:
        if hasattr(self, "engine"):
            self.engine.dispose()
            self.folder.cleanup()

    def take(self, records: list[dict[str, Any]]) -> None:
        text = "".join(json.dumps(record) + "\n" for record in records).encode()
        with writing(self.engine) as session:
            import_lines(session, io.BytesIO(text))

    def last_number(self) -> int:
        with reading(self.engine) as session:
            return session.scalar(select(func.max(HistoryRow.id))) or 0

    def change(self, work: Callable[[], None]) -> None:
        """Do something to both, and note it as one change where the store has."""
        number, before, hash_before = self.last_number(), copy.deepcopy(self.whips), content_hash(self.engine)
        work()
        if self.last_number() == number:
            assert (self.whips, content_hash(self.engine)) == (before, hash_before)
            return
        assert self.last_number() == number + 1
        after = copy.deepcopy(self.whips)
        self.done.append(Change(number + 1, before, after, hash_before, content_hash(self.engine)))

    def one(self, which: int) -> tuple[str, Whip]:
        """One of the whips, and its label."""
        whip = list(self.whips.values())[which % len(self.whips)]
        return str(whip.keys["label"]), whip

    def of(self, label: str) -> Whip | None:
        return next((whip for whip in self.whips.values() if whip.keys["label"] == label), None)

    @rule(label=labels, keys=whip_keys, readings=bags, later=bags)
    def record(
        self,
        label: str,
        keys: dict[str, Any],
        readings: list[dict[str, Any]],
        later: list[dict[str, Any]],
    ) -> None:
        """A whip with some readings on its line, and some on lines of their own."""

        def work() -> None:
            self.take(
                [
                    *({"kind": "reading", "whip": label, **each} for each in later),
                    {"kind": "whip", "label": label, "readings": readings, **keys},
                ]
            )
            whip = self.of(label)
            if whip is None:
                self.next += 1
                whip = self.whips[self.next] = Whip({"label": label})
            whip.keys.update({k: v for k, v in keys.items() if v is not None})
            whip.bag |= Counter(as_text(each) for each in [*readings, *later])

        self.change(work)

    @precondition(lambda self: self.whips)
    @rule(which=nth, changes=edits)
    def edit(self, which: int, changes: dict[str, Any]) -> None:
        label, whip = self.one(which)

        def work() -> None:
            with writing(self.engine) as session:
                editing.edit_whip(session, label, changes)
            for key, value in changes.items():
                whip.keys.pop(key, None)
                if value is not None:
                    whip.keys[key] = value

        self.change(work)

    @precondition(lambda self: self.whips)
    @rule(which=nth, new=labels)
    def rename(self, which: int, new: str) -> None:
        label, whip = self.one(which)
        other = self.of(new)

        def work() -> None:
            try:
                with writing(self.engine) as session:
                    editing.edit_whip(session, label, {"label": new})
            except RecordError:
                assert other is not None
            else:
                assert other in (None, whip)
                whip.keys["label"] = new

        self.change(work)

    @precondition(lambda self: self.whips)
    @rule(which=nth)
    def remove(self, which: int) -> None:
        label, _ = self.one(which)

        def work() -> None:
            with writing(self.engine) as session:
                editing.remove_whip(session, label)
            self.whips = {key: whip for key, whip in self.whips.items() if whip.keys["label"] != label}

        self.change(work)

    @precondition(lambda self: self.whips)
    @rule(which=nth, at_mm=st.none() | places, diameter_mm=st.none() | sizes)
    def edit_or_remove_a_reading(self, which: int, at_mm: int | None, diameter_mm: float | None) -> None:
        """Edited where a place or a size is given, else removed."""
        label, whip = self.one(which)
        if not whip.bag:
            return
        changes = {k: v for k, v in (("at_mm", at_mm), ("diameter_mm", diameter_mm)) if v is not None}

        def work() -> None:
            with writing(self.engine) as session:
                found = workshop.readings_with_keys(session, label)
                key, _, noun = found[which % len(found)]
                if changes:
                    editing.edit_reading(session, key, changes)
                else:
                    editing.remove_reading(session, key)
            shape = reading_record(label, noun)
            del shape["kind"], shape["whip"]
            whip.bag -= Counter([as_text(shape)])
            if changes:
                whip.bag += Counter([as_text({**shape, **changes})])

        self.change(work)

    @precondition(lambda self: self.done)
    @rule(times=st.integers(1, 3))
    def undo(self, times: int) -> None:
        for _ in range(min(times, len(self.done))):
            latest = max(self.done, key=lambda change: change.number)
            if self.reverse(undo, latest.hash_after, latest.hash_before, latest.after, latest.before):
                self.done.remove(latest)
                self.undone.append(latest)

    @precondition(lambda self: self.undone)
    @rule(times=st.integers(1, 3))
    def redo(self, times: int) -> None:
        for _ in range(min(times, len(self.undone))):
            last = self.undone[-1]
            if self.reverse(redo, last.hash_before, last.hash_after, last.before, last.after):
                self.done.append(self.undone.pop())

    def reverse(
        self, work: Callable[[Any], Any], hash_found: str, hash_left: str, found: Whips, left: Whips
    ) -> bool:
        """Whether it was carried out; where nothing came between it must be, and to the last row."""
        now = content_hash(self.engine)
        try:
            with writing(self.engine) as session:
                work(session)
        except UndoError:
            assert now != hash_found
            assert content_hash(self.engine) == now
            return False
        if now == hash_found:
            assert content_hash(self.engine) == hash_left
        self.whips = moved(self.whips, found, left)
        return True

    @rule()
    def take_its_own_export(self) -> None:
        number = self.last_number()
        self.take(self.exported())
        assert self.last_number() == number

    @precondition(lambda self: len(self.done) + len(self.undone) > 8)
    @rule()
    def move_to_another_database(self) -> None:
        records = self.exported()
        self.engine.dispose()
        self.folder.cleanup()
        self.folder = tempfile.TemporaryDirectory()
        self.engine, _ = ready_engine(str(Path(self.folder.name) / "whips.db"))
        self.take(records)
        self.done, self.undone = [], []

    def exported(self) -> list[dict[str, Any]]:
        with reading(self.engine) as session:
            return list(export_records(session))

    @invariant()
    def says_what_the_dictionary_says(self) -> None:
        if not hasattr(self, "engine"):
            return
        found = [record for record in self.exported() if record.pop("kind") == "whip"]
        bags = {
            record["label"]: Counter(as_text(each) for each in record.pop("readings", [])) for record in found
        }
        assert {record["label"]: record for record in found} == {
            whip.keys["label"]: whip.keys for whip in self.whips.values()
        }
        assert bags == {whip.keys["label"]: whip.bag for whip in self.whips.values()}


Store.TestCase.settings = settings(
    max_examples=1000 if LONG else 50,
    stateful_step_count=50 if LONG else 30,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    # Every attempt makes a database, so shrinking takes minutes; add Phase.shrink to hunt one down.
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
)
test_the_store_is_a_dictionary = Store.TestCase
