"""What the person or the machine decides before the service starts: environment first, then defaults.

Every field can be set as ``GRAINFOLD_<NAME>``, or in ``grainfold.toml`` in the data directory.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any

from pydantic import Field, SecretStr, ValidationError
from pydantic_settings import (
    BaseSettings,
    PydanticBaseSettingsSource,
    SettingsConfigDict,
    TomlConfigSettingsSource,
)

from service.errors import RefusedError

MEGABYTE = 1_000_000
SETTINGS_FILE = "grainfold.toml"


def default_data_dir() -> Path:
    """Where this platform keeps a user's application data."""
    home = Path.home()
    if sys.platform == "darwin":
        return home / "Library" / "Application Support" / "grainfold"
    if os.name == "nt":
        return Path(os.environ.get("LOCALAPPDATA", home / "AppData" / "Local")) / "grainfold"
    return Path(os.environ.get("XDG_DATA_HOME") or home / ".local" / "share") / "grainfold"


class Settings(BaseSettings):
    """All settings of the service; frozen once made."""

    model_config = SettingsConfigDict(env_prefix="GRAINFOLD_", frozen=True, extra="forbid")

    data: Path = Field(
        default_factory=default_data_dir, description="directory of all that is kept"
    )
    database_url: SecretStr | None = Field(
        default=None, description="another database, for example postgresql+psycopg://..."
    )
    host: str = "127.0.0.1"
    port: int = Field(default=8765, ge=0, le=65535, description="0 takes any free port")
    lan: bool = Field(default=False, description="serve devices of the network that are let in")
    allowed_hosts: tuple[str, ...] = Field(
        default=(), description="further names under which pages may reach the service"
    )
    workers: int = Field(default=2, ge=1, le=64, description="processes that search for layouts")
    upload_limit: int = Field(default=20 * MEGABYTE, ge=1000, description="bytes of one request")
    lock_wait_ms: int = Field(default=5000, ge=0, description="wait for a locked database")
    warm_up: bool = Field(default=True, description="prepare the search as soon as we start")
    demo: bool = Field(default=True, description="load the demo wardrobe into an empty store")
    log_json: bool | None = Field(
        default=None, description="JSON logs; unset: unless on a terminal"
    )

    @property
    def url(self) -> str:
        """The database's URL, with its password: never log it."""
        if self.database_url is not None:
            return self.database_url.get_secret_value()
        return f"sqlite+pysqlite:///{self.data / 'grainfold.db'}"

    @classmethod
    def settings_customise_sources(
        cls,
        settings_cls: type[BaseSettings],
        init_settings: PydanticBaseSettingsSource,
        env_settings: PydanticBaseSettingsSource,
        dotenv_settings: PydanticBaseSettingsSource,
        file_secret_settings: PydanticBaseSettingsSource,
    ) -> tuple[PydanticBaseSettingsSource, ...]:
        """Arguments win over the environment, the environment over the file."""
        del dotenv_settings, file_secret_settings
        told = init_settings().get("data") or os.environ.get("GRAINFOLD_DATA")
        folder = Path(str(told)) if told else default_data_dir()
        file = TomlConfigSettingsSource(settings_cls, folder / SETTINGS_FILE)
        return init_settings, env_settings, file


def read_settings(**told: Any) -> Settings:
    """Settings from the arguments given (None = not said), environment and file.

    Raises RefusedError naming the setting that cannot be used.
    """
    try:
        return Settings(**{name: value for name, value in told.items() if value is not None})
    except ValidationError as error:
        first = error.errors()[0]
        name = ".".join(str(part) for part in first["loc"])
        raise RefusedError(
            f"the setting “{name}” cannot be used: {first['msg']}",
            where=name,
            hint=f"Look at the command line, GRAINFOLD_{name.upper()} and {SETTINGS_FILE}.",
            code="setting",
        ) from error


def prepare_data_dir(settings: Settings) -> None:
    """Make the data directory and try to write in it. Raises RefusedError saying what to do."""
    probe = settings.data / ".write-probe"
    try:
        settings.data.mkdir(parents=True, exist_ok=True)
        probe.write_bytes(b"")
        probe.unlink()
    except OSError as error:
        raise RefusedError(
            f"the data directory {settings.data} cannot be written: {error.strerror or error}",
            hint="Choose another with --data DIR, or mend its permissions.",
            where=str(settings.data),
            code="data_dir",
        ) from error


def data_dir_ok(settings: Settings) -> bool:
    """Whether the data directory can be written just now."""
    return os.access(settings.data, os.W_OK | os.X_OK)
