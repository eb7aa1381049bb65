"""All rules an importer has to keep; callable without pytest."""

from plugins.contract import reading_rules, survival_rules
from plugins.contract.registry import RULES

__all__ = ["RULES", "reading_rules", "survival_rules"]
