"""A resident's practice: a log that only grows, how good a hand is, and whether competence has been shown."""

from .log import add, demonstration, read_log
from .summary import curve_of, hands_of, misses, raters, summarize
