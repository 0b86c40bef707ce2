"""The report on a fit as a page: nothing but text and pictures, whatever the records hold."""

import base64
import datetime as dt
import hashlib
import json
import math
import re
from dataclasses import replace
from html.parser import HTMLParser
from xml.etree import ElementTree

import numpy as np
import pytest

from plaitlog.models.calibration.evidence import Coverage, Evidence, HeldReading, Scores, Trial
from plaitlog.models.calibration.ratio_evidence import RatioEvidence
from plaitlog.models.errors import Finding
from plaitlog.service.reports.fit_charts import agreement, coverage_by_depth, residuals, widths
from plaitlog.service.reports.fit_page import to_html
from plaitlog.service.reports.fit_report import (
    CordInFit,
    FitReport,
    OddReading,
    Proposed,
    Worth,
    to_json,
    verdict,
)
from plaitlog.service.usecases.shown_units import ShownUnits

NASTY = "<script>alert(\"1\")</script> & 'Ridge' {{ 7 * 7 }}"


def held(measured: float, predicted: float = 10.0, at_mm: float = 100.0) -> HeldReading:
    return HeldReading("w", at_mm, 1, False, measured, predicted, predicted * 0.95, predicted * 1.05)


def scores(rmse: float) -> Scores:
    return Scores(rmse, 0.3, 0.5, 0.9, 1.5)


def trial(model: float = 0.03, geometry: float = 0.08) -> Trial:
    return Trial(
        "whip",
        20,
        {"model": scores(model), "geometry alone": scores(geometry)},
        (),
        scale=1.1,
        covered=(Coverage("depth", "1", 15, 0.4, 0.8), Coverage("cord", "known", 20, 0.5, 0.9)),
    )


def cord(name: str, half: float, readings: int = 30, thin: tuple[str, ...] = ()) -> CordInFit:
    worth = Worth(
        measurement="flat_width_mm", how="ten strands side by side", low_90_mm=9.5, high_90_mm=10.5,
        words="narrows the 90 % interval from ± 1.0 mm to ± 0.5 mm", tells=True,
    )  # fmt: skip
    return CordInFit(
        name=name, readings=readings, whips=5, counts=4, thin=thin, core=6, overlay=16, diameter_mm=10.0,
        low_90_mm=10 - 10 * half, high_90_mm=10 + 10 * half, worth=(worth,),
    )  # fmt: skip


REPORT = FitReport(
    number=3,
    made_at=dt.datetime(2026, 3, 1, 12, 0, tzinfo=dt.UTC),
    code_version="0.1.0",
    fingerprint="0123456789abcdef",
    current=True,
    records_changed=False,
    readings=20,
    whips=12,
    makers=1,
    evidence=Evidence(20, 12, 2, 1, (trial(),), held_out=(held(10.2), held(11.0, at_mm=900.0))),
    cords=(cord(NASTY, 0.09, 2, ("only 2 readings",)), cord("Fell 3 mm", 0.05)),
    cords_in_all=2,
    hands="Orrin",
    odd=(
        OddReading(
            whip=NASTY, at_mm=457.2, diameter_mm=1.9, expected_mm=18.8, low_90_mm=18.0, high_90_mm=19.5,
            code="decimal-point", words="the decimal point slipped", fitting_mm=19.0,
        ),
    ),
    odd_in_all=1,
    test_plaits=(Proposed(words="Plait 60 mm of 8 strands of Fell 3 mm.", data={"cord": "Fell 3 mm"}),),
    weighing={},
    findings=(Finding("left-out", f"3 readings left out: {NASTY}"),),
    shown=ShownUnits("mm", "mm"),
)  # fmt: skip


class Page(HTMLParser):
    """What a browser would see: elements with their attributes, text by the element it stands in."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.inside: list[str] = []
        self.words: list[tuple[str, str]] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in {"meta", "br"}:
            self.inside.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.inside.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words.append((self.inside[-1] if self.inside else "", data))

    def text(self, *, without: tuple[str, ...] = ("style",)) -> str:
        return " ".join(word for tag, word in self.words if tag not in without).replace("\u00a0", " ")


def test_names_of_the_records_are_text_and_nothing_else() -> None:
    page = Page(to_html(REPORT))
    assert page.inside == []
    assert "script" not in {tag for tag, _ in page.elements}
    assert page.text().count(NASTY) >= 3
    assert "49" not in page.text()


def test_the_page_needs_nothing_else_and_lets_nothing_else_in() -> None:
    html = to_html(REPORT)
    page = Page(html)
    policy = next(
        a["content"] for tag, a in page.elements if a.get("http-equiv") == "Content-Security-Policy"
    )
    assert policy is not None
    assert policy.startswith("default-src 'none'; style-src 'sha256-")
    assert "unsafe" not in policy
    (style,) = [word for tag, word in page.words if tag == "style"]
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    assert f"'sha256-{digest}'" in policy
    assert not re.search(r"url\(|@import|https?:", html)
    for tag, attributes in page.elements:
        assert tag not in {"script", "link", "img", "iframe", "object", "form"}
        assert not {"style", "src", "href", "onload", "onclick"} & set(attributes)


def test_how_good_it_is_comes_first_and_in_words() -> None:
    words = Page(to_html(REPORT)).text()
    first = words.index("comes nearer than all three plain ways to guess")
    assert first < words.index("root mean square")
    assert first < words.index("geometry alone")


@pytest.mark.parametrize(
    ("trials", "told"),
    [
        ((), "no evidence"),
        ((trial(0.09, 0.08),), "do not rely on it yet"),
        (
            (trial(), replace(trial(0.09), grouping="cord")),
            "comes nearer on a cord never recorded; elsewhere",
        ),
    ],
)
def test_a_fit_that_is_beaten_or_untested_says_so_at_once(trials: tuple[Trial, ...], told: str) -> None:
    assert REPORT.evidence is not None
    assert told in verdict(replace(REPORT, evidence=replace(REPORT.evidence, trials=trials)))[0]


def test_what_is_thin_odd_and_advised_is_told() -> None:
    words = Page(to_html(REPORT)).text()
    assert f"Thin: {NASTY} (only 2 readings)." in words
    assert "the decimal point slipped" in words
    assert "19.0 (18.8)" in words
    assert "Plait 60 mm of 8 strands of Fell 3 mm." in words
    assert "narrows the 90 % interval from ± 1.0 mm to ± 0.5 mm" in words
    assert "Weight" not in words
    weighed = {"weight": RatioEvidence(whips=9, measurements=11, model=0.03, reckoned=0.08, mean_ratio=0.05,
                                       coverage_90=0.9)}  # fmt: skip
    text = Page(to_html(replace(REPORT, weighing=weighed))).text()
    assert "Weight of 9 whips left out in turn: off by 3.0" in text


def test_a_report_without_evidence_cords_or_oddities_is_a_page_too() -> None:
    bare = replace(REPORT, evidence=None, cords=(), cords_in_all=0, odd=(), odd_in_all=0, findings=())
    page = Page(to_html(replace(bare, test_plaits=(), records_changed=True)))
    assert "svg" not in {tag for tag, _ in page.elements}
    assert "no evidence for this fit" in page.text()
    assert "changed since this fit was made" in page.text()
    assert "every reading is as the others let expect" in page.text()


def test_a_program_gets_the_same() -> None:
    told = json.loads(json.dumps(to_json(REPORT), allow_nan=False))
    assert (told["fit"], told["current"], told["whips"]) == (3, True, 12)
    assert told["verdict"] == list(verdict(REPORT))
    assert told["cords"][0]["thin"] == ["only 2 readings"]
    assert told["test_plaits"] == [{"cord": "Fell 3 mm"}]
    assert told["odd_readings"][0]["fitting_mm"] == 19.0
    assert Evidence.from_dict(told["evidence"]) == REPORT.evidence


def marks(svg: str, kind: str, name: str = "circle") -> list[dict[str, str]]:
    root = ElementTree.fromstring(svg)
    return [e.attrib for e in root.iter(name) if kind in (e.attrib.get("class") or "").split()]


def test_a_reading_as_predicted_lies_on_the_line_and_one_outside_its_interval_is_a_ring() -> None:
    svg = agreement([held(10.0, 10.0), held(12.0, 12.0), held(14.0, 12.0)], ShownUnits("mm", "mm"))
    (target,) = marks(svg, "target", "line")
    x1, y1, x2, y2 = (float(target[key]) for key in ("x1", "y1", "x2", "y2"))
    right, wrong = marks(svg, "in"), marks(svg, "out")
    assert (len(right), len(wrong)) == (2, 1)
    for mark in right:
        on_line = y1 + (float(mark["cx"]) - x1) / (x2 - x1) * (y2 - y1)
        assert float(mark["cy"]) == pytest.approx(on_line, abs=0.01)
    on_line = y1 + (float(wrong[0]["cx"]) - x1) / (x2 - x1) * (y2 - y1)
    assert float(wrong[0]["cy"]) < on_line - 10


def test_residuals_have_the_size_they_are_told_to_have() -> None:
    readings = [held(10.0 * (1 + k / 100), at_mm=100.0 * k) for k in (-4, -2, 0, 2, 4)]
    svg = residuals(readings, ShownUnits("mm", "mm"))
    places = sorted((float(mark["cx"]), -float(mark["cy"])) for mark in marks(svg, "in"))
    across, up = np.array(places).T
    assert np.diff(across) == pytest.approx([across[1] - across[0]] * 4, abs=0.01)
    assert np.diff(up) == pytest.approx([up[1] - up[0]] * 4, abs=0.01)
    assert up[1] > up[0]


def test_the_pale_band_is_what_chance_gives() -> None:
    rows = [Coverage("depth", "1", 400, 0.5, 0.84), Coverage("cord", "known", 400, 0.5, 0.84)]
    svg = coverage_by_depth(rows)
    # 1.645 standard deviations of a share of 0.5 of 400 are 4.1 points, of 0.9 they are 2.5.
    axis = next(iter(marks(svg, "axis", "line")))
    per_point = (float(axis["x2"]) - float(axis["x1"])) / 100
    bands = [float(mark["width"]) / per_point for mark in marks(svg, "chance", "rect")]
    assert bands == pytest.approx(
        [2 * 164.5 * math.sqrt(0.25 / 400), 2 * 164.5 * math.sqrt(0.09 / 400)], rel=1e-3
    )
    assert (len(marks(svg, "in")), len(marks(svg, "out"))) == (1, 1)


def test_bars_are_as_long_as_intervals_are_wide_and_new_cords_differ() -> None:
    svg = widths([cord("Ridge", 0.08, 0), cord("Fell", 0.04)])
    bars = marks(svg, "bar", "rect")
    assert float(bars[0]["width"]) == pytest.approx(2 * float(bars[1]["width"]), rel=1e-3)
    assert len(marks(svg, "new", "rect")) == 1
