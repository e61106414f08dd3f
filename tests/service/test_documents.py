"""The schema that is served describes the sheets that are read."""

from __future__ import annotations

from fastapi.testclient import TestClient


def test_the_schema_is_served_with_examples(client: TestClient) -> None:
    answer = client.get("/api/schema/piece-sheet")
    assert answer.headers["content-type"].startswith("application/schema+json")
    schema = answer.json()
    assert schema["$schema"].startswith("https://json-schema.org/")
    assert "pieces" in schema["properties"]


def test_the_drawing_convention_is_served(client: TestClient) -> None:
    text = client.get("/api/conventions/svg").json()["text"]
    for word in ("grain", "fold", "notch", "net", "cut"):
        assert f"`{word}" in text
