"""What holds of every page: its data as JSON, a policy that lets nothing in, nothing inline."""

import re

import pytest
from starlette.testclient import TestClient

from tests.pages.addresses import PAGES

FORBIDDEN = re.compile(
    r"\sstyle=|<script(?![^>]*\ssrc=)|\son[a-z]+=|javascript:|(?:src|href|action)=\"(?:https?:)?//"
)
"""Inline styles and scripts, and whatever leads elsewhere."""


@pytest.mark.parametrize("address", PAGES)
def test_a_page_is_data_and_needs_nothing_but_its_own_files(looked: TestClient, address: str) -> None:
    page = looked.get(address)
    assert page.status_code in {200, 422}
    assert page.headers["content-type"].startswith("text/html")
    policy = page.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert FORBIDDEN.findall(page.text) == []
    data = looked.get(address, headers={"Accept": "application/json"})
    assert data.status_code == page.status_code
    assert isinstance(data.json(), dict)
    assert data.json()


def test_every_file_of_a_page_is_there_and_may_be_kept(looked: TestClient) -> None:
    files = {file for address in PAGES for file in re.findall(r'"(/static/[^"]+)"', looked.get(address).text)}
    assert len(files) > 15
    for file in files:
        answer = looked.get(file)
        assert answer.status_code == 200, file
        assert "immutable" in answer.headers["cache-control"]
        assert answer.headers["x-content-type-options"] == "nosniff"
