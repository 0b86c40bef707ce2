"""The same thing sent twice at the same moment, as by an impatient finger, is one thing."""

from concurrent.futures import ThreadPoolExecutor

from starlette.testclient import TestClient

from tests.api.server import API, given

TIMES = 25


def test_a_whip_sent_twice_at_once_is_one_whip(empty: TestClient) -> None:
    def send(number: int) -> tuple[int, str]:
        key = {"Idempotency-Key": f"submit {number}"}
        whip = {"label": f"W{number}", "readings": [{"at_mm": 10, "diameter_mm": 12.5}]}
        answer = empty.post(f"{API}/whips", json=whip, headers=key)
        return answer.status_code, answer.headers.get("location", "")

    with ThreadPoolExecutor(4) as pool:
        answers = list(pool.map(send, [number // 2 for number in range(2 * TIMES)]))
    assert answers == [(201, f"{API}/whips/W{number // 2}") for number in range(2 * TIMES)]
    assert given(empty.get(f"{API}/whips"))["total"] == TIMES
    assert given(empty.get(f"{API}/readings"))["total"] == TIMES


def test_two_people_who_add_the_same_whip_at_once_are_told_so(empty: TestClient) -> None:
    def send(number: int) -> int:
        return empty.post(f"{API}/whips", json={"label": f"W{number}"}).status_code

    with ThreadPoolExecutor(4) as pool:
        answers = list(pool.map(send, [number // 2 for number in range(2 * TIMES)]))
    for first, second in zip(answers[::2], answers[1::2], strict=True):
        assert {first, second} == {201, 409}


def test_of_two_edits_of_one_copy_one_is_refused(empty: TestClient) -> None:
    added = given(empty.post(f"{API}/whips", json={"label": "shared"}), 201)

    def send(number: int) -> int:
        edit = {"version": added["version"], "changes": {"notes": f"by {number}"}}
        return empty.patch(f"{API}/whips/shared", json=edit).status_code

    with ThreadPoolExecutor(4) as pool:
        answers = sorted(pool.map(send, range(8)))
    assert answers == [200] + [409] * 7
