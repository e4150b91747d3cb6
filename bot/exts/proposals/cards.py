"""Cards of proposals. Pure."""

from collections.abc import Iterable
from typing import Final

from bot.exts.builds.cards import difference_blocks
from bot.ui.card import Block, Card, block
from bot.ui.escape import plain
from bot.ui.numbers import is_quiet, name_words, value_words
from bot.ui.who import who
from engine.build.document import Build
from engine.build.edits import Edit
from engine.build.words import edit_words
from engine.review.machine import State
from engine.review.policy import Decider, Policy, Tally
from engine.rules.catalog import Catalog
from engine.services.views import (
    Page,
    ProposalBrief,
    ProposalPreview,
    ProposalView,
    RemarkView,
    RivalNumber,
    RivalsView,
)

STATE_WORDS: Final = {
    State.OPEN: "open",
    State.ADOPTED: "adopted",
    State.DECLINED: "declined",
    State.WITHDRAWN: "withdrawn",
    State.LAPSED: "lapsed",
    State.OUTDATED: "outdated",
}
DECIDER_WORDS: Final = {
    Decider.AUTHOR: "the author decides",
    Decider.VOTE: "the vote decides",
    Decider.GM: "the GM decides",
}


def proposal_card(view: ProposalView) -> Card:
    """Return the card of a proposal; its buttons are added by the command area."""
    catalog = view.view.catalog
    build = view.view
    where = f"to {plain(build.name)} (#{build.number}, revision {build.revision.number}), by {who(view.proposer)}"
    if view.based_on:
        where += f", starting from #{view.based_on}"
    reason = f": “{plain(view.reason)}”" if view.reason else ""
    title = f"#{view.number} · {plain(view.title)}"
    blocks: list[Block] = [block(f"{where}{reason}", keep=True)]
    blocks += [block(*_changes(view.edits, view.view.build, view.proposed, catalog))] if len(view.edits) > 1 else []
    blocks += difference_blocks(view.difference, catalog)
    if view.clashes:
        blocks.append(block(*(f"**Clash** {plain(c)}" for c in view.clashes), keep=True))
    if view.last_remarks:
        blocks.append(block(*(remark_line(r) for r in view.last_remarks)))
    blocks.append(block(tally_line(view.tally, view.policy, view.remarks), keep=True))
    blocks.append(block(outcome_line(view), keep=True, small=True))
    return Card(title, state_line(view), tuple(b for b in blocks if b.lines))


def _changes(edits: Iterable[Edit], before: Build, after: Build, catalog: Catalog) -> list[str]:
    """Return each change in words, escaped: its names may come from anybody's folio or note."""
    words = [plain(edit_words(edit, before, after, catalog)) for edit in edits]
    return [text[:1].upper() + text[1:] for text in words]


def state_line(view: ProposalView) -> str:
    """Return the first line: how the proposal stands, in words."""
    words = STATE_WORDS[view.state]
    if view.state is State.OPEN:
        if view.deadline is None:
            return f"**{words}**, no deadline"
        stamp = int(view.deadline.timestamp())
        return f"**{words}**, closes <t:{stamp}:R> (<t:{stamp}:f>)"
    if view.state is State.ADOPTED:
        return f"**{words}** as revision {view.adopted_as}"
    if view.state is State.OUTDATED:
        return f"**{words}**: the build has changed in the same place; its proposer can refresh it"
    return f"**{words}**"


def outcome_line(view: ProposalView) -> str:
    """Return who ended it and why, or how it will be decided."""
    if view.closed is not None and view.closed_by is None:
        reason = f": {plain(view.close_reason)}" if view.close_reason else ""
        return f"{STATE_WORDS[view.state]} <t:{int(view.closed.timestamp())}:f>{reason}"
    if view.closed is None or view.closed_by is None:
        return "One vote a member, changeable until the close. The game master's ruling stands."
    reason = f": {plain(view.close_reason)}" if view.close_reason else ""
    return f"{STATE_WORDS[view.state]} by {who(view.closed_by)} <t:{int(view.closed.timestamp())}:f>{reason}"


def tally_line(tally: Tally, policy: Policy, remarks: int) -> str:
    """Return the votes in words."""
    parts = [f"**For {tally.for_} · Against {tally.against} · Abstain {tally.abstain}**"]
    if policy.quorum:
        reached = "reached" if tally.has_quorum(policy) else "not reached"
        parts.append(f"quorum {policy.quorum} {reached}")
    parts.append(DECIDER_WORDS[policy.decider])
    if remarks:
        parts.append(f"{remarks} {'remark' if remarks == 1 else 'remarks'}")
    return " · ".join(parts)


def remark_line(remark: RemarkView) -> str:
    """Return one remark with its author."""
    where = f" (level {remark.level})" if remark.level else ""
    return f"{who(remark.author)}{where}: {plain(remark.text)}"


def preview_card(preview: ProposalPreview) -> Card:
    """Return what a proposal would change, for the proposer alone."""
    catalog = preview.view.catalog
    title = f"Your proposal to {plain(preview.view.name)} · #{preview.view.number}"
    edits = (
        block(*_changes(preview.edits, preview.view.build, preview.proposed, catalog))
        if len(preview.edits) > 1
        else block()
    )
    reason = block(f"Reason: {plain(preview.reason)}" if preview.reason else "No reason given yet.")
    return Card(
        title,
        f"{plain(preview.title)}. Nobody has seen it yet: post it, or change it.",
        tuple(b for b in (edits, reason, *difference_blocks(preview.difference, catalog)) if b.lines),
    )


def list_card(page: Page[ProposalBrief], state: State | None) -> Card:
    """Return one page of proposals, newest first."""
    word = STATE_WORDS[state] if state else "on record"
    if not page.items:
        return Card("Proposals", f"No proposal is {word}. Suggest a change with `/propose change`.")
    lines = [
        f"**#{p.number} · {plain(p.title)}**\n-# {STATE_WORDS[p.state]} · to {plain(p.build_name)} (#{p.build}) by "
        f"{who(p.proposer)} · for {p.tally.for_}, against {p.tally.against}, abstain {p.tally.abstain} · "
        f"{p.remarks} {'remark' if p.remarks == 1 else 'remarks'}"
        for p in page.items
    ]
    more = f"; page {page.number}" + (", more on the next" if page.more else "")
    return Card("Proposals", f"{len(page.items)} {word}{more}", (block(*lines),))


# A phone shows about 35 characters of fixed width.
WIDTH: Final = 34
NAME_WIDTH: Final = 17
VALUE_WIDTH: Final = 5


def rivals_card(found: RivalsView, level: int | None) -> Card:
    """Return two proposals side by side: whether both can be adopted, then numbers in columns that fit a phone."""
    first, second, catalog = found.first, found.second, found.first.view.catalog
    if found.clashes:
        verdict = f"Only one of the two can be adopted as it stands: {plain(found.clashes[0])}"
    else:
        verdict = "Both can be adopted: they change different things."
    heads = [
        f"**#{each.number} {plain(each.title)}** · {STATE_WORDS[each.state]} · for {each.tally.for_}, against "
        f"{each.tally.against}, abstain {each.tally.abstain}"
        for each in (first, second)
    ]
    columns = ["now", f"#{first.number}", f"#{second.number}"]
    lines, notes, at = [_columns("", columns)], list[str](), level
    for row in _told_once(found.numbers, level):
        values = [value_words(row.name, value) for value in (row.now, row.first, row.second)]
        name = name_words(row.name, catalog)
        if any(len(value) > VALUE_WIDTH for value in values):
            notes.append(f"{name}, level {row.level}: {' · '.join(map(plain, values))}")
            continue
        if row.level != at:
            at = row.level
            lines.append(f"level {at}")
        if len(name) >= NAME_WIDTH:
            lines.append(name[:WIDTH])
            name = ""
        lines.append(_columns(name, values))
    table = "\n".join(["```", *(line.replace("`", "'") for line in lines[:ROWS]), "```"])
    left = len(lines) - ROWS
    return Card(
        f"#{first.number} beside #{second.number}",
        verdict,
        (
            block(*heads, keep=True),
            block(table, keep=True) if len(lines) > 1 else block("Neither changes a number here."),
            block(*notes, f"and {left} lines more; name a level" if left > 0 else ""),
            block(*(f"Clash: {plain(clash)}" for clash in found.clashes[1:])),
        ),
    )


def _columns(name: str, values: Iterable[str]) -> str:
    return f"{name:{NAME_WIDTH}}" + " ".join(f"{value:>{VALUE_WIDTH}}" for value in values)


ROWS: Final = 40


def _told_once(numbers: Iterable[RivalNumber], level: int | None) -> list[RivalNumber]:
    """Return the numbers of a level, or each once, at the first level where anything about it changes, by level."""
    kept: dict[str, RivalNumber] = {}
    for row in numbers:
        if is_quiet(row.name) or (level is not None and row.level != level):
            continue
        if row.name not in kept or row.level < kept[row.name].level:
            kept[row.name] = row
    return sorted(kept.values(), key=lambda row: row.level)


def details(view: ProposalView, filename: str) -> tuple[Card, str]:
    """Return the whole difference as a card (cut to its length) and as plain text for a file."""
    catalog = view.view.catalog
    found = view.difference
    rows = [f"{n.level:>2}  {n.name}: {_amount(n.before)} -> {_amount(n.after)}" for n in found.numbers]
    choices = _changes(view.edits, view.view.build, view.proposed, catalog)
    voices = [f"{member}: {choice.value}" for member, choice in view.votes.items()]
    text = "\n".join(
        [
            f"#{view.number} {view.title}",
            f"to {view.view.name} (#{view.view.number}, revision {view.view.revision.number})",
            "",
            "What changes",
            *choices,
            "",
            "Numbers, by level",
            *rows,
            "",
            "Findings",
            *(f"new: {f.message}" for f in found.findings_new),
            *(f"gone: {f.message}" for f in found.findings_gone),
            "",
        ]
    )
    votes = block(*(f"{who(m)}: {c.value}" for m, c in view.votes.items())) if voices else block()
    card = Card(
        f"#{view.number} · all that differs",
        f"{len(choices)} {'choice' if len(choices) == 1 else 'choices'}, {len(rows)} numbers counted level by level",
        tuple(b for b in (block(*choices), votes, block(*(plain(r) for r in rows))) if b.lines),
        files=(filename,),
    )
    return card, text


def _amount(value: object) -> str:
    return "none" if value is None else str(value)
