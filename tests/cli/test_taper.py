"""`plaitlog taper`: words first, then the table, then what would tell more."""

import json

import pytest

CORD = (
    '{"kind":"cord","name":"Ridge 4 mm","construction":"cored","material":"nylon","diameter_mm":4,'
    '"linear_density_g_per_m":7.2}'
)


def whip(label: str, stations: int, **more: object) -> str:
    """An early taper from 16 to 6 mm: what is left falls with the square of the way to go."""
    places = [round(1800 * k / (stations - 1)) for k in range(stations)]
    readings = [{"at_mm": at, "diameter_mm": round(6 + 10 * (1 - at / 1800) ** 2, 2)} for at in places]
    facts = {"kind": "whip", "label": label, "type": "stock whip", "status": "finished"}
    return json.dumps({**facts, "thong_length_mm": 1800, "datum": "handle end", "readings": readings, **more})


@pytest.fixture
def workshop(run, file):  # type: ignore[no-untyped-def]
    layers = [{"role": "overlay", "cord": "Ridge 4 mm", "strands": [[0, 12], [600, 10], [900, 8]]}]
    lines = [
        whip("early 1", 13),
        whip("three", 3),
        whip("layers", 2, layers=layers),
        '{"kind":"whip","label":"old/3"}',
    ]
    run("import", file(CORD, *lines))
    return run


def test_the_word_and_its_number_come_first(workshop) -> None:  # type: ignore[no-untyped-def]
    lines = workshop("taper", "early 1").output.splitlines()
    assert lines[0].startswith("early 1: an early taper: fullness 0.3")
    assert "(90 %: 0.3" in lines[0]
    (row,) = [line for line in lines if line.startswith("fullness")]
    assert row.endswith("measured")
    (row,) = [line for line in lines if line.startswith("parallel at the point")]
    assert " in" in row  # lengths as this user reads them
    assert any("weigh the whip" in line for line in lines if line.startswith("note: "))


def test_json_holds_the_same_in_the_units_of_its_names(workshop) -> None:  # type: ignore[no-untyped-def]
    told = json.loads(workshop("taper", "early 1", "--json").stdout)
    numbers = {one["name"]: one for one in told["parameters"]}
    assert told["taper"] == "early"
    assert numbers["thick_end_mm"]["value"] == pytest.approx(16, abs=0.3)
    assert numbers["fullness"]["low_90"] < 1 / 3 < numbers["fullness"]["high_90"]
    assert numbers["fullness"]["known"] == "measured"
    assert told["stations"] == 13
    assert told["summary"][0].startswith("early 1: an early taper")


def test_three_readings_stand_for_a_middle_share_alone(workshop) -> None:  # type: ignore[no-untyped-def]
    lines = workshop("taper", "three").output.splitlines()
    assert lines[0].startswith("three: middle share 0.25")
    assert "needs readings at 6 stations" in lines[0]
    assert not any(line.startswith("fullness") for line in lines)


def test_a_whip_known_by_its_layers_is_predicted_and_marked(workshop) -> None:  # type: ignore[no-untyped-def]
    output = workshop("taper", "layers").output
    (row,) = [line for line in output.splitlines() if line.startswith("thick end")]
    assert row.endswith("predicted")
    assert "no fit is stored" in output


def test_a_whip_with_nothing_but_a_label_says_what_to_note(workshop) -> None:  # type: ignore[no-untyped-def]
    output = workshop("taper", "old/3").output
    assert "nothing is known of the shape" in output
    assert "note thong_length" in output
    workshop("taper", "old/3", "--strict", code=1)


def test_an_unknown_label_is_refused_with_the_nearest(workshop) -> None:  # type: ignore[no-untyped-def]
    refused = workshop("taper", "eraly 1", code=2)
    assert "did you mean 'early 1'" in refused.output


def test_each_parameter_is_explained_on_request(workshop) -> None:  # type: ignore[no-untyped-def]
    assert (
        "middle share: how much of the difference is left at half the length"
        in workshop("taper", "early 1", "--explain").output
    )
