"""Lumber and sheets: sizes, prices, what is on hand, drops on the rack, and the shop's rules."""

from cutopt.materials.edges import Edge, Edges
from cutopt.materials.offer import Kind, Offer, Per
from cutopt.materials.reading import STOCK_COLUMNS, Stock, read_stock
from cutopt.materials.reading_rules import RULE_TABLES, Config, read_rules
from cutopt.materials.rules import CeilingRules, FirstCut, LumberRules, Rules, SheetRules

__all__ = [
    "RULE_TABLES",
    "STOCK_COLUMNS",
    "CeilingRules",
    "Config",
    "Edge",
    "Edges",
    "FirstCut",
    "Kind",
    "LumberRules",
    "Offer",
    "Per",
    "Rules",
    "SheetRules",
    "Stock",
    "read_rules",
    "read_stock",
]
