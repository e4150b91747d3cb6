"""Any question to its answer, and any answer to plain data, without asking which kind it is."""

from __future__ import annotations

from typing import Any

from engine.odds import attack, check, concentration, contest, death, dice, fell, group, save, scores
from engine.odds.attack import Attack, AttackAnswer
from engine.odds.check import Check, CheckAnswer
from engine.odds.concentration import Concentration, ConcentrationAnswer
from engine.odds.contest import Contest, ContestAnswer
from engine.odds.death import DeathAnswer, DeathSaves
from engine.odds.dice import DiceAnswer, DiceTotal
from engine.odds.fell import Fell, FellAnswer
from engine.odds.group import Group, GroupAnswer
from engine.odds.save import Save, SaveAnswer
from engine.odds.scores import Scores, ScoresAnswer
from engine.problem import Refused

Question = Check | Save | Attack | Contest | Group | Fell | Concentration | DeathSaves | Scores | DiceTotal
Answer = (
    CheckAnswer
    | SaveAnswer
    | AttackAnswer
    | ContestAnswer
    | GroupAnswer
    | FellAnswer
    | ConcentrationAnswer
    | DeathAnswer
    | ScoresAnswer
    | DiceAnswer
)


def ask(question: Question) -> Answer | Refused:
    """Return the answer to a question of any kind, or why it cannot be answered."""
    match question:
        case Check():
            return check.answer_check(question)
        case Save():
            return save.answer_save(question)
        case Attack():
            return attack.answer_attack(question)
        case Contest():
            return contest.answer_contest(question)
        case Group():
            return group.answer_group(question)
        case Fell():
            return fell.answer_fell(question)
        case Concentration():
            return concentration.answer_concentration(question)
        case DeathSaves():
            return death.answer_death(question)
        case Scores():
            return scores.answer_scores(question)
        case DiceTotal():
            return dice.answer_dice(question)


def as_json(answer: Answer) -> dict[str, Any]:
    """Return the answer as plain data: the keys of the outside contract, and more."""
    match answer:
        case CheckAnswer():
            return check.as_json(answer)
        case SaveAnswer():
            return save.as_json(answer)
        case AttackAnswer():
            return attack.as_json(answer)
        case ContestAnswer():
            return contest.as_json(answer)
        case GroupAnswer():
            return group.as_json(answer)
        case FellAnswer():
            return fell.as_json(answer)
        case ConcentrationAnswer():
            return concentration.as_json(answer)
        case DeathAnswer():
            return death.as_json(answer)
        case ScoresAnswer():
            return scores.as_json(answer)
        case DiceAnswer():
            return dice.as_json(answer)
