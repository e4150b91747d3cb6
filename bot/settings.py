"""Settings of a running bot: from the environment, or made by a test."""

from collections.abc import Callable
from datetime import datetime
from typing import Annotated

import discord
from pydantic import Field, SecretStr
from pydantic_settings import BaseSettings, SettingsConfigDict


def library_clock() -> datetime:
    """Return now, aware, in UTC, by the chat library's own clock: the simulator moves that one, and no other."""
    return discord.utils.utcnow()


class Settings(BaseSettings):
    """What `create_bot` needs. Every field can come from the environment as `BUILDMOOT_<NAME>`.

    token: of the bot's account; never logged. database_url: SQLAlchemy URL with an async driver. shards: number of
    shards of this process, 0 to ask the platform. clock: returns aware UTC times; only tests set it.
    sync_commands: whether commands are sent to the platform at start. contact: whom to ask, shown by `/help`.
    grace_days: how long a server's data is kept after the bot was removed from it.
    """

    model_config = SettingsConfigDict(env_prefix="BUILDMOOT_", arbitrary_types_allowed=True, extra="ignore")

    token: SecretStr | None = None
    database_url: str = "sqlite+aiosqlite:///buildmoot.db"
    shards: Annotated[int, Field(ge=0, le=10_000)] = 1
    sync_commands: bool = True
    contact: str = ""
    grace_days: Annotated[int, Field(ge=0, le=365)] = 30
    clock: Callable[[], datetime] = Field(default=library_clock, exclude=True)
