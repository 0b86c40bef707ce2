"""``python -m tests.benchmarks.planning``: how long planning takes, beside the goals; a quarter of a minute.

A thong of 3 m on a grid of 10 mm in three layers, by the priors: with cords, ends and starts given, with
starts and ends open, several plans side by side, planned again from the middle of the overlay, the bench
sheet as HTML and PDF with the drawing, and what half the length takes.
"""

import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from plaitlog.models.calibration.calibrated import prior_calibration
from plaitlog.models.planning.asked import Asked, AskedLayer, Target
from plaitlog.models.taper import Shape
from plaitlog.models.whip import Cord, Fate, Whip
from plaitlog.service.reports.bench_sheet import pages, to_html, to_pdf
from plaitlog.service.reports.whip_drawing import to_svg
from plaitlog.service.usecases.pictures.drawing import drawn
from plaitlog.service.usecases.planning.choices import Choice, choices
from plaitlog.service.usecases.planning.plan import Plan, make_plan
from plaitlog.service.usecases.planning.sheet import bench_sheet
from plaitlog.service.usecases.predicting import InForce
from plaitlog.service.usecases.shown_units import ShownUnits

IN_FORCE = InForce(prior_calibration(), None)
SHOWN = ShownUnits("mm", "mm")
RIDGE, BECK = (
    Cord(name=name, construction="cored", material="nylon", diameter_mm=size, linear_density_g_per_m=density)
    for name, size, density in (("Ridge 4 mm", 4.0, 7.2), ("Beck 2.5 mm", 2.5, 2.75))
)
CORDS = {cord.name: cord for cord in (RIDGE, BECK)}
TUCK = Fate("tuck", 80.0, gutted=True)
GIVEN = (
    AskedLayer(role="core", cord=RIDGE, start=3, ends=900.0),
    AskedLayer(role="belly", cord=BECK, start=12, ends=1500.0, fate=TUCK),
    AskedLayer(role="overlay", cord=BECK, start=20, fate=TUCK),
)
OPEN = tuple(replace(layer, start=None, ends=None) for layer in GIVEN)


def asked(length_mm: float, layers: tuple[AskedLayer, ...]) -> Asked:
    shape = Shape(
        length_mm=length_mm, thick_mm=15, point_mm=5.5, parallel_thick_mm=300, parallel_point_mm=180
    )
    at = np.arange(int(length_mm / 10) + 1) * 10.0
    target = Target(diameter_mm=shape.diameter_mm(at), held_to_mm=300, held_from_mm=length_mm - 180)
    return Asked(length_mm=length_mm, layers=layers, target=target, cords=CORDS)


def whip(length_mm: float) -> Whip:
    return Whip(
        label="next", maker="Orrin", status="planned", datum="handle end", thong_length_mm=length_mm,
        handle_length_mm=0,
    )  # fmt: skip


def planned(length_mm: float, layers: tuple[AskedLayer, ...]) -> Plan:
    return make_plan(IN_FORCE, whip(length_mm), asked(length_mm, layers), CORDS)


def beside(layers: tuple[AskedLayer, ...]) -> list[Choice]:
    return choices(IN_FORCE, whip(3000.0), asked(3000.0, layers), CORDS)


def again(plan: Plan) -> Plan:
    """The overlay planned again from its middle, the layers below done."""
    question = asked(3000.0, GIVEN)
    overlay = plan.whip.layers[2]
    assert overlay.schedule is not None
    done = [step for step in overlay.schedule.steps if step.place.high_mm <= 1500]
    begun = replace(GIVEN[2], start=round(done[-1].total.mid), begun=overlay, begun_to_mm=1500.0)
    question = replace(question, layers=(*plan.whip.layers[:2], begun))
    return make_plan(IN_FORCE, whip(3000.0), question, CORDS)


def printed(plan: Plan) -> None:
    sheet = bench_sheet(IN_FORCE, plan, SHOWN)
    drawn_pages = pages(sheet, "a4")
    to_html(sheet, drawn_pages)
    to_pdf(drawn_pages)
    to_svg(drawn(IN_FORCE, plan.whip, CORDS, SHOWN))


def _seconds(work: Callable[[], object]) -> float:
    """The best of three, after one to warm up."""
    work()
    times = []
    for _ in range(3):
        started = time.perf_counter()
        work()
        times.append(time.perf_counter() - started)
    return min(times)


def main() -> None:
    plan = planned(3000.0, GIVEN)
    rows = [
        ("cords, starts and ends given", _seconds(lambda: planned(3000.0, GIVEN)), 0.5),
        ("starts and ends open", _seconds(lambda: planned(3000.0, OPEN)), 3.0),
        ("several plans side by side", _seconds(lambda: beside(OPEN)), 3.0),
        ("planned again from the middle", _seconds(lambda: again(plan)), 0.2),
        ("bench sheet, PDF and drawing", _seconds(lambda: printed(plan)), 0.5),
    ]
    for name, seconds, goal in rows:
        print(f"{name:32} {seconds:6.2f} s   goal {goal:g}{'' if seconds <= goal else '   MISSED'}")
    half = _seconds(lambda: planned(1500.0, tuple(replace(x, ends=None) for x in GIVEN)))
    whole = _seconds(lambda: planned(3000.0, tuple(replace(x, ends=None) for x in GIVEN)))
    print(f"{'3 m over 1.5 m, ends open':32} {whole / half:6.2f}     linear: 2")


if __name__ == "__main__":
    main()
