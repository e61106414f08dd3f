"""Settings: arguments before the environment before the file; mistakes name the setting."""

from __future__ import annotations

from pathlib import Path

import pytest

from service import server
from service.errors import RefusedError
from service.settings import default_data_dir, prepare_data_dir, read_settings


def test_arguments_win_over_the_environment_and_that_over_the_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "grainfold.toml").write_text("port = 1111\nworkers = 3\nlan = true\n")
    monkeypatch.setenv("GRAINFOLD_WORKERS", "5")
    monkeypatch.setenv("GRAINFOLD_DATA", str(tmp_path))
    settings = read_settings(port=2222, host=None)
    assert (settings.port, settings.workers, settings.lan) == (2222, 5, True)
    assert (settings.host, settings.data) == ("127.0.0.1", tmp_path)


@pytest.mark.parametrize(("told", "name"), [({"port": 70000}, "port"), ({"workers": 0}, "workers")])
def test_a_setting_that_cannot_be_used_is_named(told: dict[str, int], name: str) -> None:
    with pytest.raises(RefusedError) as caught:
        read_settings(**told)
    assert caught.value.where == name
    assert f"GRAINFOLD_{name.upper()}" in caught.value.hint


def test_a_data_directory_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    settings = read_settings(data=tmp_path / "file" / "data")
    with pytest.raises(RefusedError, match="cannot be written") as caught:
        prepare_data_dir(settings)
    assert "--data" in caught.value.hint


def test_the_password_of_the_database_is_not_shown() -> None:
    settings = read_settings(database_url="postgresql+psycopg://sewing:secret@db/grainfold")
    assert "secret" not in repr(settings)
    assert settings.url.endswith(":secret@db/grainfold")


def test_data_goes_where_the_platform_keeps_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", "/somewhere")
    assert default_data_dir().name == "grainfold"


def test_a_taken_port_is_replaced_by_a_free_one() -> None:
    first = server.bind("127.0.0.1", 0)
    port = first.getsockname()[1]
    second = server.bind("127.0.0.1", port)
    try:
        assert second.getsockname()[1] != port
        assert server.address_of(second) == f"http://127.0.0.1:{second.getsockname()[1]}/"
    finally:
        first.close()
        second.close()


def test_an_address_that_is_not_ours_is_refused() -> None:
    with pytest.raises(RefusedError, match="cannot listen"):
        server.bind("203.0.113.7", 0)
