"""The invented workshop: repeatable, free of the project's own mathematics, and like real whips."""

import ast
import datetime as dt
import json
import math
import statistics
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from plaitlog.models.geometry import geometric_diameter
from plaitlog.models.notation.schedule import parse_schedule
from plaitlog.models.stack import Stack, StackLayer, StrandGroup
from plaitlog.models.whip import Cord, LayerCord, exactly
from plaitlog.seed_demo import workshop
from plaitlog.seed_demo.builds import Build, builds
from plaitlog.seed_demo.cords import NEVER_PLAITED, cord_records, natures
from plaitlog.seed_demo.makers import noise_floor
from plaitlog.seed_demo.ratings import bare_weight

FOLDER = Path(workshop.__file__).parent
DRAWN_UP_BY = dt.date(2026, 1, 1)


@pytest.fixture(scope="module")
def records() -> list[dict[str, Any]]:
    return [json.loads(line) for line in workshop.lines()]


@pytest.fixture(scope="module")
def made() -> dict[str, Build]:
    return {build.label: build for build in builds(workshop.SEED, natures(workshop.SEED))}


@pytest.fixture(scope="module")
def whips(records: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [record for record in records if record["kind"] == "whip"]


def test_same_seed_same_bytes_and_another_seed_another_workshop() -> None:
    assert list(workshop.lines(3)) == list(workshop.lines(3))
    assert list(workshop.lines(3)) != list(workshop.lines(4))


def test_demo_uses_neither_the_projects_mathematics_nor_its_tables() -> None:
    models = ("plaitlog.models.geometry", "plaitlog.models.calibration", "plaitlog.models.tables")
    for path in FOLDER.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom):
                names = [node.module or ""]
            if path.name == "workshop.py":  # a session is passed through to the import
                names = [name for name in names if name != "sqlalchemy.orm"]
            assert not [name for name in names if name.startswith((*models, "sqlalchemy"))], path.name


def test_the_workshop_holds_what_a_demo_needs(records: list[dict[str, Any]]) -> None:
    whips = [record for record in records if record["kind"] == "whip"]
    cords = [record for record in records if record["kind"] == "cord"]
    plaits = [whip for whip in whips if whip["type"] == "test plait"]
    assert (len(cords), len(whips) - len(plaits), len(plaits)) == (12, 60, 6)
    types = {whip["type"] for whip in whips}
    assert types == {"bullwhip", "stock whip", "snake whip", "signal whip", "cow whip", "test plait"}
    statuses = [whip.get("status") for whip in whips]
    assert (statuses.count("planned"), statuses.count("on the bench"), statuses.count(None)) == (2, 1, 9)
    assert sum("linear_density_g_per_m" not in cord for cord in cords) == 2
    assert 0 < sum("flat_width_mm" not in cord for cord in cords) < 12
    used = {
        name
        for whip in whips
        for layer in whip["layers"]
        for name in [layer.get("cord"), *(each["cord"] for each in layer.get("cords", ()))]
    } | {name for whip in whips for name in whip.get("letters", {}).values()}
    assert {cord["name"] for cord in cords} - used == {NEVER_PLAITED}


def test_no_day_lies_in_the_future(records: list[dict[str, Any]]) -> None:
    days = [record[key] for record in records for key in ("made_on", "on") if key in record]
    assert max(map(dt.date.fromisoformat, days)) < DRAWN_UP_BY


def test_line_notation_says_what_was_plaited(whips: list[dict[str, Any]], made: dict[str, Build]) -> None:
    compared = 0
    for whip in whips:
        if whip["label"] not in made:
            continue
        for layer, real in zip(whip["layers"], made[whip["label"]].thong.layers, strict=True):
            if isinstance(layer.get("strands"), str):
                cords = [LayerCord(layer["cord"])] if "cord" in layer else []
                read = parse_schedule(layer["strands"], letters=whip.get("letters", {}), cords=cords)
                steps = [(round(step.place.mid_mm, 2), step.total.mid) for step in read.schedule.steps]
                assert steps == [(round(drop.at_mm, 2), drop.count) for drop in real.drops]
                assert not read.findings
                compared += 1
    assert compared > 40


def test_sizes_are_those_of_real_whips(made: dict[str, Build]) -> None:
    """Common practice, no source: 14 mm stock whips with a point of 5.5 mm, bullwhips of 19 to 22 mm."""
    stock = [build for build in made.values() if build.type == "stock whip"]
    assert all(12.3 < build.true_diameter(0) < 16.0 for build in stock)
    assert all(17.0 < b.true_diameter(0) < 23.0 for b in made.values() if b.type == "bullwhip")
    points = [build.true_diameter(build.thong.length_mm) for build in stock]
    assert all(5.0 < size < 7.8 for size in points)
    assert 5.0 < statistics.median(points) < 6.8
    six = [bare_weight(b) for b in made.values() if b.type == "bullwhip" and b.quoted_feet == 6]
    assert six
    assert all(300 < grams < 560 for grams in six)


def test_a_thong_never_swells_by_more_than_a_tuck(made: dict[str, Build]) -> None:
    for build in made.values():
        profile = [build.true_diameter(build.thong.length_mm * i / 60) for i in range(61)]
        assert all(after < before * 1.15 for before, after in pairwise(profile)), build.label
        assert profile[-1] < 0.6 * profile[0]


def test_no_reading_stands_on_a_drop(whips: list[dict[str, Any]], made: dict[str, Build]) -> None:
    close = total = 0
    for whip in whips:
        if whip["label"] in made:
            drops = [drop.at_mm for layer in made[whip["label"]].thong.layers for drop in layer.drops[1:]]
            for reading in whip["readings"]:
                if "at_mm" in reading:
                    total += 1
                    close += any(abs(reading["at_mm"] - drop) < 20 for drop in drops)
    assert total > 100
    assert close / total < 0.1  # where drops crowd there is no better place


def test_plain_geometry_is_off_by_twice_the_noise(made: dict[str, Build]) -> None:
    """Else a demo could teach nothing. The mean ratio is taken out: no constant could mend the rest."""
    cords = {
        record["name"]: Cord(**{key: value for key, value in record.items() if key != "kind"})
        for record in cord_records(workshop.SEED)
        if record["kind"] == "cord"
    }
    misses, floors = [], []
    for build in made.values():
        for i in range(12):
            at = build.thong.length_mm * (i + 0.5) / 12
            real = build.true_diameter(at)
            misses.append(math.log(real / geometric_diameter(_stack(build, at, cords)).diameter_mm))
            floors.append(noise_floor(real) ** 2)
    assert statistics.pstdev(misses) > 2 * math.sqrt(statistics.fmean(floors))


def _stack(build: Build, at_mm: float, cords: dict[str, Cord]) -> Stack:
    layers: list[StackLayer] = []
    for layer in build.thong.layers:
        role: Any = layer.role
        if not layer.cords and layer.from_mm <= at_mm <= layer.to_mm:
            given = StackLayer(role=role, diameter_mm=layer.diameter_mm, thickness_mm=layer.thickness_mm)
            layers.append(given)
        for gutted, inside in layer.inside_at(at_mm).items():
            layers.append(StackLayer(role="filler", groups=_groups(layer.cords, inside, cords, gutted)))
        if count := layer.count_at(at_mm):
            layers.append(StackLayer(role=role, groups=_groups(layer.cords, count, cords)))
    return Stack(tuple(layers))


def _groups(
    names: tuple[str, ...], count: int, cords: dict[str, Cord], gutted: bool = False
) -> tuple[StrandGroup, ...]:
    return tuple(StrandGroup(cords[name], exactly(count / len(names)), gutted) for name in names)
