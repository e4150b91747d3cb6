"""What the audit says: findings, and the closed list of codes they may carry."""

from dataclasses import dataclass
from typing import Any, Final, Literal

Severity = Literal["breaks-rules", "breaks-table-rules", "needs-ruling", "unfinished", "advice"]
# From what stops a build to what only helps it; the order in which cards list them.
SEVERITIES: Final[tuple[Severity, ...]] = ("breaks-rules", "breaks-table-rules", "needs-ruling", "unfinished", "advice")
NO_SOURCE: Final = "common practice, no source"


@dataclass(frozen=True, slots=True, order=True)
class Finding:
    """One thing the audit has to say about a build.

    code: stable, kebab-case, a key of CODES. severity: the code's. level: character level at which it stands, None
    for the header. subject: what it is about, by printed name. message: one plain sentence that says what is wrong,
    what was expected and what would mend it. source: where the rule stands, or that no release prints it.
    """

    code: str
    severity: Severity
    level: int | None
    subject: str
    message: str
    source: str

    def as_json(self) -> dict[str, Any]:
        """Return the outside form: `{"code","severity","level","subject","message","source"}`."""
        return {
            "code": self.code,
            "severity": self.severity,
            "level": self.level,
            "subject": self.subject,
            "message": self.message,
            "source": self.source,
        }


def finding_json(found: Finding) -> dict[str, Any]:
    """Return the outside form of a finding."""
    return found.as_json()


@dataclass(frozen=True, slots=True)
class Code:
    """What a code means: its severity, which never varies, and one line for people."""

    code: str
    severity: Severity
    meaning: str


def _codes(severity: Severity, **meanings: str) -> dict[str, Code]:
    codes = {word.replace("_", "-"): meaning for word, meaning in meanings.items()}
    return {code: Code(code, severity, meaning) for code, meaning in codes.items()}


CODES: Final[dict[str, Code]] = {
    **_codes(
        "breaks-rules",
        array_mismatch="the six scores are not the standard array",
        score_out_of_range="a score lies outside what the named method can give",
        points_overspent="point buy costs more points than there are",
        roll_differs="the scores or hit points are not those of the roll they name",
        increase_above_limit="an increase lifts a score above its limit",
        increase_misplaced="an ability score increase where no feature gives one",
        increase_wrong_sum="an ability score increase of the wrong size or shape",
        multiclass_minimum="a new class without the ability scores it, or a class already held, asks for",
        subclass_early="a subclass below the class level at which it is chosen",
        subclass_wrong_class="a subclass that belongs to another class",
        subclass_changed="a second subclass of a class that has one",
        hp_above_die="rolled hit points above the class's hit die",
        hp_at_first_level="rolled hit points at level 1, where the maximum counts",
        choice_too_many="more picks than any feature asks for at that level",
        choice_not_on_list="a pick that the feature does not offer",
        choice_repeated="the same thing picked twice",
        choice_requirement="an option whose prerequisite is not met",
        skill_already_proficient="a skill, tool or language picked that the build has already",
        expertise_without_proficiency="expertise in something the build has no proficiency in",
        expertise_twice="expertise picked twice for the same thing",
        feat_misplaced="a feat where no feature gives one",
        feat_requirement="a feat whose prerequisite is not met",
        feat_repeated="a feat taken twice that may be taken once",
        spells_too_many="more spells learned than the class table gives",
        cantrips_too_many="more cantrips learned than the class table gives",
        book_too_many="more spells put into the spellbook than the class gives",
        spell_not_on_list="a spell learned that is not on the class's list",
        spell_level_too_high="a spell of a level that the class alone cannot cast yet",
        spell_wrong_kind="a cantrip learned as a spell, or a spell as a cantrip",
        spell_known_already="a spell learned that the class knows already",
        spell_without_casting="spells for a class that casts none at that level",
        copied_without_book="spells copied by a class that keeps no spellbook",
        swap_not_allowed="a swap that no feature allows at that level",
        swap_too_many="more swaps on one level-up than the feature allows",
        swap_not_held="a swap of something the build does not have",
        prepared_too_many="more spells prepared than the class allows",
        prepared_not_available="a prepared spell that is not in the book or on the list, or is too high",
        prepared_twice="a spell that stands twice on one prepared list",
        prepare_not_used="a prepared list for a class that does not prepare",
        attunement_over_limit="more magic items attuned than allowed",
        attunement_not_needed="an item marked as attuned that takes no attunement",
        gear_not_held="gear given away that the build does not carry",
    ),
    **_codes(
        "breaks-table-rules",
        table_rules="the table plays another rules release",
        table_folio="a folio the table does not use",
        table_level="a level outside the table's range",
        table_scores="a score method the table does not use",
        table_points="point buy that does not fit the table's budget",
        table_hit_points="hit points taken in a way the table does not use",
        table_multiclassing="a second class at a table without multiclassing",
        table_feats="a feat at a table without feats",
        table_barred="something the table has barred",
        table_magic_items="magic items beyond what the table allows",
        table_gold="starting gear that costs more than the table's gold",
    ),
    **_codes(
        "needs-ruling",
        missing_content="something that no loaded folio gives",
        missing_folio="a folio the build names that is not loaded",
        too_much_content="more content on one build than is worked out",
        scores_manual="scores of no named method, which cannot be checked",
        roll_not_witnessed="rolled scores or hit points that cite no witnessed roll",
        granted_by_gm="a gift of the game master",
        magic_item="a magic item, which no rule of the release hands out",
        attunement_restricted="an item that only some may attune to",
        exotic_language="a language that is learned only with the game master's leave",
        ruling="something the release leaves to the table",
    ),
    **_codes(
        "unfinished",
        no_levels="the build has no level yet",
        no_scores="the build has no ability scores yet",
        no_species="the build has no species yet",
        no_subspecies="the species is named, its subspecies is not",
        no_background="the build has no background yet",
        points_left="point buy leaves points unspent",
        subclass_missing="the subclass of that level is not chosen",
        increase_missing="an ability score increase is not spent",
        choice_open="a feature asks for more picks than were made",
        spells_too_few="fewer spells learned than the class table gives",
        cantrips_too_few="fewer cantrips learned than the class table gives",
        book_too_few="fewer spells put into the spellbook than the class gives",
    ),
    **_codes(
        "advice",
        scores_final="scores that include every increase, whose legality is not checked",
        folio_changed="a folio that changed since the build was made",
        armor_not_proficient="armor worn without proficiency",
        shield_not_proficient="a shield carried without proficiency",
        weapon_not_proficient="a weapon carried without proficiency",
        armor_strength="heavy armor without the Strength for it",
        shield_with_two_hands="a shield beside a weapon that takes both hands",
        heavy_weapon_small="a heavy weapon in small hands",
        attunement_missing="a worn magic item that gives nothing until it is attuned",
        over_capacity="more weight than can be carried",
        encumbered="weight that slows down under the variant rule of the table",
        starting_gear="gear at level 1 beyond what class and background print",
        prepared_always="an always prepared spell that takes a place on the prepared list",
        duplicate_proficiency="the same proficiency from two sources, for one of which another may be chosen",
        prepared_room="fewer spells prepared than the class allows",
    ),
}  # fmt: skip


def finding(code: str, level: int | None, subject: str, message: str, source: str) -> Finding:
    """Return a finding with its code's severity. Raises: KeyError for a code that CODES does not list."""
    return Finding(code, CODES[code].severity, level, subject, message, source)


def by_place(found: Finding) -> tuple[int, str, str, str, str]:
    """Return the sorting key of findings: the header first, then by level, code, subject and message."""
    return (found.level or 0, found.code, found.subject, found.message, found.source)
