"""`python -m bot.room`: open the local room, or play the demo."""

import argparse
import asyncio
import os
import sys
import tempfile
from contextlib import AsyncExitStack, suppress
from pathlib import Path

from bot.room.demo import play_demo
from bot.room.page import open_page
from bot.room.terminal import Session, ask_terminal
from bot.room.world import Trouble, open_world, tick

HOME = Path(__file__).resolve().parents[2] / "deploy" / ".local"


def parser() -> argparse.ArgumentParser:
    """Return the parser of the room's own options."""
    top = argparse.ArgumentParser(prog="try.sh", description="The local room: the real bot without a chat server.")
    top.add_argument("--demo", action="store_true", help="play the main job through without input, then leave")
    top.add_argument("--outline", type=Path, metavar="FILE", help="with --demo: play it with this build")
    top.add_argument("--data", type=Path, metavar="DIR", help="where the room keeps its data")
    top.add_argument("--no-page", action="store_true", help="do not open the browser page")
    top.add_argument("--port", type=int, default=8765, help="port of the browser page on this machine (8765)")
    return top


async def run(args: argparse.Namespace) -> int:
    """Open the room and stay until the person leaves. Returns the exit code."""
    async with AsyncExitStack() as stack:
        home = args.data
        if home is None and args.demo:
            # The demo starts from the seeded room every time and leaves the person's own room alone.
            home = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        world = await stack.enter_async_context(open_world((home or HOME) / "room.db"))
        if args.demo:
            try:
                await play_demo(world, print, args.outline)
            except (Trouble, OSError) as trouble:
                print(f"The demo stopped: {trouble}", file=sys.stderr)
                return 1
            return 0
        page = "The browser page is off."
        if not args.no_page:
            page = await open_page(world, stack, args.port)
        clock = asyncio.create_task(tick(world))
        try:
            await Session(world, ask_terminal, print, who="tiva", page=page).run()
        finally:
            clock.cancel()
            with suppress(asyncio.CancelledError):
                await clock
    print("Everything is kept; `sh deploy/try.sh` opens the room again.")
    return 0


def main() -> int:
    """Run the room; the process ends with its exit code."""
    os.environ.setdefault("PYTHONUTF8", "1")
    return asyncio.run(run(parser().parse_args()))


if __name__ == "__main__":
    sys.exit(main())
