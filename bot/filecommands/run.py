"""`buildmoot run`: serve a real chat server."""

import argparse

from bot.filecommands.reading import Stop
from bot.log import set_up
from bot.settings import Settings


def run(args: argparse.Namespace) -> int:
    """Start the bot with the settings of the environment and stay until it is stopped."""
    settings = Settings()
    if settings.token is None:
        raise Stop("buildmoot run: no token; set BUILDMOOT_TOKEN to the bot's token (see README)")
    from bot.app import create_bot

    set_up()
    create_bot(settings).run(settings.token.get_secret_value(), log_handler=None)
    return 0
