"""What breaks the rules or the table's rules, what needs a ruling, what is open, what changes, which goals are met."""

from engine.audit.audit import audit
from engine.audit.difference import ChoiceChange, Difference, difference, difference_json
from engine.audit.finding import CODES, SEVERITIES, Code, Finding, Severity, finding_json
from engine.audit.folding import FoldedChange, NumberChange, folded
from engine.audit.goals import GoalResult, goal_json, goal_text, goals
from engine.audit.mending import mending, mendings
from engine.audit.open import OpenChoice, legal_picks, open_choices, points_left
from engine.audit.table import TableProblem, TableRules, read_table, read_table_rules, unknown_names

__all__ = [
    "CODES",
    "SEVERITIES",
    "ChoiceChange",
    "Code",
    "Difference",
    "Finding",
    "FoldedChange",
    "GoalResult",
    "NumberChange",
    "OpenChoice",
    "Severity",
    "TableProblem",
    "TableRules",
    "audit",
    "difference",
    "difference_json",
    "finding_json",
    "folded",
    "goal_json",
    "goal_text",
    "goals",
    "legal_picks",
    "mending",
    "mendings",
    "open_choices",
    "points_left",
    "read_table",
    "read_table_rules",
    "unknown_names",
]
