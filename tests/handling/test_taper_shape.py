"""The shape of a thong from its diameters: known profiles, an exhaustive search, and what must not matter."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from plaitlog.models.handling.profile import Profile, shape_of, shapes_of
from plaitlog.models.handling.segmented import (
    END_SPREAD,
    FREEDOM,
    NO_PARALLEL,
    USUAL_PARALLEL,
    Stations,
    fit_segments,
)
from plaitlog.models.handling.taper_word import other_words, taper_word
from plaitlog.models.taper import Shape, even_fullness

Floats = NDArray[np.float64]
SCATTER = 0.0125


def read(shape: Shape, stations: int, rng: np.random.Generator | None, scatter: float = SCATTER) -> Profile:
    """Evenly spaced readings of a thong, noisy where there is a source of noise."""
    at = np.linspace(0.0, shape.length_mm, stations)
    true = shape.diameter_mm(at)
    sizes = true if rng is None else true * (1 + scatter * rng.normal(size=stations))
    return Profile(shape.length_mm, at, sizes, scatter * sizes)


def any_shape(rng: np.random.Generator) -> Shape:
    """Thongs as makers shape them, some straight in diameter squared, some held level at their ends."""
    length = rng.uniform(1200, 3000)
    return Shape(
        length_mm=length,
        thick_mm=rng.uniform(13, 22),
        point_mm=rng.uniform(5, 8.5),
        parallel_thick_mm=rng.choice([0.0, rng.uniform(0.0, 0.3)]) * length,
        parallel_point_mm=rng.choice([0.0, rng.uniform(0.0, 0.2)]) * length,
        fullness=rng.choice([None, rng.uniform(0.3, 0.75)]),
    )


def truth(shape: Shape) -> dict[str, float]:
    even = even_fullness(shape.thick_mm, shape.point_mm)
    middle = float(shape.diameter_mm(np.array([shape.length_mm / 2]))[0])
    return {
        "thick_end_mm": shape.thick_mm,
        "point_mm": shape.point_mm,
        "taper_ratio": shape.thick_mm / shape.point_mm,
        "parallel_thick_mm": shape.parallel_thick_mm,
        "parallel_point_mm": shape.parallel_point_mm,
        "fullness": even if shape.fullness is None else shape.fullness,
        "middle_share": (middle - shape.point_mm) / (shape.thick_mm - shape.point_mm),
    }


def test_known_profiles_lie_within_their_intervals_nine_times_in_ten() -> None:
    rng = np.random.default_rng(20)
    shapes = [any_shape(rng) for _ in range(400)]
    found = shapes_of([read(shape, int(rng.integers(6, 22)), rng) for shape in shapes])
    inside: dict[str, list[bool]] = {}
    for shape, told in zip(shapes, found, strict=True):
        for name, value in truth(shape).items():
            one = told[name]
            inside.setdefault(name, []).append(one.low_90 - 1e-9 <= value <= one.high_90 + 1e-9)
    # Three standard errors of 400 draws either way: an interval of 80 % fails, and one that is always right.
    wrong = {name: np.mean(hits) for name, hits in inside.items() if not 0.855 <= np.mean(hits) <= 0.985}
    assert not wrong
    # What is right for a reason is narrow too.
    assert np.mean([told["fullness"].sd for told in found]) < 0.03
    assert np.mean([told["parallel_thick_mm"].sd for told in found]) < 100


@pytest.mark.parametrize("fullness", [None, 0.38, 0.5, 0.69])
def test_a_common_stock_whip_gives_back_its_parallel_ends_and_fullness(fullness: float | None) -> None:
    """14 mm held for 12 in, 5.5 mm held for 7 in (common practice, no source), on 6 ft, at 12 stations."""
    shape = Shape(
        length_mm=1828.8,
        thick_mm=14,
        point_mm=5.5,
        parallel_thick_mm=304.8,
        parallel_point_mm=178,
        fullness=fullness,
    )
    rng = np.random.default_rng(4)
    found = shapes_of([read(shape, 12, rng) for _ in range(100)])
    for name in ("parallel_thick_mm", "parallel_point_mm", "fullness"):
        hits = [told[name].low_90 <= truth(shape)[name] <= told[name].high_90 for told in found]
        # A single shape may lie where what is likely beforehand pulls: three standard errors below.
        assert np.mean(hits) >= 0.81, (name, np.mean(hits))
        middle = np.mean([told[name].value for told in found])
        assert abs(middle - truth(shape)[name]) < np.mean([told[name].sd for told in found])


@pytest.mark.parametrize(
    ("thick", "point", "expected"),
    [
        pytest.param(14, 5.5, 0.573, id="stock whip"),
        pytest.param(22, 5, 0.605, id="heavy bullwhip"),
    ],
)
def test_a_straight_line_in_diameter_squared_has_the_fullness_of_an_integral_of_a_root(
    thick: float, point: float, expected: float
) -> None:
    shape = Shape(length_mm=2000, thick_mm=thick, point_mm=point)
    u = (np.arange(100_000) + 0.5) / 100_000
    by_sum = float(np.mean((np.sqrt(thick**2 + (point**2 - thick**2) * u) - point) / (thick - point)))
    assert by_sum == pytest.approx(expected, abs=5e-4)
    told = shape_of(read(shape, 41, None, scatter=0.002))
    assert told["fullness"].value == pytest.approx(expected, abs=0.005)
    assert told["middle_share"].value == pytest.approx(truth(shape)["middle_share"], abs=0.005)
    assert taper_word(told) == "even"


def test_sharp_readings_give_sharp_breaks() -> None:
    shape = Shape(
        length_mm=2000,
        thick_mm=16,
        point_mm=6,
        parallel_thick_mm=430,
        parallel_point_mm=210,
        fullness=0.45,
    )
    told = shape_of(read(shape, 60, None, scatter=0.001))
    assert told["parallel_thick_mm"].value == pytest.approx(430, abs=25)
    assert told["parallel_point_mm"].value == pytest.approx(210, abs=25)
    assert told["fullness"].value == pytest.approx(0.45, abs=0.01)
    assert told["thick_end_mm"].value == pytest.approx(16, abs=0.02)
    assert told["point_mm"].value == pytest.approx(6, abs=0.02)


def dense_posterior(thong: Stations) -> dict[str, tuple[float, float]]:
    """Mean and sd by summing over 60,000 pairs of breaks and numbers of a taper, nothing approximated but the
    grid: thick end and point are integrated as the normal variables that they are."""
    share = np.linspace(0.0, 0.6, 41)
    a, b = (x.ravel() for x in np.meshgrid(share, share, indexing="ij"))

    def before(x: Floats) -> Floats:
        weight = np.exp(-x / USUAL_PARALLEL) / USUAL_PARALLEL * (share[1] - share[0]) * (1 - NO_PARALLEL)
        return np.where(x == 0, NO_PARALLEL, weight)

    keep = a + b <= 0.85
    a, b = a[keep], b[keep]
    u = np.clip((thong.along - a[:, None]) / (1 - a - b)[:, None], 0, 1)
    first, last = thong.diameters[0], thong.diameters[-1]
    y = np.append(thong.diameters, [first, last])
    w = 1 / np.append(thong.sds, [END_SPREAD * first, END_SPREAD * last]) ** 2
    r = last / first
    tapers = [
        (
            f,
            -0.5 * ((f - 0.55) / 0.2) ** 2 - np.log(0.2),
            (1 - u) ** (1 / f - 1) if f <= 0.5 else 1 - u ** (f / (1 - f)),
        )
        for f in np.linspace(0.13, 0.87, 60)
    ]
    step_f, step_m = 0.74 / 59, 12 / 59
    for m in np.linspace(-4, 8, 60):
        shape = ((1 + (r**m - 1) * u) ** (1 / m) - r) / (1 - r)
        grid = np.linspace(0, 1, 2001)
        full = float(np.mean(((1 + (r**m - 1) * grid) ** (1 / m) - r) / (1 - r)))
        tapers.append((full, -0.5 * ((m - 1.5) / 2) ** 2 - np.log(2.0) + np.log(step_m / step_f), shape))
    logs, fullness = [], []
    for full, prior, left in tapers:
        g = np.hstack([left, np.ones((len(a), 1)), np.zeros((len(a), 1))])
        sg, sgg, sy, sgy = g @ w, (g * g) @ w, w @ y, g @ (w * y)
        det = w.sum() * sgg - sg**2
        p, d = (sgg * sy - sg * sgy) / det, (w.sum() * sgy - sg * sy) / det
        rss = ((y - p[:, None] - d[:, None] * g) ** 2) @ w
        log = np.log(before(a) * before(b)) + prior - 0.5 * np.log(det)
        log -= (FREEDOM + len(thong.along)) / 2 * np.log(FREEDOM + rss)
        logs.append(np.where(d > 0, log, -np.inf))
        fullness.append(np.full(len(a), full))
    log, full = np.concatenate(logs), np.concatenate(fullness)
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    found = {}
    for name, values in (("start", np.tile(a, len(tapers))), ("fullness", full)):
        mean = float(weight @ values)
        found[name] = mean, float(np.sqrt(weight @ (values - mean) ** 2))
    return found


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_breaks_and_fullness_agree_with_an_exhaustive_sum(seed: int) -> None:
    rng = np.random.default_rng(seed)
    profile = read(
        Shape(length_mm=1800, thick_mm=15, point_mm=6, parallel_thick_mm=300, parallel_point_mm=100), 10, rng
    )
    thong = Stations(profile.along, profile.diameter_mm, profile.sd_mm)
    dense = dense_posterior(thong)
    (found,) = fit_segments([thong])
    assert found is not None
    for name, values in (("start", found.start), ("fullness", found.fullness)):
        mean, sd = found.moments(values)
        assert abs(mean - dense[name][0]) < 0.3 * dense[name][1], (name, mean, dense[name])
        # The exhaustive sum counts what a pair of breaks leaves undecided of the fullness, which the other
        # one keeps apart from the candidates.
        assert sd < 1.3 * dense[name][1], (name, sd, dense[name])
    assert found.moments(found.start)[1] > 0.7 * dense["start"][1]


def test_three_readings_give_the_middle_share_and_no_fullness() -> None:
    at, sizes = np.array([0.0, 900.0, 1800.0]), np.array([14.0, 9.75, 5.5])
    told = shape_of(Profile(1800.0, at, sizes, 0.1 * np.ones(3)))
    assert told["middle_share"].value == pytest.approx(0.5)
    # (D_mid - D_point) / (D_thick - D_point) to first order in three errors of 0.1 mm.
    assert told["middle_share"].sd == pytest.approx(0.1 * np.sqrt(1 + 0.25 + 0.25) / 8.5)
    assert told["taper_ratio"].value == pytest.approx(14 / 5.5)
    assert told["taper_rate_thick"].value == pytest.approx(4.25 / 0.9)
    assert not {"fullness", "parallel_thick_mm", "parallel_point_mm"} & set(told)
    assert taper_word(told) is None


@pytest.mark.parametrize("places", [(0, 300, 600), (900, 1350, 1800), (0, 1800), (900,)])
def test_readings_of_one_part_alone_tell_nothing_of_the_shape(places: tuple[float, ...]) -> None:
    at = np.array(places, dtype=float)
    assert not shape_of(Profile(1800.0, at, 14 - at / 300, np.full(len(at), 0.1)))


def test_a_thong_that_hardly_tapers_is_parallel_and_has_no_fullness() -> None:
    rng = np.random.default_rng(1)
    shape = Shape(length_mm=1800, thick_mm=12, point_mm=10.5)
    told = shape_of(read(shape, 10, rng))
    assert taper_word(told) == "parallel"
    assert not {"fullness", "middle_share", "parallel_thick_mm"} & set(told)
    level = Profile(1800.0, np.linspace(0, 1800, 8), np.full(8, 12.0), np.full(8, 0.15))
    assert taper_word(shape_of(level)) == "parallel"
    rising = Profile(1800.0, np.linspace(0, 1800, 8), np.linspace(10, 13, 8), np.full(8, 0.15))
    assert taper_word(shape_of(rising)) == "parallel"


@pytest.mark.parametrize(("fullness", "word"), [(0.36, "early"), (0.52, "even"), (0.7, "late")])
def test_words_go_by_the_fullness(fullness: float, word: str) -> None:
    shape = Shape(length_mm=1800, thick_mm=16, point_mm=6, fullness=fullness)
    told = shape_of(read(shape, 30, None, scatter=0.003))
    assert taper_word(told) == word
    assert other_words(told) == ()


def test_one_mistyped_reading_does_not_move_the_rest() -> None:
    rng = np.random.default_rng(8)
    for place, wrong in ((3, 0.1), (0, 0.1), (7, 10.0), (11, 3.1416)):
        held = Shape(length_mm=1800, thick_mm=16, point_mm=6, parallel_thick_mm=250, parallel_point_mm=250)
        sound = read(held, 12, rng)
        sizes = sound.diameter_mm.copy()
        sizes[place] *= wrong
        mistyped = Profile(1800.0, sound.at_mm, sizes, sound.sd_mm)
        before, after = shape_of(sound), shape_of(mistyped)
        for name in ("thick_end_mm", "point_mm", "fullness", "middle_share"):
            far = 2.0 if place in (0, 11) else 1.0  # without its outermost reading an end is less sure
            shift = abs(before[name].value - after[name].value)
            assert shift < far * np.hypot(before[name].sd, after[name].sd), (place, name)


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10_000), size=st.floats(0.3, 3.0), length=st.floats(0.3, 3.0))
def test_shares_do_not_depend_on_the_scale(seed: int, size: float, length: float) -> None:
    rng = np.random.default_rng(seed)
    one = read(any_shape(rng), 9, rng)
    other = Profile(one.length_mm * length, one.at_mm * length, one.diameter_mm * size, one.sd_mm * size)
    told, scaled = shape_of(one), shape_of(other)
    factors = {
        "thick_end_mm": size,
        "point_mm": size,
        "parallel_thick_mm": length,
        "parallel_point_mm": length,
    }
    factors |= {"taper_rate_thick": size / length, "taper_rate_point": size / length}
    assert told.keys() == scaled.keys()
    for name, estimate in told.items():
        factor = factors.get(name, 1.0)
        assert scaled[name].value == pytest.approx(estimate.value * factor, rel=1e-6, abs=1e-9), name
        assert scaled[name].sd == pytest.approx(estimate.sd * factor, rel=1e-6, abs=1e-9), name


def test_many_thongs_at_once_are_told_as_each_alone() -> None:
    rng = np.random.default_rng(2)
    profiles = [read(any_shape(rng), n, rng) for n in (3, 6, 9, 21, 13, 7)]
    for alone, together in zip(map(shape_of, profiles), shapes_of(profiles), strict=True):
        assert alone.keys() == together.keys()
        for name, one in alone.items():
            assert together[name].value == pytest.approx(one.value, rel=1e-9)
            assert together[name].sd == pytest.approx(one.sd, rel=1e-9)


def test_more_scatter_than_stated_widens_what_is_told() -> None:
    rng = np.random.default_rng(5)
    quiet = read(Shape(length_mm=1800, thick_mm=16, point_mm=6), 16, rng)
    rough = 1 + 0.04 * rng.normal(size=16)
    loud = Profile(1800.0, quiet.at_mm, quiet.diameter_mm * rough, quiet.sd_mm)
    assert shape_of(loud)["fullness"].sd > 1.5 * shape_of(quiet)["fullness"].sd


def test_errors_that_stations_share_widen_the_ends_and_leave_their_ratio() -> None:
    shape = read(Shape(length_mm=1800, thick_mm=16, point_mm=6), 21, None)
    common = np.full((21, 21), 0.06**2)
    told = shape_of(Profile(1800.0, shape.at_mm, shape.diameter_mm, shape.sd_mm, common))
    alone = shape_of(shape)
    assert told["thick_end_mm"].sd == pytest.approx(np.hypot(alone["thick_end_mm"].sd, 0.06 * 16), rel=0.02)
    for name in ("taper_ratio", "fullness", "middle_share"):
        assert told[name].sd == pytest.approx(alone[name].sd, rel=0.02), name


def test_uncertainties_agree_with_a_parametric_bootstrap_where_the_breaks_are_inside() -> None:
    """Readings drawn anew about the true profile, each fitted by itself: their spread is what the fit to one
    of them should have said."""
    shape = Shape(
        length_mm=1800, thick_mm=16, point_mm=6, parallel_thick_mm=360, parallel_point_mm=300, fullness=0.45
    )
    rng = np.random.default_rng(12)
    found = shapes_of([read(shape, 16, rng) for _ in range(250)])
    for name in ("thick_end_mm", "point_mm", "taper_ratio", "fullness", "middle_share", "parallel_thick_mm"):
        spread = float(np.std([told[name].value for told in found]))
        stated = float(np.sqrt(np.mean([told[name].sd ** 2 for told in found])))
        assert 0.75 < stated / spread < 1.4, (name, stated, spread)
