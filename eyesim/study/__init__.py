"""Chance, blame and working back: what hands make of a plan, over and over."""

from .error import Error
from .estimates import Estimate
from .hands import Hands
from .operate import operate
from .outcomes import Outcomes
from .population import Population
from .published import beside_published

__all__ = ["Error", "Estimate", "Hands", "Outcomes", "Population", "beside_published", "operate"]
