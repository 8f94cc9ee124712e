"""Chance, blame and working back: what hands make of a plan, over and over."""

from .blame import blame, halve
from .causes import errors_in_common
from .compare import compare_with_cohort, mean_gained, share_gained
from .error_model import Error
from .estimates import Estimate
from .examination import Examination
from .hands import Hands
from .likely import likely_causes
from .operate import operate
from .outcomes import Outcomes
from .population import Population
from .published import compare_published
from .robust import robust_plan
from .steps import lessen
from .working_back import work_back
