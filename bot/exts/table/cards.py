"""Cards of tables and submissions. Pure."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Final

from bot.exts.builds.cards import SEVERITY_WORDS, build_card, class_words, difference_blocks, release_words
from bot.exts.server.cards import policy_card as server_policy_card
from bot.exts.table.words import rules_lines, short_rules
from bot.ui.card import Block, Card, block
from bot.ui.escape import plain
from bot.ui.numbers import changed_numbers
from bot.ui.who import who
from engine.audit import Difference, Finding, folded
from engine.build.diff import edits_between
from engine.build.words import edit_words
from engine.review.approval import Stand
from engine.services.table_policies import TablePolicyView
from engine.services.table_views import RulesErrors, SubmissionView, TableView
from engine.services.views import HistoryEntry, Page

SHOWN_PROBLEMS: Final = 10
SHOWN_FINDINGS: Final = 6
STAND_WORDS: Final = {
    Stand.APPROVED: "approved",
    Stand.CHANGED: "changed since approval",
    Stand.WAITING: "waiting for the GM",
    Stand.RETURNED: "returned",
    Stand.WITHDRAWN: "taken back",
}
EVENT_WORDS: Final = {
    "table-opened": "opened the table",
    "table-changed": "changed its name, channel, role or door",
    "table-level-set": "set the level",
    "table-rules-set": "set the rules",
    "table-closed": "closed the table",
    "policy-set": "set how proposals are decided",
    "seat-taken": "joined",
    "seat-left": "left",
    "seat-given": "gave a seat",
    "seat-taken-away": "took a seat away",
}


# -- tables -----------------------------------------------------------------------------------------------------


def table_card(view: TableView) -> Card:
    """Return a table: level, rules in short, who sits there."""
    door = "anybody may join" if view.open else "its GM adds players"
    players = ", ".join(who(m) for m in view.players) or "nobody by name yet"
    by_role = f", and whoever has <@&{view.role}>" if view.role is not None else ""
    where = f"cards go to <#{view.channel}>" if view.channel is not None else "cards go where a command is given"
    return Card(
        f"{plain(view.name)} · #{view.number} · level {view.level}",
        f"{_counted(len(view.players), 'player')}, {_counted(view.builds, 'build')} · {short_rules(view.rules)}",
        (
            block(f"**GM** {', '.join(who(m) for m in view.gms)}", f"**Players** {players}{by_role}", keep=True),
            block(f"{door} · {where}", keep=True, small=True),
        ),
    )


def tables_card(views: Sequence[TableView]) -> Card:
    """Return the tables of a server."""
    if not views:
        return Card("Tables", "No table plays on this server yet; `/table new` opens one.")
    lines = [
        f"**{plain(v.name)}** · #{v.number} · level {v.level}\n"
        f"-# GM {', '.join(who(m) for m in v.gms)} · {_counted(len(v.players), 'player')} · "
        f"{_counted(v.builds, 'build')} · {short_rules(v.rules)}"
        for v in views
    ]
    return Card("Tables", f"{_counted(len(views), 'table')} on this server", (block(*lines),))


def rules_card(view: TableView, filename: str | None) -> Card:
    """Return the rules in force, in words, and what is odd about them. filename: of the YAML as the GM wrote it."""
    notes = block(*(f"**Mind** {plain(note)}" for note in view.notes))
    return Card(
        f"Rules of {plain(view.name)} · #{view.number}",
        f"In force: {short_rules(view.rules)}",
        tuple(b for b in (block(*rules_lines(view.rules)), notes) if b.lines),
        files=(filename,) if filename is not None else (),
    )


def errors_card(found: RulesErrors, filename: str) -> Card:
    """Return what is wrong with rules that could not be read; the text is in the file and kept."""
    count = len(found.problems)
    lines = [f"Line {p.line}, column {p.column}: {plain(p.sentence)}" for p in found.problems[:SHOWN_PROBLEMS]]
    if count > SHOWN_PROBLEMS:
        lines.append(f"and {count - SHOWN_PROBLEMS} more")
    return Card(
        f"{count} {'thing' if count == 1 else 'things'} to mend in the rules of {plain(found.name)}",
        "Nothing was changed. Your text is kept here and in the file below.",
        (block(*lines),),
        files=(filename,),
    )


def policy_card(found: TablePolicyView) -> Card:
    """Return how proposals to a table's builds are decided."""
    card = server_policy_card(found.view)
    title = f"How proposals are decided at {plain(found.name)} · #{found.number}"
    return replace(
        card,
        title=title,
        blocks=(
            *card.blocks,
            block(
                "The table has rules of its own for this."
                if found.own
                else "The table goes by what the server has set.",
                small=True,
            ),
        ),
    )


def history_card(view: TableView, page: Page[HistoryEntry]) -> Card:
    """Return one page of a table's history, newest first."""
    lines = []
    for entry in page.items:
        actor = who(entry.actor) if entry.actor is not None else "by time"
        words = EVENT_WORDS.get(entry.event, entry.event.replace("-", " "))
        detail = ""
        if entry.event == "table-level-set":
            detail = f" from {entry.data['before']} to {entry.data['after']}"
        elif entry.event in ("seat-given", "seat-taken-away"):
            as_gm = " as GM" if entry.data.get("gm") else ""
            detail = f": {who(entry.data['member'])}{as_gm}"
        lines.append(f"<t:{int(entry.at.timestamp())}:f> {actor} {words}{detail}")
    more = ", more on the next" if page.more else ""
    return Card(f"History of {plain(view.name)} · #{view.number}", f"Page {page.number}{more}", (block(*lines),))


# -- submissions --------------------------------------------------------------------------------------------------


def submission_card(view: SubmissionView) -> Card:
    """Return a build before a GM: how it stands, what to rule on, what changed, the sheet at the table's level."""
    build, catalog = view.shown.view, view.shown.view.catalog
    words = class_words(build.build, catalog, view.last)
    title = f"{plain(build.name)} · #{build.number} at {plain(view.table_name)} · level {view.last} · {words}"
    blocks: list[Block] = [block(_facts(view), keep=True, small=True)]
    if view.stand is not Stand.WITHDRAWN:
        blocks += [
            block(*_to_rule_on(view)),
            *_changes(view),
            block(*_waived(view)),
            block(*due_lines(view)),
            *build_card(view.shown).blocks[1:],
        ]
    hidden = f"{_counted(view.hidden, 'finding')} above level {view.last} left out · " if view.hidden else ""
    blocks.append(block(f"{hidden}The game master's ruling stands.", keep=True, small=True))
    return Card(title, stand_line(view), tuple(b for b in blocks if b.lines))


def stand_line(view: SubmissionView) -> str:
    """Return the first line: how the build stands, in words."""
    when = f"<t:{int((view.decided or view.submitted).timestamp())}:R>"
    by = f"by {who(view.decided_by)} {when}" if view.decided_by is not None else when
    match view.stand:
        case Stand.APPROVED:
            assert view.pin is not None
            return f"**Approved** for {_levels(view.pin.first, view.pin.last)} {by}{_open_words(view)}"
        case Stand.CHANGED:
            return f"**Changed since approval**: {change_words(view)}{_open_words(view)}"
        case Stand.WAITING:
            return f"**Waiting for the GM**, submitted {when}{_open_words(view) or ', nothing to rule on'}"
        case Stand.RETURNED:
            return f"**Returned** {by}: “{plain(view.remarks)}”"
        case Stand.WITHDRAWN:
            return "**Taken back** by its author"


def change_words(view: SubmissionView) -> str:
    """Return what changed since the approval in a few words: numbers at the level looked at, choices, new levels."""
    pin, found = view.pin, view.difference
    parts = []
    if found is not None:
        parts += _number_words(view, found)
        choices = _choice_words(view)
        if choices:
            parts.append(", ".join(choices[:2]) + (f" and {len(choices) - 2} more" if len(choices) > 2 else ""))
        new = [f for f in found.findings_new if f.severity != "advice"]
        parts += [_counted(len(new), "new finding")] if new else []
    if pin is not None and view.last > pin.last:
        parts.append(f"{_levels(pin.last + 1, view.last)} new")
    return "; ".join(parts) or f"nothing up to level {view.last}"


def _number_words(view: SubmissionView, found: Difference) -> list[str]:
    rows = [n for n in found.numbers if n.level == view.last]
    moves = changed_numbers(folded(rows), view.shown.view.catalog)
    # Each line reads `level 8: hit points 61 → 66 · armor class 14 → 15`.
    phrases = [
        phrase
        for line in (*moves.better, *moves.worse, *moves.neutral)
        for phrase in line.partition(": ")[2].split(" · ")
    ]
    if len(phrases) > 3:
        return [f"{', '.join(phrases[:3])} and {_counted(len(phrases) - 3, 'number')} more"]
    return [", ".join(phrases)] if phrases else []


def _choice_words(view: SubmissionView) -> list[str]:
    if view.before is None:
        return []
    old, new = view.before.build, view.shown.view.build
    return [plain(edit_words(edit, old, new, view.shown.view.catalog)) for edit in edits_between(old, new)]


def _facts(view: SubmissionView) -> str:
    build = view.shown.view
    parts = [release_words(build), f"by {who(build.author)}", f"revision {build.revision.number}"]
    pin = view.pin
    if pin is not None and view.stand is not Stand.APPROVED:
        parts.append(f"approved before as revision {pin.revision} for {_levels(pin.first, pin.last)}")
    parts.append(f"the table is at level {view.level}")
    parts.append(f"GM {', '.join(who(m) for m in view.gms)}")
    return " · ".join(parts)


def _open_words(view: SubmissionView) -> str:
    return f", **{_counted(len(view.waiting), 'finding')} to rule on**" if view.waiting else ""


def _to_rule_on(view: SubmissionView) -> list[str]:
    lines = [f"**{SEVERITY_WORDS[f.severity]}** {_finding(f)}" for f in view.waiting[:SHOWN_FINDINGS]]
    if len(view.waiting) > SHOWN_FINDINGS:
        lines.append(f"and {_counted(len(view.waiting) - SHOWN_FINDINGS, 'finding')} more to rule on")
    return lines


def _changes(view: SubmissionView) -> list[Block]:
    blocks: list[Block] = []
    catalog = view.shown.view.catalog
    if view.difference is not None and view.pin is not None:
        choices = [f"**Change** {words}" for words in _choice_words(view)]
        head = block(f"**Since revision {view.pin.revision}, which was approved**", *choices)
        blocks += [head, *difference_blocks(view.difference, catalog)]
    if view.corrected:
        moves = changed_numbers(folded(view.corrected), catalog)
        lines = [*moves.better, *moves.worse, *moves.neutral] or [
            f"{_counted(len(view.corrected), 'number')} that no card shows"
        ]
        blocks.append(block("**Rules data corrected since the approval**", *lines))
    return blocks


def _waived(view: SubmissionView) -> Iterable[str]:
    for waiver in view.waivers:
        word = "Waiver without its finding" if waiver.stale else "Waived"
        yield f"**{word}** by {who(waiver.member)}: {_finding(waiver.finding)} “{plain(waiver.reason)}”"


def due_lines(view: SubmissionView) -> list[str]:
    """Return what the build still lacks at the table's level."""
    lines = []
    if view.missing:
        lines.append(f"**Due** {_levels(view.last + 1, view.level)} not built yet")
    return [*lines, *(f"**Due** {_finding(f)}" for f in view.due[:SHOWN_FINDINGS])]


def _finding(found: Finding) -> str:
    where = f"level {found.level}: " if found.level else ""
    return f"{where}{plain(found.message)}"


def _levels(first: int, last: int) -> str:
    return f"level {first}" if first == last else f"levels {first} to {last}"


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun if count == 1 else noun + 's'}"
