"""Cards of builds: from what a service returned to what a member reads. Pure."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from bot.ui.card import Block, Card, block
from bot.ui.escape import plain
from bot.ui.numbers import ARROW, changed_numbers, goal_words, name_words, signed, value_words
from bot.ui.who import who
from engine.audit import (
    CODES,
    SEVERITIES,
    Difference,
    Finding,
    FoldedChange,
    GoalResult,
    OpenChoice,
    Severity,
    folded,
    points_left,
)
from engine.build.document import Build
from engine.rules.catalog import Catalog
from engine.rules.words import ABILITIES
from engine.services.builds import HIDDEN_VOTE
from engine.services.views import (
    AuditView,
    BuildBrief,
    BuildView,
    ComparedBuilds,
    HistoryEntry,
    OpenView,
    Page,
    ShownBuild,
)
from engine.sheet import Sheet
from engine.sheet.number import Number
from engine.sheet.states import state_names

ORDINALS: Final = ("1st", "2nd", "3rd", "4th", "5th", "6th", "7th", "8th", "9th")
SHOWN_OPTIONS: Final = 30
SEVERITY_WORDS: Final = {
    "breaks-rules": "Breaks the rules",
    "breaks-table-rules": "Breaks the table's rules",
    "needs-ruling": "Needs a ruling by the GM",
    "unfinished": "Unfinished",
    "advice": "Advice",
}


def class_words(build: Build, catalog: Catalog, level: int) -> str:
    """Return `Rogue 4 (Thief), Ranger 4 (Hunter)` at a character level."""
    chosen: dict[str, str] = {}
    for at, class_id, _, line in build.lines():
        if at <= level and line.subclass:
            chosen[class_id] = catalog.name_of("subclass", line.subclass)
    words = []
    for class_id, levels in build.class_levels(level).items():
        subclass = f" ({plain(chosen[class_id])})" if class_id in chosen else ""
        words.append(f"{plain(catalog.name_of('class', class_id))} {levels}{subclass}")
    return ", ".join(words) or "no level yet"


def title_of(view: BuildView, level: int) -> str:
    """Return the first line of a build's cards."""
    words = class_words(view.build, view.catalog, level)
    return f"{plain(view.name)} · #{view.number} · level {level} · {words}"


def standing(view: BuildView, findings: Sequence[Finding], goals: Sequence[GoalResult]) -> str:
    """Return the small line under the concept: release, author, revision, goals, findings in short."""
    parts = [release_words(view), f"by {who(view.author)}", f"revision {view.revision.number}"]
    if view.coauthors:
        parts.append(f"with {', '.join(map(who, view.coauthors))}")
    if view.origin:
        parts.append(f"copied from #{view.origin[0]}, revision {view.origin[1]}")
    if view.retired:
        parts.append("retired")
    if not view.shared:
        with_others = " and co-authors" if view.coauthors else ""
        parts.append(f"draft, seen by its author{with_others} only")
    measured = [g for g in goals if g.met is not None]
    if measured:
        met = sum(bool(g.met) for g in measured)
        parts.append(f"{met} of {len(measured)} goals met" if len(measured) > 1 else f"{met} goal met")
    parts.append(findings_words(findings))
    return " · ".join(parts)


def release_words(view: BuildView) -> str:
    """Return the rules release of a build with the folios that it uses, each in the version that it is read by."""
    release, *others = view.catalog.folios
    loaded = {folio.id: folio for folio in others}
    names = [
        f"{loaded[use.id].title} {loaded[use.id].header.version}" if use.id in loaded else f"{use.id} (not here)"
        for use in view.build.folios
    ]
    return plain(f"{release.title} with {', '.join(names)}" if names else release.title)


def findings_words(findings: Sequence[Finding]) -> str:
    """Return how the audit came out, in a few words."""
    counts = {s: sum(f.severity == s for f in findings) for s in SEVERITIES}
    if not (counts["breaks-rules"] or counts["breaks-table-rules"]):
        words = "no rule broken"
    else:
        broken = counts["breaks-rules"] + counts["breaks-table-rules"]
        words = f"{broken} {'rule' if broken == 1 else 'rules'} broken"
    named: tuple[tuple[Severity, str], ...] = (("needs-ruling", "to rule on"), ("unfinished", "unfinished"))
    extra = [f"{counts[severity]} {word}" for severity, word in named if counts[severity]]
    return ", ".join([words, *extra])


def build_card(shown: ShownBuild) -> Card:
    """Return the card of a build at a level; its buttons are added by the command area."""
    view, sheet, catalog = shown.view, shown.sheet, shown.view.catalog
    blocks = [
        block(standing(view, shown.findings, shown.goals), keep=True, small=True),
        block(*_while_lines(sheet, shown.states, catalog), keep=True),
        block(*_body_lines(sheet)),
        block(_scores_line(sheet), *_save_lines(sheet)),
        block(*_skill_lines(sheet, catalog)),
        block(*_attack_lines(sheet, catalog), *_spell_lines(shown)),
    ]
    if shown.points_left is not None:
        word = "point" if shown.points_left == 1 else "points"
        blocks.append(block(f"Point buy: {shown.points_left} {word} left"))
    concept = plain(view.build.concept) if view.build.concept else "no concept written yet"
    return Card(title_of(view, shown.level), concept, tuple(b for b in blocks if b.lines))


def _while_lines(sheet: Sheet, states: Iterable[str], catalog: Catalog) -> list[str]:
    """Which states are on, and which of them do not count for this build; what they bring besides numbers."""
    names = state_names(states, catalog)
    if not names:
        return []
    notes = [f"{plain(n.label)}: {plain(n.text)}" for n in sheet.notes if n.label in names]
    return [f"**While** {plain(', '.join(names))}", *(f"-# {line}" for line in notes)]


def _value(sheet: Sheet, name: str) -> str:
    number = sheet.numbers.get(name)
    return value_words(name, number.value if number else None)


def _body_lines(sheet: Sheet) -> list[str]:
    speeds = [
        f"{_value(sheet, n)} {n.removeprefix('speed.')}"
        for n in sheet.numbers
        if n.startswith("speed.") and n != "speed.walk"
    ]
    speed = _value(sheet, "speed.walk") + (f" ({', '.join(speeds)})" if speeds else "")
    return [
        f"**Hit points** {_value(sheet, 'hp.max')} · **Armor class** {_value(sheet, 'ac')} · "
        f"**Initiative** {_value(sheet, 'initiative')} · **Speed** {speed}"
    ]


def _scores_line(sheet: Sheet) -> str:
    return " · ".join(
        f"**{a.capitalize()}** {_value(sheet, f'ability.{a}.score')} {_value(sheet, f'ability.{a}.modifier')}"
        for a in ABILITIES
    )


def _save_lines(sheet: Sheet) -> list[str]:
    trained = [a for a in ABILITIES if _adds_proficiency(sheet.numbers[f"save.{a}"])]
    own = ", ".join(f"{a.capitalize()} {_value(sheet, f'save.{a}')}" for a in trained)
    others = ", ".join(f"{a.capitalize()} {_value(sheet, f'save.{a}')}" for a in ABILITIES if a not in trained)
    return [f"**Saves** {own} · others {others}" if own else f"**Saves** {others}"]


def _adds_proficiency(number: Number) -> bool:
    return any(r.label.startswith("proficiency bonus") for r in number.reasons)


def _skill_lines(sheet: Sheet, catalog: Catalog) -> list[str]:
    trained = [
        (n, s)
        for n, s in sheet.numbers.items()
        if n.startswith("skill.") and n.count(".") == 1 and _adds_proficiency(s)
    ]
    trained.sort(key=lambda pair: (-float(pair[1].value), pair[0]))
    words = []
    for name, number in trained:
        text = f"{name_words(name, catalog)} {signed(number.value)}"
        if name == "skill.perception":
            text += f" (passive {_value(sheet, 'skill.perception.passive')})"
        words.append(text)
    if not any(n == "skill.perception" for n, _ in trained):
        words.append(f"passive Perception {_value(sheet, 'skill.perception.passive')}")
    if not trained:
        return [f"**Skills** {words[0]}"]
    lines = [f"**Best at** {', '.join(words[:4])}"]
    if words[4:]:
        lines.append(f"**Also** {', '.join(words[4:])}")
    return lines


def _attack_lines(sheet: Sheet, catalog: Catalog) -> list[str]:
    attacks = []
    for name, number in sheet.numbers.items():
        if not name.startswith("attack.") or not name.endswith(".to_hit") or name.count(".") != 2:
            continue
        damage = sheet.numbers.get(name.removesuffix("to_hit") + "damage")
        title = name_words(name, catalog).removesuffix(" to hit")
        dice = (damage.dice or value_words("", damage.value)) if damage else "no damage"
        attacks.append((number.value, f"{title} {signed(number.value)}, {dice}", name))
    own = [a for a in attacks if "unarmed-strike" not in a[2]] or attacks
    own.sort(key=lambda a: (-float(a[0]), a[1]))
    extra = [
        f"{n.text.split(' extra damage')[0]} {n.label}" for n in sheet.notes if " extra damage once a turn" in n.text
    ]
    per_action = sheet.numbers["attacks.per_action"].value
    lines = [f"**Attacks** {' · '.join(text for _, text, _ in own[:5])}"]
    if per_action != 1:
        lines[0] += f" · {per_action} attacks an action"
    if extra:
        lines[0] += f" · once a turn {plain(', '.join(extra))}"
    return lines


def _spell_lines(shown: ShownBuild) -> list[str]:
    numbers, catalog = shown.sheet.numbers, shown.view.catalog
    lines = []
    for name in numbers:
        if name.startswith("casting.") and name.endswith(".save_dc"):
            owner = name.split(".")[1]
            attack = numbers.get(f"casting.{owner}.attack")
            word = name_words(name, catalog).replace(" spell save DC", "")
            spell_attack = f", attack {signed(attack.value)}" if attack else ""
            lines.append(f"**{word} spells** save DC {numbers[name].value}{spell_attack}")
    slots = [f"{numbers[f'slots.{n}'].value} of {ORDINALS[n - 1]}" for n in range(1, 10) if numbers[f"slots.{n}"].value]
    if numbers["pact.slots"].value:
        level = int(numbers["pact.slot_level"].value)
        slots.append(f"{numbers['pact.slots'].value} pact slots of {ORDINALS[level - 1]}")
    if slots:
        lines.append(f"**Slots** {', '.join(slots)}")
    if shown.spells:
        lines.append(f"**Spells** {', '.join(plain(s) for s in shown.spells)}")
    return lines


# -- why --------------------------------------------------------------------------------------------------------


def why_card(shown: ShownBuild, name: str) -> Card:
    """Return the little sum behind one number, one of `shown.numbers`."""
    view, sheet = shown.view, shown.sheet
    number = shown.numbers[name]
    words = name_words(name, view.catalog)
    value = value_words(name, number.value)
    dice = f" ({number.dice})" if number.dice else ""
    lines = [f"**{signed(r.amount)}** {plain(r.label)}" for r in number.reasons]
    beaten = [f"{signed(r.amount)} {plain(r.label)}" for r in number.beaten]
    relatives = []
    if name.startswith("skill.") and name.count(".") == 1:
        relatives.append(f"Lowest total {_value(sheet, name + '.lowest')} · passive {_value(sheet, name + '.passive')}")
    sources = dict.fromkeys(plain(r.source) for r in number.reasons)
    return Card(
        f"{words[:1].upper()}{words[1:]} {value}{dice} at level {shown.level}",
        f"{plain(view.name)} · #{view.number}",
        tuple(
            b
            for b in (
                block(*_while_lines(sheet, shown.states, view.catalog)),
                block(*lines),
                block(*relatives, f"Lost to these: {'; '.join(beaten)}" if beaten else ""),
                block("; ".join(sources), small=True),
            )
            if b.lines
        ),
    )


# -- audit ------------------------------------------------------------------------------------------------------


def audit_card(audited: AuditView, level: int | None = None) -> Card:
    """Return the findings of a build, the worst kind first; many of one kind are folded by level.

    level: only the findings of that level, in full. Findings that can be mended bear the number of their button.
    """
    view = audited.view
    mends = {mend.finding: number for number, mend in enumerate(audited.mends, 1)}
    shown = [f for f in audited.findings if level is None or f.level == level]
    blocks = []
    folds = False
    for severity in SEVERITIES:
        mine = [f for f in shown if f.severity == severity]
        if not mine:
            continue
        many = level is None and len(mine) > SHOWN_FINDINGS
        folds = folds or many
        lines = _folded_by_level(mine, mends) if many else _in_full(mine, mends)
        blocks.append(block(f"**{SEVERITY_WORDS[severity]}** ({len(mine)})", *lines))
    where = f" at level {level}" if level is not None else ""
    first = f"{findings_words(shown).capitalize()}{where}." if shown else f"Nothing to report{where}: no rule broken."
    if folds:
        blocks.append(block("One level in full: `/build audit` with `level`.", keep=True, small=True))
    if audited.mends:
        lines = [f"{number}: {plain(mend.title)}" for number, mend in enumerate(audited.mends, 1)]
        told = "A press by the author changes the build; anybody else's previews a proposal."
        blocks.append(block("**Can be mended at a press**", *lines, f"-# {told}", keep=True))
    title = f"{plain(view.name)} · #{view.number} · audit by {view.catalog.folios[0].title}"
    ruling = block("The rules as published; at the table the game master's ruling stands.", keep=True, small=True)
    return Card(title, first, (*blocks, ruling))


# Findings of one kind that are shown in full; more are folded.
SHOWN_FINDINGS: Final = 10


def _place(level: int | None) -> str:
    return f"Level {level}" if level else "Header"


def _in_full(findings: Iterable[Finding], mends: Mapping[Finding, int]) -> list[str]:
    lines = []
    for f in findings:
        mend = f" (mend {mends[f]})" if f in mends else ""
        lines.append(f"{_place(f.level)}: {plain(f.message)}{mend}\n-# {plain(f.source)}")
    return lines


def _folded_by_level(findings: Iterable[Finding], mends: Mapping[Finding, int]) -> list[str]:
    """One line a level: what is wrong there and with what; neighbouring levels that say the same share a line."""
    levels: dict[int | None, dict[str, list[str]]] = {}
    for f in findings:
        mend = f" (mend {mends[f]})" if f in mends else ""
        levels.setdefault(f.level, {}).setdefault(CODES[f.code].meaning, []).append(f"{plain(f.subject)}{mend}")
    spans: list[tuple[int | None, int | None, str]] = []
    for level, said in levels.items():
        words = "; ".join(f"{meaning}: {', '.join(dict.fromkeys(subjects))}" for meaning, subjects in said.items())
        if spans and level is not None and spans[-1][1] == level - 1 and spans[-1][2] == words:
            spans[-1] = (spans[-1][0], level, words)
        else:
            spans.append((level, level, words))
    return [f"{_place(a) if a == b else f'Levels {a} to {b}'}: {words}" for a, b, words in spans]


# -- lists ------------------------------------------------------------------------------------------------------


def list_card(page: Page[BuildBrief], catalog: Catalog, filters: str) -> Card:
    """Return one page of builds, newest first."""
    if not page.items:
        return Card("Builds", f"No build{filters} is here yet. Post one with `/build load`.")
    lines = []
    for brief in page.items:
        classes = ", ".join(f"{plain(catalog.name_of('class', c))} {n}" for c, n in brief.classes.items())
        draft = " · draft" if not brief.shared else ""
        lines.append(
            f"**{plain(brief.name)}** · #{brief.number}{draft}\n"
            f"-# {classes or 'no level yet'} · by {who(brief.author)} · revision {brief.revision} · "
            f"<t:{int(brief.changed.timestamp())}:R>"
        )
    more = f"; page {page.number}" + (", more on the next" if page.more else "")
    return Card("Builds", f"{len(page.items)} shown{filters}{more}", (block(*lines),))


EVENT_WORDS: Final = {
    "build-loaded": "posted the build",
    "build-shared": "shared it with the server",
    "build-revised": "changed it",
    "proposal-followed": "moved along with the build",
    "build-removed": "removed it",
    "hit-points-rolled": "rolled hit points",
    "proposal-opened": "proposed a change",
    "proposal-adopted": "adopted a proposal",
    "proposal-declined": "declined a proposal",
    "proposal-withdrawn": "withdrew a proposal",
    "proposal-lapsed": "a proposal lapsed",
    "proposal-outdated": "a proposal was outdated",
    "proposal-refreshed": "refreshed a proposal",
    "vote-cast": "voted",
    HIDDEN_VOTE: "voted, secretly",
    "proposal-amended": "amended a proposal",
    "proposal-handed-over": "handed a proposal's decision over",
    "remark-added": "remarked",
    "remark-answered": "answered a remark",
    "remark-edited": "changed a remark",
    "remark-removed": "took a remark away",
    "remark-settled": "settled a remark",
    "remark-reopened": "opened a remark again",
    "build-retired": "retired it",
    "build-brought-back": "brought it back",
    "build-copied": "copied it from another build",
    "build-handed-over": "handed it over to",
    "build-submitted": "submitted it to a table",
    "build-approved": "approved it for play",
    "build-returned": "returned it to its author",
    "build-taken-back": "took it back from the table",
    "finding-waived": "waived a finding",
    "co-author-added": "named as co-author",
    "co-author-dropped": "took off as co-author",
}


def history_card(view: BuildView, page: Page[HistoryEntry]) -> Card:
    """Return one page of a build's history, newest first."""
    lines = []
    for entry in page.items:
        reason = f": {plain(entry.reason)}" if entry.reason else ""
        subject = f" (#{entry.subject})" if entry.subject != view.number else ""
        nobody = "a member" if entry.event == HIDDEN_VOTE else "by time"
        actor = who(entry.actor) if entry.actor else nobody
        words = EVENT_WORDS.get(entry.event, entry.event.replace("-", " "))
        other = f" {who(entry.data['member'])}" if "member" in entry.data else ""
        lines.append(f"<t:{int(entry.at.timestamp())}:f> {actor} {words}{other}{subject}{reason}")
    first = f"Revision {view.latest} is the newest; page {page.number}" + (", more on the next" if page.more else "")
    return Card(f"History of {plain(view.name)} · #{view.number}", first, (block(*lines),))


# -- differences ------------------------------------------------------------------------------------------------


def difference_blocks(found: Difference, catalog: Catalog, *, only: int | None = None) -> list[Block]:
    """Return the blocks that say what changes: goals, numbers for better and worse, findings. only: one level."""
    rows: Iterable[FoldedChange] = folded(n for n in found.numbers if only is None or n.level == only)
    moves = changed_numbers(rows, catalog)
    blocks = []
    goals = [
        *(f"**Goal lost** {goal_words(g.goal, catalog)}{_nearest(g)}" for g in found.goals_lost),
        *(f"**Goal met** {goal_words(g.goal, catalog)}" for g in found.goals_gained),
        *(f"**Goal earlier** {goal_words(g.goal, catalog)} (level {g.from_level})" for g in found.goals_earlier),
        *(f"**Goal later** {goal_words(g.goal, catalog)} (level {g.from_level})" for g in found.goals_later),
    ]
    if goals:
        blocks.append(block(*goals))
    numbers = [
        f"**{word}** {line}"
        for word, lines in (("Better", moves.better), ("Worse", moves.worse), ("Different", moves.neutral))
        for line in lines
    ]
    blocks.append(block(*(numbers or ["No number changes."])))
    new = [f"**New finding** {_short(f)}" for f in found.findings_new]
    gone = [f"**Finding gone** {_short(f)}" for f in found.findings_gone]
    blocks.append(block(*(new + gone or ["**Rules** nothing new"])))
    return blocks


def _nearest(goal: GoalResult) -> str:
    return f" ({plain(goal.nearest)})" if goal.nearest else ""


def _short(finding: Finding) -> str:
    where = f"level {finding.level}: " if finding.level else ""
    return f"({SEVERITY_WORDS[finding.severity].lower()}) {where}{plain(finding.message)}"


def compare_card(compared: ComparedBuilds) -> Card:
    """Return what differs between two builds or revisions."""
    before, after = compared.before, compared.after
    if before.number == after.number:
        revisions = f"revision {before.revision.number} {ARROW} {after.revision.number}"
        title = f"{plain(before.name)} · #{before.number} · {revisions}"
    else:
        title = f"{plain(before.name)} · #{before.number} {ARROW} {plain(after.name)} · #{after.number}"
    count = len(compared.difference.choices)
    where = f" at level {compared.level}" if compared.level else ""
    numbers = len({n.name for n in compared.difference.numbers})
    first = f"{count} {'choice' if count == 1 else 'choices'} and {numbers} numbers differ{where}"
    return Card(title, first, tuple(difference_blocks(compared.difference, after.catalog, only=compared.level)))


def outline_card(view: BuildView, text: str, filename: str) -> Card:
    """Return the outline as text and file. Outline text is shown line by line, escaped like any other."""
    title = f"Outline of {plain(view.name)} · #{view.number} · revision {view.revision.number}"
    return Card(
        title,
        "Copy the file, change it, and send it back with `/build edit` or `/propose text`.",
        (block(*(plain(line) for line in text.splitlines())),),
        files=(filename,),
    )


ASKED_MOST: Final = ("hp.max", "ac", "initiative", "skill.perception.passive")


def reasons_card(shown: ShownBuild) -> Card:
    """Return the reasons of the numbers that are asked about most: those of the build's card."""
    sheet, catalog = shown.sheet, shown.view.catalog
    skills = [
        n for n in sheet.numbers if n.startswith("skill.") and n.count(".") == 1 and _adds_proficiency(sheet.numbers[n])
    ]
    skills.sort(key=lambda n: -float(sheet.numbers[n].value))
    casting = [n for n in sheet.numbers if n.startswith("casting.") and n.endswith(".save_dc")]
    hits = [n for n in sheet.numbers if n.endswith(".to_hit") and n.count(".") == 2][:2]
    lines = []
    for name in (*ASKED_MOST, *skills[:4], *hits, *casting):
        number = sheet.numbers[name]
        sums = ", ".join(f"{signed(r.amount)} {plain(r.label)}" for r in number.reasons)
        words = name_words(name, catalog)
        lines.append(f"**{words[:1].upper()}{words[1:]} {value_words(name, number.value)}** {sums}")
    return Card(
        f"Why these numbers · level {shown.level}",
        f"{plain(shown.view.name)} · #{shown.view.number} · any other: `/build why`",
        tuple(b for b in (block(*_while_lines(sheet, shown.states, catalog)), block(*lines)) if b.lines),
    )


def next_card(found: OpenView) -> Card:
    """Return what is open at a level: how many, of what, the legal options."""
    view = found.view
    left = points_left(view.build, view.catalog)
    blocks = [block(f"Point buy: {left} {'point' if left == 1 else 'points'} left")] if left else []
    blocks += [block(f"**{c.count} {plain(c.noun)}** ({plain(c.label)})", _options(c)) for c in found.choices]
    count = len(found.choices)
    first = f"{count} open {'choice' if count == 1 else 'choices'} at level {found.level}"
    if not count:
        first = f"Nothing is open at level {found.level}."
    return Card(f"{plain(view.name)} · #{view.number} · what is next", first, tuple(blocks))


def _options(found: OpenChoice) -> str:
    names = [plain(o.name) for o in found.options]
    if len(names) <= SHOWN_OPTIONS:
        return ", ".join(names)
    return f"{', '.join(names[:SHOWN_OPTIONS])} and {len(names) - SHOWN_OPTIONS} more"
