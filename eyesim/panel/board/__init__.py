"""The board that every panel stands on: one front end, in the page and in Python."""

from . import layout
from .board import Board
