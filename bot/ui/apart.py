"""Heavy work for an answer: acknowledged first, done in a worker process, and told plainly when it does not come."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final, TypeVar

import discord

from bot.log import log_fault
from bot.ui.answer import show
from bot.ui.card import Card
from bot.ui.escape import paragraph
from engine.problem import Refused
from engine.publish.pool import WorkFailed

if TYPE_CHECKING:
    from bot.client import Bot

R = TypeVar("R")
SECONDS: Final = 30.0
TOO_LONG: Final = "That took longer than {:g} seconds and was stopped; nothing was changed."
FAILED: Final = "That could not be worked out; nothing was changed. If it stays, report reference {}."


async def apart(
    interaction: "discord.Interaction[Bot]",
    work: Callable[..., R | Refused],
    *args: Any,
    private: bool,
    seconds: float = SECONDS,
) -> R | None:
    """Return what a function of plain data returns in a worker process; None after telling why there is nothing.

    The answer is deferred before, publicly or to the member alone; `show` puts a card in its place.
    """
    if not interaction.response.is_done():
        await interaction.response.defer(ephemeral=private)
    try:
        result = await interaction.client.workers.run(work, *args, timeout=seconds)
    except TimeoutError:
        await show(interaction, Card("That took too long", TOO_LONG.format(seconds)))
        return None
    except WorkFailed as error:
        await show(interaction, Card("That did not work", FAILED.format(log_fault(error))))
        return None
    if isinstance(result, Refused):
        await show(interaction, Card("Not done", paragraph(result.sentence)))
        return None
    return result
