"""The accuracy benchmark measures what it says, so that its table can be believed."""

import pandas as pd
import pytest

from plaitlog.models.calibration.diameter import DiameterModel
from tests.benchmarks.accuracy import RIVALS, perturbed, ratios, records
from tests.benchmarks.trials import NEW_CORD, NEW_WHIP, REST, ROWS
from tests.benchmarks.workshops import HELD_OUT


def held_out(group: str, floor: float, model: float, readings: int) -> list[dict[str, object]]:
    record = {"row": NEW_WHIP, "whips": 20, "mechanics": "any", "seed": 0, "group": group, "floor": floor}
    return [
        {**record, "model": model, **dict.fromkeys(RIVALS, 2 * floor), "in 50": True, "in 90": True}
    ] * readings


def test_ratios_are_root_mean_squares_over_the_floors_and_every_whip_counts_alike() -> None:
    table = ratios(
        pd.DataFrame(held_out("a", 0.03, 0.04, readings=1) + held_out("b", 0.04, 0.03, readings=50))
    )
    assert table["model"].tolist() == pytest.approx([1.0, 1.0])
    assert table[RIVALS[0]].tolist() == pytest.approx([2.0, 2.0])
    assert table["floor"].tolist() == pytest.approx([((0.03**2 + 0.04**2) / 2) ** 0.5] * 2)


def test_perturbing_moves_every_real_constant_by_thirty_per_cent() -> None:
    before, moved = DiameterModel().get_params(), perturbed(0.3, seed=1)
    assert moved.keys() == {name for name, value in before.items() if isinstance(value, float)}
    ratio = {name: abs(value / before[name]) for name, value in moved.items() if before[name]}
    assert all(
        r == pytest.approx(1.3) or r == pytest.approx(1 / 1.3) or moved[n] == 0.95 for n, r in ratio.items()
    )


def test_every_row_of_the_table_can_be_asked_of_a_small_workshop() -> None:
    held = records(HELD_OUT, [2], [8], ROWS)
    assert set(held["row"]) == set(ROWS)
    assert held.loc[held["row"] == NEW_CORD, "new cord"].all()
    assert not held.loc[held["row"] == NEW_WHIP, "new cord"].any()
    assert (held.loc[held["row"] == REST].groupby("group").size() == 13 - 5).all()
    assert held[["floor", "model", *RIVALS]].abs().max().max() < 1.0
