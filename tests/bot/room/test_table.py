"""A table in the local room: members, channel and role by name, a form with a list, and its card after a restart."""

from pathlib import Path

from bot.room.lines import parse_line
from bot.room.world import open_world
from tests.bot.room.test_room import Sitting, number


async def test_a_table_is_played_from_the_terminal_and_outlives_it(tmp_path: Path) -> None:
    rules = tmp_path / "rules.yaml"
    rules.write_text("bar: [Thief]\n")
    async with open_world(tmp_path / "room.db") as world:
        person = Sitting(world)

        async def act(line: str, *typed: str) -> str:
            person.lines[:] = typed
            before = len(person.printed)
            await person.session.act(parse_line(line, world.commands()))
            return "\n".join(person.printed[before:])

        opened = await act("@maren /table new name:Marsh Table level:2 channel:#build-moot role:Game master")
        assert "Marsh Table" in opened
        assert "one channel, #build-moot; there is no #attic" in await act(
            "/table edit table:Marsh Table channel:attic"
        )
        assert "one role, Game master" in await act("/table edit table:Marsh Table role:Ferrymen")
        assert "@Tiva" in await act("/table members table:Marsh Table add:@Tiva")
        assert "Barred Thief" in await act(f"/table rules table:Marsh Table file:{rules}")
        (tmp_path / "b.txt").write_text("Build: Salt Runner\n1-2 Rogue\n3 Rogue (Thief)\n")
        await act(f"@tiva /build load file:{tmp_path / 'b.txt'}")
        await act("/build share build:Salt Runner")
        await act("@maren /table level level:3 table:Marsh Table")
        await act("@tiva /table submit build:Salt Runner table:Marsh Table")
        shown = await act("@maren /table roster table:Marsh Table")
        shown = await act(f"press {number(shown, next(b for b in _labels(shown) if b.startswith('Review')))}")
        waived = await act(f"press {number(shown, 'Waive a finding')}", "9", "1", "He may.", "")
        assert "1 level 3: This table has barred Thief" in waived
        assert "Type a number from 1 to 1." in waived
        assert "is waived" in waived
        numbers = {place.subject for place in await world.live_places()}
    async with open_world(tmp_path / "room.db") as world:
        places = await world.live_places()
        assert {place.subject for place in places} == numbers
        [card] = [world.text_of(world.message(p.message, p.channel)) for p in places if p.subject == max(numbers)]
        assert "Waiting for the GM" in "\n".join(card.lines)
        assert "Approve" in [button.label for button in card.buttons]


def _labels(text: str) -> list[str]:
    return [part.split("]")[0].partition(" ")[2] for part in text.split("[")[1:]]
