"""`buildmoot migrate`: bring the database schema up to date without starting the bot."""

import argparse
import asyncio

from bot.settings import Settings
from engine.store.database import upgrade


def run(args: argparse.Namespace) -> int:
    """Upgrade the database that BUILDMOOT_DATABASE_URL names."""
    asyncio.run(upgrade(Settings().database_url))
    print("The database schema is up to date.")
    return 0
