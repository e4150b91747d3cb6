"""Logging: an event name and fields, the interaction bound once at the edge; never what a member wrote."""

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from secrets import token_hex

import discord

_where: ContextVar[str] = ContextVar("where", default="-")
log = logging.getLogger("buildmoot")


class WhereFilter(logging.Filter):
    """Adds `where` (server, command) of the running interaction to every record."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Keep every record; give it the field."""
        record.where = _where.get()
        return True


def set_up(level: int = logging.INFO) -> None:
    """Send log lines to standard error, with the place they come from."""
    handler = logging.StreamHandler()
    handler.addFilter(WhereFilter())
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s [%(where)s] %(message)s"))
    logging.basicConfig(level=level, handlers=[handler], force=True)


@contextmanager
def bound(interaction: discord.Interaction) -> Iterator[None]:
    """Bind an interaction's place for the log lines inside the block."""
    command = interaction.command.qualified_name if interaction.command else "component"
    token = _where.set(f"{interaction.guild_id}:{command}:{interaction.id}")
    try:
        yield
    finally:
        _where.reset(token)


def log_fault(error: BaseException) -> str:
    """Log an unexpected error with its traceback; return the short reference the member is given."""
    reference = token_hex(3)
    log.error("fault %s", reference, exc_info=error)
    return reference
