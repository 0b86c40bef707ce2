"""Numbers in addresses and forms, whatever stands in their place: told, never an error of the program."""

import pytest
from starlette.testclient import TestClient

ODD = ("x", "-1", "1.5", "0", "²", "٣", "9" * 5_000)
ADDRESSES = (
    "/?change=",
    "/whips?page=",
    "/changes?page=",
    "/changes?before=",
    "/rate/2026-014?session=",
    "/plan/no-such-plan?question=",
)


@pytest.mark.parametrize("typed", ODD)
def test_an_address_is_answered(looked: TestClient, typed: str) -> None:
    for address in ADDRESSES:
        assert looked.get(f"{address}{typed}").status_code in {200, 404}, address


@pytest.mark.parametrize("typed", ODD)
def test_a_form_is_refused(client: TestClient, typed: str) -> None:
    form = {"session": typed, "version": typed, "number": typed, "do": "remove-rating"}
    assert client.post("/rate/2026-014", data=form).status_code == 404
    assert client.post("/edit/2026-014", data=form).status_code == 422  # told on the page itself
    stale = client.post("/makers/Orrin", data={"name": "Orrin B", "do": "rename", "version": typed})
    assert stale.status_code in {200, 409}
