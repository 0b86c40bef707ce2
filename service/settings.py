"""Settings: from the environment (``PLAITLOG_...``), with defaults that work on a fresh machine."""

from pathlib import Path
from typing import Annotated, Any, Final

import platformdirs
from pydantic import Field, ValidationError
from pydantic_settings import BaseSettings, SettingsConfigDict

from plaitlog.models.errors import Finding, InputError

BACKUPS_KEPT: Final = 10


def data_folder() -> Path:
    """The folder in which this user's programs keep their data."""
    return Path(platformdirs.user_data_dir("plaitlog", appauthor=False))


class Settings(BaseSettings):
    """What can be set; an option of a command goes before the environment."""

    model_config = SettingsConfigDict(env_prefix="PLAITLOG_", extra="ignore")

    def __init__(self, **values: Any) -> None:
        """Refuse a setting that cannot be, in the project's own words (InputError)."""
        try:
            super().__init__(**values)
        except ValidationError as error:
            wrong = error.errors(include_url=False)[0]
            name = f"PLAITLOG_{'_'.join(map(str, wrong['loc'])).upper()}"
            text = f"{wrong['input']!r} cannot be used: {wrong['msg']}"
            raise InputError(Finding("setting", text, "correct or unset it", name)) from error

    database_url: str = Field(
        default="",
        description="Where the records are: an SQLite file as a plain path, or a database URL "
        "(sqlite:///..., postgresql://...). Empty: the file plaitlog.db in the user's data folder.",
    )
    line_limit_bytes: Annotated[int, Field(ge=1_000)] = Field(
        default=1_000_000,
        description="Longest line, in bytes, that an import takes.",
    )
    busy_timeout_s: Annotated[float, Field(ge=0)] = Field(
        default=10.0,
        description="How long, in seconds, a writer waits for another writer on SQLite.",
    )
    backups_kept: Annotated[int, Field(ge=1)] = Field(
        default=BACKUPS_KEPT,
        description="How many backups are kept at least before the oldest are removed.",
    )
    body_limit_bytes: Annotated[int, Field(ge=1_000)] = Field(
        default=2_000_000,
        description="Longest JSON body, in bytes, that the server takes.",
    )
    upload_limit_bytes: Annotated[int, Field(ge=1_000)] = Field(
        default=50_000_000,
        description="Largest file, in bytes, that the server takes for an import.",
    )
    allow_lan: bool = Field(
        default=False,
        description="Whether the server answers to other names than those of this computer alone. "
        "There are no accounts: whoever reaches the server may read and change everything.",
    )

    @property
    def database(self) -> str:
        """The database to use: as set, else the file in the user's data folder."""
        return self.database_url or str(data_folder() / "plaitlog.db")
