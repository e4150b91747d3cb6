"""Cards of write-ups. Pure."""

from collections.abc import Sequence
from typing import Final

from bot.ui.card import Block, Card, block
from bot.ui.escape import plain
from bot.ui.numbers import signed
from engine.publish.writeup import Checked, Filled, Wrong
from engine.services.views import BuildView

DRAFT_FILE: Final = "write-up.md"
FILLED_FILE: Final = "write-up-filled.md"
SHOWN_UNMARKED: Final = 15
HOW: Final = (
    "A number is marked as a link: [+7](num:4/skill.stealth) is Stealth at level 4. /writeup fill puts `?` and wrong "
    "ones right."
)

STRIPPED_FILE: Final = "write-up-to-publish.md"
STRIPPED: Final = Card(
    "Write-up without its marks",
    "Plain Markdown to publish. Keep the marked text: it is the one that can be checked when the build moves on.",
    files=(STRIPPED_FILE,),
)


def draft_card(view: BuildView) -> Card:
    """Return the card of a new frame, which is attached."""
    return Card(
        f"Write-up of {plain(view.name)} · #{view.number}",
        f"The frame of revision {view.revision.number}, every number marked; write around the numbers.",
        (block(plain(HOW), small=True),),
        files=(DRAFT_FILE,),
    )


def checked_card(view: BuildView, found: Checked, kept: str) -> Card:
    """Return what is right and wrong in a text. kept: what was kept for later, in words."""
    total = found.right + len(found.wrong)
    return Card(
        f"Write-up of {plain(view.name)} · #{view.number} · revision {view.revision.number}",
        _first(found.right, total),
        (
            *_wrong("Wrong", found.wrong),
            block(
                f"**No mark** ({len(found.unmarked)})",
                *(f"Line {u.line}: {plain(u.text)}: `{_code(u.proposal)}`" for u in found.unmarked[:SHOWN_UNMARKED]),
            )
            if found.unmarked
            else block(),
            block(plain(kept), plain(HOW), small=True),
        ),
    )


def again_card(view: BuildView, found: Checked, became: Sequence[Wrong], revision: int) -> Card:
    """Return what the kept text says now. became: what was right at an earlier revision and is wrong now."""
    total = found.right + len(found.wrong)
    if view.revision.number == revision:
        moved = f"The build has not moved on since revision {revision}."
    else:
        count = len(became)
        moved = f"Since revision {revision}, {count} {'number' if count == 1 else 'numbers'} became wrong."
    older = [wrong for wrong in found.wrong if wrong not in became]
    return Card(
        f"Write-up of {plain(view.name)} · #{view.number} · revision {view.revision.number}",
        f"{moved} {_first(found.right, total)}",
        (*_wrong("Became wrong", became), *_wrong("Wrong before", older), block(plain(HOW), small=True)),
    )


def filled_card(view: BuildView, found: Filled) -> Card:
    """Return the card of a text whose numbers were put right, which is attached."""
    count = found.changed
    return Card(
        f"Write-up of {plain(view.name)} · #{view.number} · revision {view.revision.number}",
        f"{count} {'number' if count == 1 else 'numbers'} put right; nothing else was touched.",
        _wrong("Left alone", found.broken),
        files=(FILLED_FILE,),
    )


def _first(right: int, total: int) -> str:
    if not total:
        return "No number is marked."
    return (
        f"All {total} marked numbers are right." if right == total else f"{right} of {total} marked numbers are right."
    )


def _wrong(title: str, wrong: Sequence[Wrong]) -> tuple[Block, ...]:
    if not wrong:
        return ()
    lines = [f"**{title}** ({len(wrong)})"]
    for each in wrong:
        why = ", ".join(f"{signed(reason.amount)} {reason.label}" for reason in each.reasons)
        lines.append(f"Line {each.line}: {plain(each.sentence)}{f' ({plain(why)})' if why else ''}")
    return (block(*lines),)


def _code(text: str) -> str:
    return text.replace("`", "'")
