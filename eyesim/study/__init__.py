"""Chance, blame and working back: what hands make of a plan, over and over."""

from .blame import blame, halve
from .causes import in_common
from .cohort import beside
from .compare import mean_gained, share_gained
from .error import Error
from .estimates import Estimate
from .examination import Found
from .hands import Hands
from .likely import likely_causes
from .operate import operate
from .outcomes import Outcomes
from .population import Population
from .published import beside_published
from .robust import robust_plan
from .steps import lessen
from .working_back import work_back

__all__ = [
    "Error", "Estimate", "Found", "Hands", "Outcomes", "Population", "beside", "beside_published", "blame",
    "halve", "in_common", "lessen", "likely_causes", "mean_gained", "operate", "robust_plan", "share_gained",
    "work_back",
]  # fmt: skip
