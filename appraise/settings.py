"""Where the data live; read from the environment, created by nobody here."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any, Literal
from urllib.parse import quote

from platformdirs import user_data_path
from pydantic import Field, field_validator, model_validator

from appraise.errors import StoreUnavailable
from appraise.models.base import Model

__all__ = ["Settings"]


def _usual_folder() -> Path:
    return user_data_path("appraise", appauthor=False)


class Settings(Model):
    """Where everything is kept; each field is also a variable `APPRAISE_...`."""

    data_folder: Path = Field(
        default_factory=_usual_folder, description="Folder of the database and the backups"
    )
    database_url: str = Field(
        default="",
        repr=False,  # it may hold a password
        description="Database (sqlite:///... or postgresql://...); empty for a file there",
    )
    sign_in: Literal["", "people", "provider"] = Field(
        default="",
        description="How people sign in before they see a page: not at all, by the list of people "
        "in the data folder, or through the provider in secrets.toml there",
    )
    daily_backup: bool = Field(
        default=True, description="Whether a backup is written each day that the screens are used"
    )
    certificate: Path | None = Field(
        default=None, description="Certificate of this machine (PEM), so that pages are encrypted"
    )
    certificate_key: Path | None = Field(default=None, description="Private key of the certificate")

    @model_validator(mode="before")
    @classmethod
    def _from_the_environment(cls, given: dict[str, Any]) -> dict[str, Any]:
        named = {name: os.environ.get(f"APPRAISE_{name.upper()}") for name in cls.model_fields}
        paths = ("data_folder", "certificate", "certificate_key")
        return {
            name: Path(value) if name in paths else value for name, value in named.items() if value
        } | given

    @field_validator("data_folder", "certificate", "certificate_key")
    @classmethod
    def _home_is_written_out(cls, path: Path | None) -> Path | None:
        return path if path is None else path.expanduser()

    @property
    def url(self) -> str:
        """The database: the one named, or `cases.sqlite` in the data folder.

        Raises
        ------
        StoreUnavailable
            The name of the folder is no text, so that no address can name it.
        """
        try:
            return self.database_url or f"sqlite:///{quote(str(self.data_folder / 'cases.sqlite'))}"
        except UnicodeEncodeError as error:
            raise StoreUnavailable(
                "has a name that is not UTF-8",
                where=str(self.data_folder),
                hint="Give the data folder another name.",
            ) from error

    @property
    def log_columns(self) -> Path:
        """The file that remembers what the columns of data logs are; it need not exist."""
        return self.data_folder / "log_columns.json"

    @property
    def has_database(self) -> bool:
        """Whether anything is kept: also in files of an older version."""
        files = ("cases.sqlite", "own_values.toml", "people.toml")
        return bool(self.database_url) or any((self.data_folder / one).exists() for one in files)

    @property
    def secrets(self) -> Path:
        """The file with the provider of the log-in, its section `auth`; it need not exist."""
        return self.data_folder / "secrets.toml"
