"""Where concrete classes meet: settings in, a bot out."""

from bot.client import Bot
from bot.settings import Settings


def create_bot(settings: Settings) -> Bot:
    """Return the bot that the local room, the tests and `buildmoot run` use; nothing is opened yet."""
    return Bot(settings)
