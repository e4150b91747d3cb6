"""For every command and every button one use of it in the server of `laid`: by whom, and what is answered.

Where everybody may, it is Wren who does it: a member without any role, build or seat. `barred` is what Wren is told
where only others may. Expectations are the words that make the answer the right one.
"""

from dataclasses import dataclass, field
from typing import Any

from tests.bot.content.test_content import TIDES

EDDIES = TIDES.replace("tide-guild", "eddies").replace("Tide Guild", "Eddies").replace("ea-legs", "ea-eyes")
TIDE = "Build: Tide Runner\n1-2 Rogue\n"


@dataclass(frozen=True)
class Use:
    """One use. texts: what the form that opens is filled in with; says: what the answer holds; barred: what Wren reads.

    makes: whether it makes something of its own on whatever server it is used. people: options that are members.
    """

    who: str
    says: str
    options: dict[str, Any] = field(default_factory=dict)
    texts: tuple[Any, ...] = ()
    barred: str | None = None
    makes: bool = False
    people: dict[str, str] = field(default_factory=dict)


NOBODY = "Only"
COMMANDS: dict[str, Use] = {
    "help": Use("wren", "/build load", makes=True),
    "build list": Use("wren", "Reed Warden · #1"),
    "build show": Use("wren", "Hit points 56", {"build": "#1", "level": 8}),
    "build next": Use("wren", "1 open choice at level 9", {"build": "#1"}),
    "build why": Use("wren", "Stealth +9", {"build": "#1", "level": 8, "number": "Stealth"}),
    "build audit": Use("wren", "No rule broken, 1 to rule on", {"build": "#2"}),
    "build outline": Use("wren", "Outline of Reed Warden · #1", {"build": "#1"}),
    "build history": Use("wren", "@oskar proposed a change (#8)", {"build": "#1"}),
    "build compare": Use("wren", "Reed Warden · #1 → Salt Runner · #6", {"build": "#1", "other": "#6"}),
    "build remarks": Use("wren", "Who needs that much?", {"build": "#1"}),
    "build sheet": Use("wren", "build-1-level-8.pdf", {"build": "#1"}),
    "build export": Use("wren", "build-1-revision-1.json", {"build": "#1"}),
    "build copy": Use("wren", "Marsh Twin (#14) is your draft now", {"build": "#1", "name": "Marsh Twin"}),
    "build load": Use("wren", "draft, seen by its author only", {"file": ("b.txt", TIDE.encode())}, makes=True),
    "build import": Use(
        "wren", "Salt Ferry", {"file": ("b.json", b'{"name":"Salt Ferry","order":["rogue"],"schema":1}')}, makes=True
    ),
    "build archive": Use("maren", "server-archive.zip", barred="Only a member who manages the server"),
    "goal list": Use("wren", "passive Perception at least 20 at level 8", {"build": "#1"}),
    "goal add": Use(
        "tiva", "Stealth at least 5 at level 3", {"build": "#1", "goal": "skill.stealth >= 5 at 3"}, barred=NOBODY
    ),
    "goal remove": Use("tiva", "Taken off: skill.stealth >= 5 at 3", {"build": "#1", "place": 2}, barred=NOBODY),
    "weigh standing": Use("wren", "Standing of Reed Warden", {"build": "#1"}),
    "weigh against": Use("wren", "They hit its armor class 14", {"build": "#1"}),
    "weigh curve": Use("wren", "hit points 9 at level 1, 56 at level 8", {"build": "#1", "number": "hp.max"}),
    "writeup draft": Use("wren", "write-up.md", {"build": "#1"}),
    "writeup check": Use(
        "wren", "armor class at level 8: 14, not ?", {"build": "#1", "file": ("w.md", b"It has [?](num:8/ac).")}
    ),
    "writeup fill": Use("wren", "1 number put right", {"build": "#1", "file": ("w.md", b"It has [?](num:8/ac).")}),
    "writeup strip": Use("wren", "write-up-to-publish.md", {"file": ("w.md", b"It has [14](num:8/ac).")}, makes=True),
    "propose text": Use("wren", "Nobody has seen it yet", {"build": "#1", "level": 2}, ("2 Rogue hp 6", "Luck.")),
    "propose change": Use(
        "wren",
        "Nobody has seen it yet",
        {"build": "#1", "level": 8, "remove": "+2 Wis", "add": "+2 Con", "reason": "x"},
    ),
    "proposal list": Use("wren", "+2 Dex instead of +2 Wis"),
    "proposal show": Use("wren", "#8 · Level 8: +2 Dex instead of +2 Wis", {"proposal": "#8"}),
    "proposal mine": Use("oskar", "+2 Dex instead of +2 Wis"),
    "proposal rivals": Use("wren", "Only one of the two can be adopted", {"proposal": "#8", "other": "#9"}),
    "proposal amend": Use(
        "oskar", "Nobody has seen it yet", {"proposal": "#9"}, ("8 Ranger hp 7: +1 Wis, +1 Con", "More."), barred=NOBODY
    ),
    "proposal refresh": Use(
        "oskar", "Nobody has seen it yet", {"proposal": "#10"}, ("2 Wizard hp 3", "Less."), barred=NOBODY
    ),
    "proposal withdraw": Use("oskar", "Proposal #10 is withdrawn.", {"proposal": "#10"}, barred=NOBODY),
    "remark list": Use("wren", "Who needs that much?", {"on": "#1"}),
    "remark add": Use("wren", "is kept", {"on": "#8", "text": "Fine."}),
    "remark answer": Use("wren", "is kept", {"remark": 1, "text": "A scout does."}),
    "remark edit": Use("sela", "is changed", {"remark": 1, "text": "Who needs that?"}, barred=NOBODY),
    "remark settle": Use("tiva", "is settled", {"remark": 1}, barred=NOBODY),
    "remark remove": Use("sela", "is taken away", {"remark": 1}, barred=NOBODY),
    "odds check": Use("wren", "50 % to reach DC 20", {"build": "#1", "level": 8, "skill": "Stealth", "dc": 20}),
    "odds attack": Use("wren", "50 % to hit armor class 16", {"bonus": 5, "ac": 16, "damage": "1d8+3"}, makes=True),
    "odds save": Use("wren", "60 % to fail against DC 15", {"dc": 15, "bonus": 2, "damage": "8d6"}, makes=True),
    "odds contest": Use("wren", "to win the contest", {"bonus": 3, "other_bonus": 3}, makes=True),
    "odds group": Use("wren", "50 % for the group to succeed", {"dc": 11, "members": "0, 0, 0"}, makes=True),
    "odds fell": Use("wren", "1.6 of 2 creatures fall", {"dice": "2d6", "creatures": "rat 2, crab 5"}, makes=True),
    "odds concentration": Use("wren", "38 % to hold through 2 hits", {"hits": "8, 30", "bonus": 4}, makes=True),
    "odds death": Use("wren", "60 % to live", makes=True),
    "odds scores": Use("wren", "88 % to meet the minimums", {"needs": "dex 13, wis 13"}, makes=True),
    "odds dice": Use("wren", "58 % for 10 or more", {"dice": "2d6+3", "at_least": 10}, makes=True),
    "odds compare": Use(
        "wren",
        "Lucky has the best",
        {"first": "Plain = check bonus 7 dc 15", "second": "Lucky = check bonus 7 dc 15 advantage"},
        makes=True,
    ),
    "roll dice": Use("wren", "on 2d6 + 3", {"dice": "2d6+3"}, makes=True),
    "roll scores": Use("wren", "rolled by @wren", makes=True),
    "roll hp": Use("tiva", "Rogue at level 3 of Reed Warden (#1)", {"build": "#1", "level": 3}, barred=NOBODY),
    "roll show": Use("wren", "rolled by @sela", {"roll": "#11"}),
    "roll list": Use("wren", "rolled by @sela"),
    "rules find": Use("wren", "1st-level conjuration", {"name": "Fog Cloud"}, makes=True),
    "content list": Use("wren", "Tide Guild 2 · on for the whole server"),
    "content show": Use("wren", "by Maren of the Lantern Coast", {"folio": "tide-guild"}),
    "content builds": Use("wren", "#13 Mole Keeper by @tiva, with version 1", {"folio": "tide-guild"}),
    "content export": Use("wren", "folio.yaml", {"folio": "tide-guild"}),
    "content check": Use("wren", "in order", {"file": ("f.yaml", EDDIES.encode())}, makes=True),
    "content template": Use("wren", ".yaml", makes=True),
    "content add": Use(
        "maren", "Version 1 is added and in use.", {"file": ("f.yaml", EDDIES.encode())}, barred=NOBODY, makes=True
    ),
    "content off": Use("maren", "It is switched off.", {"folio": "tide-guild"}, barred=NOBODY),
    "content on": Use("maren", "It is switched on.", {"folio": "tide-guild"}, barred=NOBODY),
    "content version": Use(
        "maren", "That version is in use now.", {"folio": "tide-guild", "version": "1"}, barred=NOBODY
    ),
    "content remove": Use("maren", "It is taken away", {"folio": "tide-guild"}, barred=NOBODY),
    "content back": Use("maren", "It is back.", {"folio": "drift-nets"}, barred=NOBODY),
    "content rights": Use(
        "maren",
        "each changes only the folios they have added",
        {"everybody": True},
        barred="manages the server",
        makes=True,
    ),
    "table list": Use("wren", "Marsh Table · #5 · level 8"),
    "table show": Use("wren", "Marsh Table · #5 · level 8", {"table": "#5"}),
    "table rules": Use("wren", "Nothing is restricted beyond", {"table": "#5"}),
    "table members": Use("maren", "Players @tiva, @oskar", {"table": "#5"}, barred=NOBODY, people={"add": "oskar"}),
    "table policy": Use("maren", "Quorum 2", {"table": "#5", "quorum": 2}, barred=NOBODY),
    "table history": Use("wren", "@maren opened the table", {"table": "#5"}),
    "table roster": Use("wren", "Salt Runner · #6 · Rogue 8 · by @tiva", {"table": "#5"}),
    "table review": Use("wren", "Waiting for the GM", {"build": "#6"}),
    "table level": Use("maren", "Marsh Table · #5 · level 9", {"table": "#5", "level": 9}, barred=NOBODY),
    "table edit": Use("maren", "Fen Table", {"table": "#5", "name": "Fen Table"}, barred=NOBODY),
    "table withdraw": Use("tiva", "Salt Runner is taken back", {"build": "#6"}, barred=NOBODY),
    "table submit": Use("tiva", "is before the GM", {"build": "#1", "table": "#5"}, barred=NOBODY),
    "table join": Use("wren", "You play at", {"table": "#5"}),
    "table leave": Use("wren", "You left Fen Table.", {"table": "#5"}),
    "table new": Use("wren", "Reef Table", {"name": "Reef Table", "level": 3}, makes=True),
    "table close": Use("maren", "Ferry Table is closed", {"table": "#12"}, barred=NOBODY),
    "server policy": Use("maren", "Quorum 2", {"quorum": 2}, barred="manages the server", makes=True),
    "server place": Use("maren", "Cards where the command is given", barred="manages the server", makes=True),
    "notices off": Use("wren", "No notice mentions you", makes=True),
    "notices on": Use("wren", "mention you again", makes=True),
    "privacy policy": Use("wren", "What this bot keeps, and why", makes=True),
    "privacy mine": Use("tiva", "my-data.json"),
    "privacy erase": Use("wren", "Erase you on this server?", {"builds": "go"}, makes=True),
    "build edit": Use(
        "tiva", "by @tiva · revision 4", {"build": "#1", "level": 2}, ("2 Rogue hp 7", "Luck."), barred=NOBODY
    ),
    "build restore": Use("tiva", "as revision 5", {"build": "#1", "revision": 1}, barred=NOBODY),
    "build co-author": Use(
        "tiva", "can edit Reed Warden (#1) now", {"build": "#1"}, barred=NOBODY, people={"member": "sela"}
    ),
    "build share": Use("tiva", "Sunken Bell · #3 · level 2", {"build": "#3"}, barred="no build"),
    "build retire": Use("tiva", "Kelp Diver (#2) is retired", {"build": "#2"}, barred=NOBODY),
    "build back": Use("tiva", "Old Anchor (#4) is back", {"build": "#4"}, barred=NOBODY),
    "build hand-over": Use(
        "tiva", "Reed Warden (#1) is @oskar", {"build": "#1"}, barred=NOBODY, people={"member": "oskar"}
    ),
    "build remove": Use("oskar", "Reed Warden (#1) is removed", {"build": "#1"}, barred=NOBODY),
}


@dataclass(frozen=True)
class Press:
    """One press. on: the number in the id, None for the newest of that kind; says, texts, barred: as in `Use`."""

    who: str
    says: str
    on: int | None = None
    texts: tuple[Any, ...] = ()
    barred: str | None = None


PRESSES: dict[str, Press] = {
    "level <": Press("wren", "Reed Warden · #1 · level 7", 1),
    "level >": Press("wren", "Reed Warden · #1 · level 5", 1),
    "outline": Press("wren", "Outline of Reed Warden", 1),
    "why": Press("wren", "+10 no armor, +2 Dexterity 15", 6),
    "curve": Press("wren", "Salt Runner (#6): hit points 9 at level 1, 51 at level 8", 6),
    "again": Press("tiva", "Tide Sound · #14", 4, ("Build: Tide Sound", "1 Rogue"), barred="no longer kept"),
    "mend": Press("tiva", "No rule broken, 1 to rule on, 7 unfinished", 2),
    "vote for": Press("wren", "For 1 · Against 0 · Abstain 0", 8),
    "vote against": Press("wren", "For 0 · Against 1 · Abstain 0", 8),
    "vote abstain": Press("wren", "For 0 · Against 0 · Abstain 1", 8),
    "remark": Press("wren", "is kept", 8, ("Fine.",)),
    "details": Press("wren", "#8 · all that differs", 8),
    "put": Press("oskar", "#9 is changed", 9, barred="no longer kept"),
    "post": Press("oskar", "Posted as #15", barred="no longer kept"),
    "refresh": Press("oskar", "Nobody has seen it yet", 10, ("2 Wizard hp 3", "Less."), barred=NOBODY),
    "decide withdraw": Press("oskar", "swap Fog Cloud for Longstrider\nwithdrawn", 9, barred=NOBODY),
    "decide decline": Press("tiva", "declined by @tiva", 10, barred=NOBODY),
    "decide adopt": Press("tiva", "adopted as revision 2", 8, barred=NOBODY),
    "review": Press("wren", "Waiting for the GM", 7),
    "waive": Press("maren", "is waived", 7, (0, "I saw them."), barred=NOBODY),
    "approve": Press("maren", "Approved for levels 1 to 8", 7, barred=NOBODY),
    "return": Press("maren", "Returned by @maren", 7, ("Roll them here.",), barred=NOBODY),
    "rules": Press("maren", "In force: SRD 5.1, no feats", 5, ("feats: no\n",), barred=NOBODY),
    "table join": Press("wren", "Players @tiva, @wren", 5),
    "table leave": Press("wren", "Players @tiva\n", 5),
    "table rules": Press("wren", "Rules of Marsh Table", 5),
    "table roster": Press("wren", "Salt Runner · #6 · Rogue 8 · by @tiva", 5),
    "move": Press("tiva", "Mole Keeper uses version 2 now, as revision 2.", 13, barred=NOBODY),
    "erase stay": Press("tiva", "You are erased here", None, barred="Only the member whom this would erase"),
    "erase go": Press("sela", "You are erased here", None, barred="Only the member whom this would erase"),
}
