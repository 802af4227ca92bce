"""Where the data live; read from the environment, created by nobody here."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import quote

from platformdirs import user_data_path
from pydantic import Field, field_validator
from pydantic_settings import BaseSettings, SettingsConfigDict

__all__ = ["Settings"]


def _usual_folder() -> Path:
    return user_data_path("appraise", appauthor=False)


class Settings(BaseSettings):
    """Where cases and own values are kept; each field is also a variable `APPRAISE_...`."""

    model_config = SettingsConfigDict(env_prefix="APPRAISE_", env_ignore_empty=True, frozen=True)

    data_folder: Path = Field(
        default_factory=_usual_folder, description="Folder of the database and own values"
    )
    database_url: str = Field(
        default="",
        repr=False,  # it may hold a password
        description="Database (sqlite:///... or postgresql://...); empty for a file there",
    )

    @field_validator("data_folder")
    @classmethod
    def _home_is_written_out(cls, folder: Path) -> Path:
        return folder.expanduser()

    @property
    def url(self) -> str:
        """The database: the one named, or `cases.sqlite` in the data folder."""
        return self.database_url or f"sqlite:///{quote(str(self.data_folder / 'cases.sqlite'))}"

    @property
    def log_columns(self) -> Path:
        """The file that remembers what the columns of data logs are; it need not exist."""
        return self.data_folder / "log_columns.json"

    @property
    def own_values(self) -> Path:
        """The file in which a person overrides reference values; it need not exist."""
        return self.data_folder / "own_values.toml"
