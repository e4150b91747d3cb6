"""Which spells a build has at hand at a level."""

from engine.sheet.gathered import Gathered, Learned


def spells_at(gathered: Gathered, level: int) -> tuple[Learned, ...]:
    """Return the spells at hand at a character level, each once, cantrips first, then by spell level and name.

    Known, always prepared and innate ones count; of a spellbook or a whole list only what a `prepare` names, and of a
    spellbook without any `prepare` all that is in it.
    """
    now = [s for s in gathered.spells if s.since <= level <= s.until]
    readied = {s.owner for s in now if s.how == "prepared"}
    found: dict[str, Learned] = {}
    for learned in now:
        if learned.how == "listed" or (learned.how == "book" and learned.owner in readied):
            continue
        found.setdefault(learned.spell, learned)

    def place(learned: Learned) -> tuple[int, str]:
        spell = gathered.catalog.spell(learned.spell)
        return (spell.level, spell.name) if spell else (10, learned.spell)

    return tuple(sorted(found.values(), key=place))
