"""What is kept of each whip for a fit says what its rows say, whatever was done to them meanwhile."""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from sqlalchemy import Engine, delete, event, insert, select, update

from plaitlog.models.calibration.readings import Readings, readings
from plaitlog.models.calibration.single_readings import observations
from plaitlog.models.errors import BusyDatabaseError, PlaitlogError
from plaitlog.models.tables import Base, GatheredRow, LayerRow, StepRow, WhipRow
from plaitlog.models.whip import Cord, Whip
from plaitlog.service.backups.files import place_of
from plaitlog.service.backups.making import back_up_to
from plaitlog.service.backups.restoring import restore
from plaitlog.service.database import reading, write, writing
from plaitlog.service.filling import fill_gathered
from plaitlog.service.migrate import ready_engine
from plaitlog.service.usecases import workshop
from plaitlog.service.usecases.changes import editing
from plaitlog.service.usecases.changes.derived_rows import drop_derived
from plaitlog.service.usecases.changes.undoing import redo, undo
from plaitlog.service.usecases.gathered_columns import NamedWhip, WhipColumns, packed, unpacked
from plaitlog.service.usecases.gathering import MADE_BY, Gathered, gather, keep_gathered, lacking_whips
from plaitlog.service.usecases.importing import take_records
from plaitlog.service.usecases.loading import load_cords, load_whips
from plaitlog.service.usecases.observing import observe
from plaitlog.service.usecases.places import placed
from tests.usecases.examples import BULLWHIP, FELL, LATER_READING, NOTEBOOK_WHIP, RIDGE, SESSION, WORKSHOP
from tests.usecases.nouns import Workshop, workshops

LABEL = "2026-014"
# Shrinking takes minutes; what is printed without it is a short list of steps.
QUICK = settings(
    max_examples=12,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
)


def do(engine: Engine, work: Callable[..., Any], *what: Any, **named: Any) -> Any:
    with writing(engine) as session:
        return work(session, *what, **named)


def gathered(engine: Engine) -> Gathered:
    with reading(engine) as session:
        return gather(session)


def afresh(engine: Engine) -> tuple[Readings, dict[str, int]]:
    """What the rows of all whips say, worked out one after the other from the nouns."""
    with reading(engine) as session:
        cords = {cord.name: cord for cord in load_cords(session).values()}
        made = session.scalars(select(WhipRow.id).order_by(WhipRow.label)).all()
        whips = [whip for whip in load_whips(session, made).values() if whip.status != "planned"]
    found = [observe(placed(whip), cords) for whip in whips]
    data = readings([observation for observations, _ in found for observation in observations])
    return data, dict(Counter(reason for _, reasons in found for reason in reasons))


def assert_same(found: Readings, expected: Readings) -> None:
    """The same numbers under the same names, bit for bit."""
    for part, other in ((found, expected), (found.stacks, expected.stacks)):
        for name, value in vars(other).items():
            if isinstance(value, np.ndarray):
                np.testing.assert_array_equal(getattr(part, name), value, err_msg=name, strict=True)
            elif not name.startswith("_") and name != "stacks":
                assert getattr(part, name) == value, name


def assert_not_stale(engine: Engine) -> None:
    found, (expected, left_out) = gathered(engine), afresh(engine)
    assert_same(found.readings, expected)
    assert found.left_out == left_out


def kept(engine: Engine) -> set[str]:
    """Labels of the whips of which something is kept."""
    with reading(engine) as session:
        joined = select(WhipRow.label).join(GatheredRow, GatheredRow.whip_id == WhipRow.id)
        return set(session.scalars(joined))


def other_cord(layers: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    return [{**layer, "cord": "Fell 3 mm"} if layer.get("cord") else dict(layer) for layer in layers]


def nth_reading(session: Any, label: str, n: int) -> int:
    found = workshop.readings_with_keys(session, label)
    return int(found[n % len(found)][0])


Step = Callable[[Any], Any]
LABELS = st.sampled_from([LABEL, "old 3", "b", "planned"])
STEPS: dict[str, Callable[..., Step]] = {
    "import": lambda label, n: (
        lambda s: take_records(
            s, [{**BULLWHIP, "label": label, "thong_length_mm": 1830 - n, "thong_length": None}]
        )
    ),
    "reading": lambda label, n: lambda s: take_records(s, [{**LATER_READING, "whip": label, "at_mm": 9 * n}]),
    "rating": lambda label, n: lambda s: take_records(s, [{**SESSION, "whip": label, "hours_of_use": n}]),
    "fewer layers": lambda label, n: (
        lambda s: editing.edit_whip(s, label, {"layers": BULLWHIP["layers"][: n % 4]})
    ),
    "other cord": lambda label, n: (
        lambda s: editing.edit_whip(
            s, label, {"layers": other_cord(BULLWHIP["layers"][:2]), "layers_complete": True}
        )
    ),
    "turn": lambda label, n: (
        lambda s: editing.edit_whip(s, label, {"turn_lengths": [{"at_mm": 300, "turn_mm": 40 + n}]})
    ),
    "foundation": lambda label, n: (
        lambda s: editing.edit_whip(s, label, {"foundation": {"diameter_mm": 6 + n, "to_mm": 400}})
    ),
    "maker": lambda label, n: lambda s: editing.edit_whip(s, label, {"maker": f"maker {n % 3}"}),
    "rename maker": lambda label, n: lambda s: editing.edit_maker(s, "Orrin", {"name": f"Orrin {n}"}),
    "rename": lambda label, n: lambda s: editing.edit_whip(s, label, {"label": f"0 {label}"}),
    "status": lambda label, n: (
        lambda s: editing.edit_whip(s, label, {"status": ["planned", "finished", None][n % 3]})
    ),
    "cord": lambda label, n: (
        lambda s: editing.edit_cord(
            s, "Ridge 4 mm", {"diameter_mm": 4 + n / 10, "name": ["Ridge 4 mm", "Ridge"][n % 2]}
        )
    ),
    "edit reading": lambda label, n: (
        lambda s: editing.edit_reading(s, nth_reading(s, label, n), {"at_mm": 10 * n, "diameter_mm": 9 + n})
    ),
    "move reading": lambda label, n: (
        lambda s: editing.edit_reading(s, nth_reading(s, label, n), {"whip": "b"})
    ),
    "remove reading": lambda label, n: lambda s: editing.remove_reading(s, nth_reading(s, label, n)),
    "remove": lambda label, n: lambda s: editing.remove_whip(s, label),
    "undo": lambda label, n: undo,
    "redo": lambda label, n: redo,
    "undo one": lambda label, n: lambda s: undo(s, n),
}
steps = st.lists(st.tuples(st.sampled_from(sorted(STEPS)), LABELS, st.integers(0, 11)), max_size=14)


def emptied(engine: Engine) -> None:
    with engine.begin() as connection:
        connection.execute(delete(GatheredRow))
        for table in reversed(Base.metadata.sorted_tables):
            connection.execute(delete(table))


@QUICK
@given(chosen=steps)
def test_nothing_is_stale_after_any_sequence_of_changes(
    engine: Engine, chosen: list[tuple[str, str, int]]
) -> None:
    """After each change what is kept and what is lacking together say what the rows say; then all is kept."""
    emptied(engine)
    others = [{**BULLWHIP, "label": "b"}, {**BULLWHIP, "label": "planned", "status": "planned"}]
    do(engine, take_records, [*WORKSHOP, *others])
    fill_gathered(engine)
    assert_not_stale(engine)
    for name, label, n in chosen:
        try:
            do(engine, STEPS[name](label, n))
        except (PlaitlogError, ZeroDivisionError):  # refused, or there is nothing to remove
            continue
        assert_not_stale(engine)
        fill_gathered(engine)
        assert_not_stale(engine)


@QUICK
@given(workshops())
def test_every_whip_that_can_be_noted_comes_out_of_its_columns(one: Workshop) -> None:
    cords = {cord.name: cord for cord in one.cords}
    keys = {name: 7 + 3 * k for k, name in enumerate(sorted(cords))}
    seen = [observe(placed(whip), cords)[0] for whip in one.whips]
    columns = packed(seen, keys)
    named = [NamedWhip(x.label, x.maker, kept) for x, kept in zip(one.whips, columns, strict=True)]
    found = unpacked(named, {keys[name]: cord for name, cord in cords.items()})
    expected = readings([observation for whip in seen for observation in whip])
    assert_same(found, expected)
    assert_same(readings(observations(found)), expected)


def test_lots_keep_their_names_whichever_whips_they_are_in(sqlite_engine: Engine) -> None:
    do(sqlite_engine, take_records, WORKSHOP)
    with reading(sqlite_engine) as session:
        (whip,) = load_whips(session, [1]).values()
    names = {"Ridge 4 mm": 1, "Fell 3 mm": 2}
    cords = {name: Cord(name=name, material="nylon", construction="cored") for name in names}
    seen = [_of_lots(whip, cords, lots) for lots in (["b", None], [None, None], ["a", "b"], ["c", "a"])]
    named = [NamedWhip(str(k), None, x) for k, x in enumerate(packed(seen, names))]
    assert [x.kept.lots for x in named] == [("b",), (), ("b", "a"), ("a", "c")]
    found = unpacked(named, {names[name]: cord for name, cord in cords.items()})
    together = [replace(x, whip=str(k)) for k, whip in enumerate(seen) for x in whip]
    assert_same(found, replace(readings(together), maker=found.maker, makers=()))


def _of_lots(whip: Whip, cords: Mapping[str, Cord], lots: Sequence[str | None]) -> list[Any]:
    """The whip's observations, the groups of each layer being of these lots in turn."""
    found = []
    for x in observe(placed(whip), cords)[0]:
        layers = tuple(
            replace(
                layer,
                groups=tuple(
                    replace(group, lot=lots[(layer.slot + k) % 2]) for k, group in enumerate(layer.groups)
                ),
            )
            for layer in x.stack.layers
        )
        found.append(replace(x, stack=replace(x.stack, layers=layers), maker=None))
    return found


def test_a_change_drops_the_whip_that_it_touches_and_no_other(engine: Engine) -> None:
    do(engine, take_records, [*WORKSHOP, {**BULLWHIP, "label": "b"}])
    assert kept(engine) == set()
    fill_gathered(engine)
    there = {LABEL, "old 3", "b"}
    assert kept(engine) == there
    for touched, step in (
        ({LABEL}, lambda s: take_records(s, [{**LATER_READING, "at_mm": 700}])),
        ({LABEL}, lambda s: editing.edit_whip(s, LABEL, {"layers": BULLWHIP["layers"][:2]})),
        ({"b", LABEL}, lambda s: editing.edit_reading(s, nth_reading(s, LABEL, 0), {"whip": "b"})),
        ({"b", LABEL}, undo),
        ({"b"}, lambda s: editing.remove_whip(s, "b")),
        ({"b"}, undo),
        (set(), lambda s: editing.edit_cord(s, "Ridge 4 mm", {"diameter_mm": 4.2, "name": "Ridge"})),
        (set(), lambda s: editing.edit_maker(s, "Orrin", {"name": "Fenn"})),
    ):
        do(engine, step)
        assert kept(engine) == there - touched
        fill_gathered(engine)
        with reading(engine) as session:
            there = set(session.scalars(select(WhipRow.label)))
        assert kept(engine) == there


@pytest.mark.parametrize("table", [LayerRow, StepRow])
def test_a_row_of_a_row_of_a_whip_is_the_whip_s(engine: Engine, table: type[Base]) -> None:
    do(engine, take_records, WORKSHOP)
    fill_gathered(engine)
    with writing(engine) as session:
        row = session.execute(select(*table.__table__.c).order_by(table.__table__.c.id).limit(1)).one()
        drop_derived(session, table.__table__, [row._mapping])  # type: ignore[arg-type]
    assert kept(engine) == {"old 3"}


def test_what_another_version_kept_counts_for_nothing(engine: Engine) -> None:
    do(engine, take_records, WORKSHOP)
    fill_gathered(engine)
    with writing(engine) as session:
        session.execute(update(GatheredRow).values(made_by="0.0, 0", columns=b"\0\1\2"))
    assert_not_stale(engine)
    with reading(engine) as session:
        assert lacking_whips(session) == 2
    fill_gathered(engine)
    with reading(engine) as session:
        assert set(session.scalars(select(GatheredRow.made_by))) == {MADE_BY}
    assert_not_stale(engine)


def test_whips_are_kept_part_by_part(engine: Engine) -> None:
    many = [{**NOTEBOOK_WHIP, "label": f"n{k}"} for k in range(7)]
    do(engine, take_records, [RIDGE, FELL, *many])
    assert [do(engine, keep_gathered, 3) for _ in range(4)] == [3, 3, 1, 0]
    assert_not_stale(engine)


def test_a_fit_again_asks_as_little_of_many_whips_as_of_few(engine: Engine) -> None:
    def statements() -> int:
        counted: list[str] = []

        def count(*what: Any) -> None:
            counted.append(what[2])

        event.listen(engine, "before_cursor_execute", count)
        gathered(engine)
        event.remove(engine, "before_cursor_execute", count)
        return len(counted)

    do(engine, take_records, [RIDGE, FELL, {**BULLWHIP, "label": "first"}])
    fill_gathered(engine)
    few = statements()
    do(engine, take_records, [{**BULLWHIP, "label": f"w{k}"} for k in range(450)])
    fill_gathered(engine)
    assert statements() == few < 15


@pytest.mark.postgresql
def test_what_changes_while_it_is_worked_out_is_not_kept(postgresql_url: str) -> None:
    """SQLite lets one write at a time; a server takes both, and must notice that one rests on old rows."""
    engine, _ = ready_engine(postgresql_url)
    do(engine, take_records, WORKSHOP)

    def keep_meanwhile() -> None:
        with writing(engine) as session:
            keep_gathered(session)
            write(engine, lambda other: editing.edit_whip(other, LABEL, {"layers": BULLWHIP["layers"][:2]}))

    with pytest.raises(BusyDatabaseError):
        keep_meanwhile()
    assert_not_stale(engine)
    fill_gathered(engine)
    assert_not_stale(engine)
    engine.dispose()


def test_a_fit_waits_for_nobody_who_writes_for_long(tmp_path: Path) -> None:
    """Where nothing can be kept just now, it is worked out all the same."""
    hurried, _ = ready_engine(str(tmp_path / "whips.db"), busy_timeout_s=0.1)
    do(hurried, take_records, WORKSHOP)
    with writing(hurried) as other:
        other.execute(insert(WhipRow), {"label": "not yet"})
        fill_gathered(hurried)
        assert kept(hurried) == set()
        assert_not_stale(hurried)
        other.rollback()
    fill_gathered(hurried)
    assert kept(hurried) == {LABEL, "old 3"}
    hurried.dispose()


def test_of_nothing_there_are_no_readings(engine: Engine) -> None:
    fill_gathered(engine)
    assert len(gathered(engine).readings) == 0
    do(engine, take_records, [RIDGE, {"kind": "whip", "label": "bare"}])
    fill_gathered(engine)
    assert_not_stale(engine)
    assert gathered(engine).whips == 1
    assert unpacked([NamedWhip("x", None, WhipColumns(packed([[]], {})[0].columns))], {}).whips == ()


def test_the_same_records_give_the_same_columns_whatever_their_keys(engine: Engine, tmp_path: Path) -> None:
    """Of cords above all, by which the columns name them."""
    other, _ = ready_engine(str(tmp_path / "other.db"))
    do(engine, take_records, [RIDGE, FELL, BULLWHIP, NOTEBOOK_WHIP])
    do(other, take_records, [{**FELL, "name": "spare"}])
    do(other, editing.remove_cord, "spare")
    do(other, take_records, [NOTEBOOK_WHIP, FELL, RIDGE])
    do(other, take_records, [BULLWHIP])
    fill_gathered(other)
    assert_same(gathered(other).readings, gathered(engine).readings)
    other.dispose()


def test_nothing_is_stale_after_a_backup_was_restored(
    engine: Engine, empty_database: str, tmp_path: Path
) -> None:
    """Into the database it was made of, where other content was kept meanwhile, and into one of SQLite."""
    place = place_of(engine.url)
    assert place is not None
    do(engine, take_records, WORKSHOP)
    for filled in (False, True):
        if filled:
            fill_gathered(engine)
        before = gathered(engine)
        backup = back_up_to(engine, place, tmp_path / f"backup-{filled}.db").file
        do(engine, editing.edit_whip, LABEL, {"layers": BULLWHIP["layers"][:2]})
        do(engine, editing.remove_whip, "old 3")
        do(engine, take_records, [{**BULLWHIP, "label": "b"}])
        fill_gathered(engine)
        restore(empty_database, backup)
        assert_not_stale(engine)
        assert gathered(engine).fingerprint == before.fingerprint
        assert_same(gathered(engine).readings, before.readings)
        restore(str(tmp_path / f"other-{filled}.db"), backup)
        other, _ = ready_engine(str(tmp_path / f"other-{filled}.db"))
        assert_not_stale(other)
        other.dispose()
