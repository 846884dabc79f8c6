"""Lumber and sheets: sizes, prices, what is on hand, drops on the rack, and the shop's rules."""

from cutopt.materials.offer import Kind, Offer, Per
from cutopt.materials.rules import CeilingRules, FirstCut, LumberRules, Rules, SheetRules

__all__ = [
    "CeilingRules",
    "FirstCut",
    "Kind",
    "LumberRules",
    "Offer",
    "Per",
    "Rules",
    "SheetRules",
]
