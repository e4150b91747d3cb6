"""What a choice offers: everything on its list, and of that what this build may still pick."""

from typing import Final

from engine.audit.context import AuditContext
from engine.audit.moment import Moment
from engine.build.document import Pick
from engine.rules.catalog import Named
from engine.rules.content import Option, Spell
from engine.rules.grants.choices import Choice
from engine.rules.grants.proficiencies import Proficiency
from engine.rules.words import ABILITIES, ABILITY_NAMES
from engine.sheet.gathered import Opened
from engine.sheet.matching import EITHER, SPELL_KEYWORDS, kind_of, permits

_NOUNS: Final = {
    EITHER: "tool or language",
    "spell": "spell",
    "secret": "spell of any list",
    "kind": "kind of humanoid",
    "expertise": "proficiency for expertise",
    "style": "fighting style",
    "enemy": "favored enemy",
    "terrain": "favored terrain",
    "land": "kind of land",
    "increase": "ability score increase",
    "feature": "background feature",
    "mastered": "mastered spell",
    "signature": "signature spell",
}
RELEASE: Final = "release"


def noun_of(ctx: AuditContext, keyword: str) -> str:
    """Return what one pick under a keyword is called in a sentence, in lower case."""
    listed = ctx.catalog.choice_list(keyword)
    if listed is not None and listed.title is not None:
        return listed.title.lower()
    return _NOUNS.get(keyword, keyword.replace("-", " "))


def is_spell_choice(choice: Choice) -> bool:
    """Tell whether a choice is answered with spells."""
    return choice.keyword in SPELL_KEYWORDS or choice.of == "spell"


def is_class_casting(ctx: AuditContext, opened: Opened) -> bool:
    """Tell whether a choice is that of a class's own table: cantrips, spells known, spells for the book."""
    casting = ctx.casting.get(opened.owner or "")
    return (
        casting is not None
        and opened.choice.total is not None
        and opened.choice.keyword in ("cantrip", "spell")
        and opened.label == casting.label
    )


def spell_limit(ctx: AuditContext, opened: Opened) -> int | None:
    """Return the highest level of a spell that answers a choice; None where nothing limits it."""
    if opened.choice.keyword == "cantrip":
        return 0
    if opened.choice.spell_level is not None:
        value = opened.choice.spell_level.evaluate(Moment(ctx, opened.level, opened.owner))
        return value if isinstance(value, int) else None
    if opened.owner is not None:
        return ctx.value(opened.level, f"casting.{opened.owner}.top_level")
    return None


def on_list(ctx: AuditContext, spell: Spell, choice_list: str, owner: str | None, level: int) -> bool:
    """Tell whether a spell is on a class's list, or was added to it for this build by a feature."""
    return ctx.catalog.on_list(spell, choice_list) or any(
        s.spell == spell.id and s.how == "listed" and s.owner == owner and s.since <= level <= s.until
        for s in ctx.gathered.spells
    )


def offered(ctx: AuditContext, opened: Opened) -> list[Named]:
    """Return everything that a choice's list offers, prerequisites and what the build has already left aside."""
    choice, catalog = opened.choice, ctx.catalog
    keyword = choice.keyword
    if keyword in ("increase", "ability"):
        named = [Named("ability", a, ABILITY_NAMES[a], None, RELEASE) for a in ABILITIES]
        return [n for n in named if n.id not in choice.but and (not choice.from_ or n.id in choice.from_)]
    if is_spell_choice(choice):
        return _spells(ctx, opened)
    if keyword == "expertise":
        proficient = ctx.proficiencies(opened.level)
        skills = [n for n in catalog.every("skill") if n.id in proficient.get("skill", ())]
        tools = [n for n in catalog.every("tool") if n.id in choice.from_ and n.id in proficient.get("tool", ())]
        return skills + tools
    found: list[Named] = []
    for word in ("tool", "language") if keyword == EITHER else (keyword,):
        named = _background_features(ctx) if word == "feature" else list(catalog.every(kind_of(word, choice)))
        found += [n for n in named if permits(choice, word, Pick.model_construct(id=n.id), catalog)]
    return found


def _background_features(ctx: AuditContext) -> list[Named]:
    """The features of backgrounds, without those that only give skills, tools or languages."""
    backgrounds = (ctx.catalog.background(n.id) for n in ctx.catalog.every("background"))
    own = (
        feature.id
        for background in backgrounds
        if background is not None
        for feature in background.features
        if not any(isinstance(g, Proficiency | Choice) for g in feature.grants)
    )
    return [named for id_ in own if (named := ctx.catalog.named("feature", id_)) is not None]


def _spells(ctx: AuditContext, opened: Opened) -> list[Named]:
    choice, catalog = opened.choice, ctx.catalog
    limit = spell_limit(ctx, opened)
    found: list[Named] = []
    for named in catalog.every("spell"):
        spell = named.entry
        if not isinstance(spell, Spell) or (limit is not None and spell.level > limit) or spell.level < choice.least:
            continue
        if choice.from_ and spell.id not in choice.from_:
            continue
        if choice.keyword != "cantrip" and spell.level == 0 and choice.keyword != "secret":
            continue
        if choice.held and not ctx.has_spell(spell.id, opened.owner, opened.level):
            continue
        if choice.list is None or on_list(ctx, spell, choice.list, opened.owner, opened.level):
            found.append(named)
    return sorted(found, key=lambda n: (n.entry.level if isinstance(n.entry, Spell) else 0, n.name))


def legal(ctx: AuditContext, opened: Opened) -> list[Named]:
    """Return what the build may still pick in answer to a choice: offered, prerequisites met, not had already."""
    return [n for n in offered(ctx, opened) if refusal(ctx, opened, n) is None]


def refusal(ctx: AuditContext, opened: Opened, named: Named) -> str | None:
    """Return why an offered thing cannot be picked by this build now, in a few words; None if it can."""
    choice, level = opened.choice, opened.level
    if named.kind == "ability":
        score = ctx.score(level, next(a for a in ABILITIES if a == named.id))
        return "it has reached its limit" if choice.keyword == "increase" and (score or 0) >= choice.cap else None
    if named.kind in ("skill", "tool", "language"):
        if choice.keyword == "expertise":
            return "it has expertise already" if _held_before(ctx, "expertise", named.id, level) else None
        return "the build has it already" if ctx.proficient(named.kind, named.id, level) else None
    if named.kind == "spell":
        if choice.held or choice.keyword not in SPELL_KEYWORDS:
            return None
        return "it is known already" if ctx.has_spell(named.id, opened.owner, level) else None
    if isinstance(named.entry, Option):
        return unmet(ctx, named.entry, level, opened.owner) or (
            "it is picked already"
            if not named.entry.repeatable and _held_before(ctx, choice.keyword, named.id, level)
            else None
        )
    return "it is picked already" if _held_before(ctx, choice.keyword, named.id, level) else None


def unmet(ctx: AuditContext, option: Option, level: int, owner: str | None) -> str | None:
    """Return in words the prerequisite of an option that the build does not meet at a level; None if it meets all."""
    moment = Moment(ctx, level, owner)
    if option.level > moment["class_level"]:
        whose = f"{ctx.class_name(owner)} level" if owner is not None else "level"
        return f"it asks for {whose} {option.level}"
    if option.requires is not None and not option.requires.evaluate(moment):
        return f"it asks for {option.requires_text or option.requires.text}"
    return None


def _held_before(ctx: AuditContext, keyword: str, id_: str, level: int) -> bool:
    return bool(ctx.standing(keyword, id_, level))
