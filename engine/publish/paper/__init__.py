"""Paper: a build's sheet at a level and the plan of all its levels, as PDF and as pictures of their pages."""

from engine.publish.paper.make import PAPERS, Paper, Printed, Template, compiled, plan_pdf, sheet_pdf, sheet_picture
from engine.publish.paper.plan import plan_data
from engine.publish.paper.sheet import sheet_data

__all__ = [
    "PAPERS",
    "Paper",
    "Printed",
    "Template",
    "compiled",
    "plan_data",
    "plan_pdf",
    "sheet_data",
    "sheet_pdf",
    "sheet_picture",
]
