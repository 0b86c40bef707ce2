"""The form of an import, filled in as the page shows it: what a browser sends where nobody touches it."""

from typing import Any

from starlette.testclient import TestClient

Form = dict[str, str]


def pasted(client: TestClient, cells: str) -> str:
    """Paste cells; gives the address of what they wait under."""
    return _sent(client.post("/import", data={"cells": cells}, follow_redirects=False))


def chosen(client: TestClient, name: str, content: bytes) -> str:
    """The same with a file."""
    return _sent(client.post("/import", files={"file": (name, content)}, follow_redirects=False))


def _sent(answer: Any) -> str:
    assert answer.status_code == 303, answer.text
    address: str = answer.headers["location"]
    return address


def shown(client: TestClient, address: str) -> dict[str, Any]:
    data: dict[str, Any] = client.get(address, params={"as": "json"}).json()
    return data


def untouched(data: dict[str, Any]) -> Form:
    """Every field as it stands."""
    form: Form = {"decimal": data["decimal"], "encoding": data["encoding"]}
    for sheet in data["sheets"]:
        field = sheet["field"]
        form[f"{field}-table"] = sheet["table"]
        if data["several_sheets"]:
            form[f"{field}-shown"] = "yes"
            if sheet["read"]:
                form[f"{field}-read"] = "yes"
        if sheet["station_unit"] is not None:
            form[f"{field}-station"] = sheet["station_unit"]
        for column in sheet["columns"]:
            form[f"{column['field']}-key"] = column["key"]
            form[f"{column['field']}-at"] = column["at"]
            if column["units"]:
                form[f"{column['field']}-unit"] = column["unit"]
    for row in (data["report"] or {"rejected": []})["rejected"]:
        form[f"sheet-{row['number']}"], form[f"line-{row['number']}"] = row["sheet"], str(row["line"])
        for cell in row["cells"]:
            form[f"cell-{row['number']}-{cell['column']}"] = cell["text"]
            form[f"was-{row['number']}-{cell['column']}"] = cell["was"]
    return form


def sent(client: TestClient, address: str, **changed: str) -> str:
    """Send the form with some fields changed; gives where it leads to."""
    form = {**untouched(shown(client, address)), **{key.replace("_", "-"): x for key, x in changed.items()}}
    return _sent(client.post(address, data=form, follow_redirects=False))
