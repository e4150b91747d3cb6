"""The main job played through without input: load, show, why, propose, remark, votes, adopt, show again.

After it, content of the group's own: one of its folios, and the build of twenty levels that lives on all of them.
"""

from pathlib import Path

from bot.room.lines import parse_line
from bot.room.seed import DEMO_OUTLINE
from bot.room.terminal import Out, Session
from bot.room.world import Trouble, World


class Player:
    """Plays lines and presses as a person would, and stops at the first thing that goes wrong."""

    def __init__(self, world: World, out: Out) -> None:
        self.session = Session(world, self._answer, out, who="tiva", seen=world.newest_message())
        self.out = out
        self.answers: list[str] = []

    async def _answer(self, prompt: str) -> str:
        if not self.answers:
            raise EOFError
        text = self.answers.pop(0)
        self.out(f"{prompt}{text}")
        return text

    async def play(self, text: str, answers: tuple[str, ...] = ()) -> None:
        """Play one typed line; answers: lines typed into the form it opens."""
        self.out(f"\n@@ {text}")
        self.answers = list(answers)
        line = parse_line(text, self.session.world.commands())
        if line.trouble:
            raise Trouble(line.trouble)
        await self.session.act(line)

    async def press(self, who: str, label: str, answers: tuple[str, ...] = ()) -> None:
        """Press the button with a label among those on the screen."""
        world = self.session.world
        for number, (message, custom_id) in enumerate(self.session.buttons, start=1):
            buttons = world.text_of(world.message(message.id, message.channel.id)).buttons
            if any(b.custom_id == custom_id and b.label == label for b in buttons):
                await self.play(f"@{who} press {number}", answers)
                return
        raise Trouble(f"there is no button {label} on the screen")


async def play_demo(world: World, out: Out, outline: Path | None = None) -> None:
    """Play the main job with an outline of one's own, or the one that comes with the room.

    Raises: Trouble if a step cannot be done; the caller turns that into an exit code.
    """
    player = Player(world, out)
    path = outline or DEMO_OUTLINE
    name = next(
        (
            line.split(":", 1)[1].strip()
            for line in path.read_text(encoding="utf-8").splitlines()
            if line.startswith("Build:")
        ),
        path.stem,
    )
    await player.play(f"@tiva /build load file:{path}")
    await player.play(f"@tiva /build share build:{name}")
    await player.play(f"@maren /build show build:{name} level:8")
    await player.play(f"@oskar /build why build:{name} level:8 number:Stealth")
    await player.play(
        f"@oskar /propose change build:{name} level:8 remove:+2 Wis add:+2 Dex reason:Hit more, hide better."
    )
    await player.press("oskar", "Post")
    await player.press("brannoc", "Remark", ("The coast watch needs those eyes: keep passive Perception at 20.", ""))
    for who, vote in (("brannoc", "Against"), ("sela", "For"), ("maren", "For"), ("brannoc", "Abstain")):
        await player.press(who, vote)
    await player.press("tiva", "Adopt")
    await player.play(f"@tiva /build show build:{name} level:8")
    await player.play("@oskar /content show folio:Coast Pilots")
    await player.play("@oskar /build show build:Bell Pilot of the Mole level:20")
