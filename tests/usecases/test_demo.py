"""The invented workshop goes in by the import that users have, and so do pages written by hand."""

import io
import json
import math
import time
from collections.abc import Iterator

import pytest
from sqlalchemy import Engine
from sqlalchemy.orm import Session

from plaitlog.models.errors import StackNotKnownError
from plaitlog.models.stack import Stack, stack_at
from plaitlog.models.whip import Cord, Whip
from plaitlog.seed_demo import workshop
from plaitlog.seed_demo.builds import Build, builds
from plaitlog.seed_demo.cords import NEVER_PLAITED, natures
from plaitlog.seed_demo.makers import ORRIN, noise_floor
from plaitlog.seed_demo.mechanics import Ply, Strands, section
from plaitlog.service.database import reading, writing
from plaitlog.service.migrate import ready_engine
from plaitlog.service.schemas.prediction import QueryIn
from plaitlog.service.usecases.exporting import export_lines
from plaitlog.service.usecases.fitting import gather, work_out
from plaitlog.service.usecases.importing import import_lines
from plaitlog.service.usecases.loading import load_cords, load_whips, whip_keys
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.predicting_lines import Reader


def take(session: Session, text: str) -> None:
    report = import_lines(session, io.BytesIO(text.encode()))
    assert not report.refusals


def whips_of(session: Session) -> dict[str, Whip]:
    keys = whip_keys(session)
    found = load_whips(session, list(keys.values()))
    return {label: found[key] for label, key in keys.items()}


def cords_of(session: Session) -> dict[str, Cord]:
    return {cord.name: cord for cord in load_cords(session).values()}


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Engine]:
    engine, _ = ready_engine(str(tmp_path_factory.mktemp("demo") / "demo.db"))
    with writing(engine) as session:
        workshop.seed(session)
    yield engine
    engine.dispose()


@pytest.fixture
def session(demo: Engine) -> Iterator[Session]:
    """The seeded workshop; what a test writes is rolled back."""
    with Session(demo) as session:
        yield session


def test_seed_says_what_it_brought_in(engine: Engine) -> None:
    began = time.perf_counter()
    with writing(engine) as session:
        summary = workshop.seed(session)
    assert time.perf_counter() - began < 15  # about one second on an idle machine
    assert (summary.whips, summary.test_plaits, summary.cords) == (60, 6, 12)
    assert summary.readings > 600
    assert summary.rating_sessions > 40
    with reading(engine) as session:
        whips = whips_of(session)
    assert len(whips) == 66
    assert sum(len(whip.readings) for whip in whips.values()) == summary.readings


def test_importing_it_twice_changes_nothing(session: Session) -> None:
    before = b"".join(export_lines(session))
    again = import_lines(session, io.BytesIO("\n".join(workshop.lines()).encode()))
    counts = again.counts()
    assert counts["add"] == counts["update"] == counts["rejected"] == 0
    assert b"".join(export_lines(session)) == before


def test_stacks_are_those_that_were_plaited(session: Session) -> None:
    """The record read back, cut open at a station, holds the strands the workshop laid there."""
    whips, cords = whips_of(session), cords_of(session)
    compared = 0
    for build in builds(workshop.SEED, natures(workshop.SEED)):
        whip = whips[build.label]
        for i in range(15):
            at = build.thong.length_mm * (i + 0.37) / 15
            assert strands_in(stack_at(whip, at, cords)) == strands_laid(build, at), (build.label, at)
            compared += 1
    assert compared > 600


def strands_in(stack: Stack) -> list[tuple[str, str, float, bool]]:
    return [
        (layer.role, group.cord.name, group.count.mid, group.gutted)
        for layer in stack.layers
        for group in layer.groups
    ]


def strands_laid(build: Build, at_mm: float) -> list[tuple[str, str, float, bool]]:
    laid: list[tuple[str, str, float, bool]] = []
    for layer in build.thong.layers:
        each = len(layer.cords) or 1
        for name in layer.cords:
            for gutted, inside in layer.inside_at(at_mm).items():
                laid.append(("filler", name, inside / each, gutted))
        if count := layer.count_at(at_mm):
            laid.extend((layer.role, name, count / each, False) for name in layer.cords)
    return laid


def test_readings_lie_about_the_truth_as_the_noise_says(session: Session) -> None:
    """All but the doubted and the mistyped ones, with the truth known: five spreads at the very most."""
    whips = whips_of(session)
    scaled: list[float] = []
    for build in builds(workshop.SEED, natures(workshop.SEED)):
        for measured in whips[build.label].readings:
            if measured.at_mm is None or measured.doubtful or measured.method == "girth":
                continue
            section = build.thong.section_at(measured.at_mm, measured.after_layer)
            expected = section.pulled(build.maker.pull)
            scaled.append(math.log(measured.size_mm / expected) / noise_floor(expected))
    wild = [abs(each) > 5 for each in scaled]
    assert sum(wild) == len(workshop.SLIPS)
    kept = [each for each, out in zip(scaled, wild, strict=True) if not out]
    assert 0.8 < math.sqrt(sum(each**2 for each in kept) / len(kept)) < 1.4


def test_old_pages_limit_what_they_are_used_for(session: Session) -> None:
    whips, cords = whips_of(session), cords_of(session)
    pages = [whip for label, whip in whips.items() if label.startswith("N-")]
    assert len(pages) == 9
    known = 0
    for page in pages:
        assert page.readings
        assert page.status is None
        for measured in page.readings:
            try:
                stack_at(page, measured.at_mm if measured.at_mm is not None else math.inf, cords)
                known += 1
            except StackNotKnownError:
                pass
    assert 0 < known < sum(len(page.readings) for page in pages) / 2


def test_the_typical_stack_names_the_cord_that_was_never_plaited(session: Session) -> None:
    cords = cords_of(session)
    names = [layer["cord"] for layer in workshop.TYPICAL_STACK["layers"]]
    assert NEVER_PLAITED in names
    assert set(names) <= set(cords)
    assert cords[NEVER_PLAITED].flat_width_mm is not None
    assert cords[NEVER_PLAITED].linear_density_g_per_m is not None


def test_another_seed_is_taken_too(sqlite_engine: Engine) -> None:
    with writing(sqlite_engine) as session:
        summary = workshop.seed(session, 3)
    assert (summary.whips, summary.test_plaits, summary.cords) == (60, 6, 12)


def test_a_fit_finds_the_slips_and_the_cord_never_plaited(session: Session) -> None:
    """The mistyped readings stand out most, and the truth of the typical stack lies in its interval."""
    worked = work_out(gather(session), with_evidence=False)
    made = builds(workshop.SEED, natures(workshop.SEED))
    worst = sorted(worked.calibration.suspects, key=lambda suspect: -abs(suspect.residual_log))
    assert {suspect.whip for suspect in worst[:2]} == {made[place].label for place in workshop.SLIPS}

    query = Reader(cords_of(session)).query(QueryIn.model_validate_json(json.dumps(workshop.TYPICAL_STACK)))
    told = InForce(worked.calibration, None).predict([query], "true")[0]
    known = natures(workshop.SEED)
    plies = [
        Ply(layer["role"], (Strands(known[layer["cord"]], layer["strands"]),))
        for layer in workshop.TYPICAL_STACK["layers"]
    ]
    truth = section(plies).pulled(ORRIN.pull)
    assert told.new_cord
    assert told.low_90_mm < truth < told.high_90_mm
    assert told.high_90_mm / told.low_90_mm < 1.25
    assert told.diameter_mm == pytest.approx(truth, rel=0.05)


BY_HAND = """
{"kind":"cord","name":"Beck 2.5 mm","material":"nylon","construction":"cored","diameter":"2,5 mm"}
{"kind":"whip","label":"hand 1","maker":"Orrin","type":"stock whip","status":"finished",
 "thong_length":"5' 6\\"","handle_length":"19 in","foundation":"none",
 "layers":[{"role":"core","cord":"Beck 2.5 mm","strands":[[0,8],[400,6],[600,4],[800,0]],"fate":"cut"},
  {"role":"overlay","cord":"Beck 2.5 mm",
   "strands":"in: 18; 20: -2 each 4 to 8 tuck 3 gut; 58: -2 each 2 x2; p"}],
 "readings":[{"at":"0 in","diameter":"14.1 mm"},{"at":"0 in","diameter":"13.9 mm"},
  {"at":"2 ft","diameter":"11,2 mm"},{"at_mm":1650,"girth_mm":18,"tape_mm":0.3}],
 "weight":"9 1/2 oz","weight_with":["fall"],"ratings":{"ease":7}}
"""

NOTEBOOK_PAGE = """
{"kind":"cord","name":"Ridge 4 mm","material":"nylon","construction":"cored"}
{"kind":"whip","label":"old green one","type":"bullwhip","thong_length":"6 ft",
 "layers":[{"role":"core","cord":"Ridge 4 mm","strands":"in: 4; ~20: -1; ?"},
  {"role":"belly","cord":"Ridge 4 mm","strands":"in: 12; ~20: -2; ?: -2; 28..34: end"},
  {"role":"overlay","strands":"in: 16; ?"}],
 "readings":"in mm: thick 19,5; mid 14?; p 8"}
"""

TEST_PLAIT = """
{"kind":"whip","label":"try 1","type":"test plait","status":"finished","thong_length":"10 in",
 "foundation":{"diameter_mm":12,"to_mm":200},
 "layers":[{"role":"overlay","cord":"Fell 3 mm","strands":"mm: 16; p"}],
 "readings":"in mm: 2 each 2: 18.4/18.2 18.3 _ 18.1"}
{"kind":"cord","name":"Fell 3 mm","material":"nylon","construction":"cored","diameter_mm":3}
"""


def as_lines(text: str) -> str:
    """Line ends within a record, which keep the examples readable here, taken out."""
    return "\n".join(json.dumps(each) for each in split_records(text))


def split_records(text: str) -> list[object]:
    decoder, found = json.JSONDecoder(), []
    rest = text.strip()
    while rest:
        record, end = decoder.raw_decode(rest)
        found.append(record)
        rest = rest[end:].strip()
    return found


def test_a_whip_written_by_hand(sqlite_engine: Engine) -> None:
    with writing(sqlite_engine) as session:
        take(session, as_lines(BY_HAND))
        session.flush()
        whip, cords = whips_of(session)["hand 1"], cords_of(session)
    assert whip.thong_length_mm == pytest.approx(66 * 25.4)
    assert whip.typed["thong_length"] == "5' 6\""
    assert [round(each.size_mm, 1) for each in whip.readings] == [14.1, 13.9, 11.2, 5.4]
    assert whip.weights[0].weight_g == pytest.approx(9.5 * 28.349523125)
    assert whip.weights[0].with_parts == ("fall",)
    # 610 mm is just past the drop at 24 in: two strands each from 20 in and 24 in lie tucked below fourteen.
    assert strands_in(stack_at(whip, 610, cords)) == [
        ("core", "Beck 2.5 mm", 4, False),
        ("filler", "Beck 2.5 mm", 2, True),
        ("overlay", "Beck 2.5 mm", 14, False),
    ]


def test_a_notebook_page_full_of_holes(sqlite_engine: Engine) -> None:
    with writing(sqlite_engine) as session:
        take(session, as_lines(NOTEBOOK_PAGE))
        session.flush()
        whip, cords = whips_of(session)["old green one"], cords_of(session)
    assert [each.doubtful for each in whip.readings] == [False, True, False]
    assert [each.diameter_mm for each in whip.readings] == [19.5, 14.0, 8.0]
    belly = whip.layers[1].schedule
    assert belly is not None
    assert [step.place.kind for step in belly.steps] == ["at", "about", "not noted", "between"]
    with pytest.raises(StackNotKnownError):
        stack_at(whip, 0, cords)


def test_a_test_plait_over_a_rod(sqlite_engine: Engine) -> None:
    with writing(sqlite_engine) as session:
        take(session, as_lines(TEST_PLAIT))
        session.flush()
        whip, cords = whips_of(session)["try 1"], cords_of(session)
    assert [each.at_mm for each in whip.readings] == pytest.approx([50.8, 50.8, 101.6, 203.2])
    assert stack_at(whip, 50.8, cords).foundation_mm == 12
    assert stack_at(whip, 210, cords).foundation_mm == 0
