"""Exact distributions, dice notation, and the questions a table asks.

Each question is a frozen value with a function that answers it; `ask` and `as_json` take any of them.
"""

from engine.odds.attack import Attack, AttackAnswer, ByArmorClass, answer_attack, by_armor_class
from engine.odds.check import Check, CheckAnswer, answer_check
from engine.odds.compare import Compare, CompareAnswer, Item, Row, answer_compare
from engine.odds.concentration import Concentration, ConcentrationAnswer, Hit, answer_concentration, hits_of
from engine.odds.contest import Contest, ContestAnswer, TieRule, answer_contest
from engine.odds.d20 import D20
from engine.odds.damage import Taken
from engine.odds.death import DeathAnswer, DeathSaves, Round, answer_death
from engine.odds.dice import DiceAnswer, DiceTotal, answer_dice
from engine.odds.distribution import Distribution
from engine.odds.fell import Creature, Falls, Fell, FellAnswer, answer_fell
from engine.odds.group import Group, GroupAnswer, answer_group
from engine.odds.notation import Expression, parse
from engine.odds.questions import Answer, Question, as_json, ask
from engine.odds.rolling import Die, Rolled, RolledTerm, roll
from engine.odds.save import Save, SaveAnswer, answer_save
from engine.odds.scores import Need, Scores, ScoresAnswer, answer_scores, needs_from, needs_of

__all__ = [
    "D20",
    "Answer",
    "Attack",
    "AttackAnswer",
    "ByArmorClass",
    "Check",
    "CheckAnswer",
    "Compare",
    "CompareAnswer",
    "Concentration",
    "ConcentrationAnswer",
    "Contest",
    "ContestAnswer",
    "Creature",
    "DeathAnswer",
    "DeathSaves",
    "DiceAnswer",
    "DiceTotal",
    "Die",
    "Distribution",
    "Expression",
    "Falls",
    "Fell",
    "FellAnswer",
    "Group",
    "GroupAnswer",
    "Hit",
    "Item",
    "Need",
    "Question",
    "Rolled",
    "RolledTerm",
    "Round",
    "Row",
    "Save",
    "SaveAnswer",
    "Scores",
    "ScoresAnswer",
    "Taken",
    "TieRule",
    "answer_attack",
    "answer_check",
    "answer_compare",
    "answer_concentration",
    "answer_contest",
    "answer_death",
    "answer_dice",
    "answer_fell",
    "answer_group",
    "answer_save",
    "answer_scores",
    "as_json",
    "ask",
    "by_armor_class",
    "hits_of",
    "needs_from",
    "needs_of",
    "parse",
    "roll",
]
