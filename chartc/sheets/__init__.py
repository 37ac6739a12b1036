"""Handouts for a class and for filming, and the report an editor sends back.

sheet = class_sheet(prove(source), SheetOptions(own="M"))
page, paper = sheet.html(), sheet.pdf()
"""

from chartc.sheets.classsheet import class_sheet
from chartc.sheets.cuecard import captions, cue_card
from chartc.sheets.document import Document
from chartc.sheets.exercise import exercise_sheet
from chartc.sheets.options import SheetOptions, SheetProblem
from chartc.sheets.report import report

__all__ = [
    "Document",
    "SheetOptions",
    "SheetProblem",
    "captions",
    "class_sheet",
    "cue_card",
    "exercise_sheet",
    "report",
]
