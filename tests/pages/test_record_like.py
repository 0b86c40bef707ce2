"""New like this, and the same in another cord: what is copied of a whip, and what is left open."""

import pytest
from starlette.testclient import TestClient

from plaitlog.models.whip import Whip
from plaitlog.service.database import reading
from plaitlog.service.usecases.recording.bench import bench_of
from plaitlog.service.usecases.recording.checks import whip_of
from plaitlog.service.usecases.recording.form import fill, first_texts
from plaitlog.service.usecases.recording.like import like
from plaitlog.service.usecases.shown_units import ShownUnits
from plaitlog.service.usecases.workshop import whips

COPIED = (
    "type", "maker", "thong_length_mm", "handle_diameter_mm", "foundation", "quoted_length", "finish", "fall",
    "cracker", "layers_complete",
)  # fmt: skip


def layers_of(whip: Whip) -> list[object]:
    """What two whips of the same make share, whatever letters their cords go by."""
    return [
        (
            layer.role,
            layer.schedule and [(step.place, step.counts, step.pattern) for step in layer.schedule.steps],
            [(cord.cord, cord.share, cord.lot) for cord in layer.cords],
            layer.diameter_mm, layer.thickness_mm, layer.from_mm or None, layer.to_mm, layer.what,
        )
        for layer in whip.layers
    ]  # fmt: skip


@pytest.mark.parametrize("units", [ShownUnits(), ShownUnits("mm", "mm")])
def test_new_like_this_is_the_same_whip_without_its_measures(demo: TestClient, units: ShownUnits) -> None:
    with reading(demo.app.state.engine) as session:  # type: ignore[attr-defined]
        bench = bench_of(session, units)
        for made in list(whips(session))[:: 9 if units.lengths == "mm" else 5]:
            typed = first_texts("new", bench, like(made, units))
            filled = fill({**typed, "label": "new"}, "new", bench)
            assert filled.wrong == (), made.label
            again, _, _ = whip_of(filled.draft, bench)
            assert layers_of(again) == layers_of(made), made.label
            unknown = {"maker"} if made.maker is None else set()  # then the one who records is proposed
            for key in set(COPIED) - unknown:
                assert getattr(again, key) == getattr(made, key), (made.label, key)
            assert (again.readings, again.weights, again.ratings, again.balance) == ((), (), (), None)
            anew = fill(
                {**first_texts("new", bench, like(made, units, other_cord=True)), "label": "new"},
                "new",
                bench,
            )
            assert all(field.needed for field in anew.wrong)
            assert not any(text for key, text in anew.draft.answers if key.startswith(("cord.", "lot.")))
