"""Proposals: suggesting a change, arguing, voting, deciding."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bot.client import Bot


def set_up(bot: "Bot") -> None:
    """Add the `/propose` and `/proposal` commands and the buttons of proposal cards."""
    from bot.exts.proposals.buttons import BUTTONS
    from bot.exts.proposals.commands import ProposalCommands, ProposeCommands

    bot.tree.add_command(ProposeCommands())
    bot.tree.add_command(ProposalCommands())
    bot.add_dynamic_items(*BUTTONS)
