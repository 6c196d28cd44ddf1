"""What an installation sets: each name with the prefix FOOTING_ in the environment, and DATABASE_URL."""

from datetime import datetime
from pathlib import Path
from typing import Annotated, Self

from pydantic import AliasChoices, Field, SecretStr, field_validator, model_validator
from pydantic_settings import BaseSettings, SettingsConfigDict

_LEAST_KEY_CHARACTERS = 8


def checked_key(key: str) -> str:
    """An API key that somebody chose. Raises ValueError for fewer than 8 characters or others than printing ASCII."""
    if len(key) < _LEAST_KEY_CHARACTERS or not key.isascii() or not key.isprintable() or " " in key:
        raise ValueError(f"a key has at least {_LEAST_KEY_CHARACTERS} printing characters and no spaces")
    return key


class Settings(BaseSettings):
    """Settings of one process. Frozen; tests make their own.

    Without `database_url` the database is the file footing.sqlite3 in `data_dir`. `fixed_now` stops the clock.
    """

    model_config = SettingsConfigDict(env_prefix="FOOTING_", frozen=True, extra="ignore", populate_by_name=True)

    data_dir: Path = Path("footing-data")
    database_url: SecretStr | None = Field(
        default=None, validation_alias=AliasChoices("DATABASE_URL", "FOOTING_DATABASE_URL")
    )
    secret_key: SecretStr | None = None
    demo_key: SecretStr | None = None
    seed_dir: Path | None = None
    host: str = "127.0.0.1"
    port: Annotated[int, Field(ge=0, le=65535)] = 8700
    timezone: str = "Europe/London"
    fixed_now: datetime | None = None
    body_limit_bytes: Annotated[int, Field(gt=0)] = 10_000_000
    photo_limit_bytes: Annotated[int, Field(gt=0)] = 300_000
    session_hours: Annotated[int, Field(gt=0)] = 12
    signin_link_minutes: Annotated[int, Field(gt=0)] = 30
    signin_concurrency: Annotated[int, Field(gt=0)] = 2
    signin_tries: Annotated[int, Field(gt=0)] = 10
    signin_window_minutes: Annotated[int, Field(gt=0)] = 15
    quote_valid_days: Annotated[int, Field(gt=0)] = 30
    secure_cookies: bool = False
    log_level: str = "INFO"

    @field_validator("demo_key")
    @classmethod
    def _demo_key_is_a_key(cls, key: SecretStr | None) -> SecretStr | None:
        if key is not None and key.get_secret_value():
            checked_key(key.get_secret_value())
        return key

    @model_validator(mode="after")
    def _moment_has_a_zone(self) -> Self:
        if self.fixed_now is not None and self.fixed_now.tzinfo is None:
            raise ValueError("fixed_now needs a time zone, for example 2026-03-02T09:00:00Z")
        return self

    def required_secret(self) -> bytes:
        """The secret key. Raises ValueError when there is none or it is shorter than 16 characters."""
        secret = "" if self.secret_key is None else self.secret_key.get_secret_value()
        if len(secret) < 16:
            raise ValueError("FOOTING_SECRET_KEY must be set to at least 16 characters")
        return secret.encode()

    def url(self) -> str:
        """The database address in the form that the store wants."""
        if self.database_url is None:
            return f"sqlite:///{(self.data_dir / 'footing.sqlite3').resolve()}"
        given = self.database_url.get_secret_value()
        for plain in ("postgres://", "postgresql://"):
            if given.startswith(plain):
                return "postgresql+psycopg://" + given.removeprefix(plain)
        return given
