"""Photos by the page: several at once, what cannot be taken is told, nothing of the camera is served."""

import io
import re

from PIL import Image
from starlette.testclient import TestClient

from tests.api.server import API, given
from tests.usecases.pictures_taken import CAMERA, from_a_telephone

WHIP = "/whips/2026-014"


def sent(client: TestClient, *files: tuple[str, bytes], status: int = 303) -> str:
    photos = [("photo", (name, content, "image/jpeg")) for name, content in files]
    form = {"whip": "2026-014", "caption": "on the bench"}
    answer = client.post("/photos", data=form, files=photos, follow_redirects=False)
    assert answer.status_code == status, answer.text
    return answer.headers.get("location", answer.text)


def numbers(client: TestClient) -> list[str]:
    return re.findall(r'src="/photos/(\d+)/small"', client.get(WHIP).text)


def test_several_photos_are_added_at_once_and_served_without_metadata(client: TestClient) -> None:
    taken = from_a_telephone(6)
    assert CAMERA.encode() in taken
    address = sent(client, ("a.jpg", taken), ("b.jpg", from_a_telephone(3)))
    assert re.fullmatch(rf"{WHIP}\?change=\d+#photos", address)
    assert len(numbers(client)) == 2
    assert client.get(WHIP).text.count('alt="on the bench"') == 2
    for size, longest in (("whole", 640), ("small", 480)):
        answer = client.get(f"/photos/{numbers(client)[0]}/{size}")
        assert answer.headers["content-type"] == "image/jpeg"
        assert "immutable" in answer.headers["cache-control"]
        assert CAMERA.encode() not in answer.content
        picture = Image.open(io.BytesIO(answer.content))
        assert not picture.getexif()
        assert max(picture.size) == longest
        assert picture.height > picture.width


def test_what_is_no_photo_is_told_and_the_others_are_added(client: TestClient) -> None:
    page = sent(client, ("notes.txt", b"not a picture"), ("a.jpg", from_a_telephone()), status=422)
    assert "notes.txt" in page
    assert "1 other was added" in page
    assert "Nothing was written" not in page
    assert len(numbers(client)) == 1
    page = sent(client, ("<b>.txt", b"not a picture"), status=422)
    assert "<b>" not in page
    assert "No photo was added" in page
    assert client.post("/photos", data={"whip": "2026-014"}).status_code == 422
    assert (
        client.post("/photos", data={"whip": "gone"}, files={"photo": from_a_telephone()}).status_code == 404
    )
    assert len(numbers(client)) == 1


def test_a_photo_is_written_under_removed_and_brought_back(client: TestClient) -> None:
    sent(client, ("a.jpg", from_a_telephone()))
    (number,) = numbers(client)
    client.post(f"/photos/{number}/caption", data={"caption": "the tip"})
    assert "<figcaption>the tip</figcaption>" in client.get(WHIP).text
    answer = client.post(f"/photos/{number}/remove", follow_redirects=False)
    assert numbers(client) == []
    assert client.get(f"/photos/{number}/small").status_code == 404
    change = re.findall(r"change=(\d+)", answer.headers["location"])[0]
    given(client.post(f"{API}/history/{change}/undo"), 201)
    assert numbers(client) == [number]
    assert client.get(f"/photos/{number}/small").status_code == 200


def test_looking_changes_nothing_and_odd_addresses_are_refused(client: TestClient) -> None:
    sent(client, ("a.jpg", from_a_telephone()))
    (number,) = numbers(client)
    assert client.get(f"/photos/{number}/remove").status_code == 422
    assert client.get(f"/photos/{number}/huge").status_code == 422
    assert client.get("/photos/99/whole").status_code == 404
    assert numbers(client) == [number]
