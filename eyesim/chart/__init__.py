"""Charts of many operations, of a class and of a practice log."""

from .blame import blame_chart, causes_chart, gain_chart, trade_off
from .outcomes import cloud, histograms, tilt_rose
from .plans import plans_chart
from .practice import curve_chart, doubt_chart, miss_chart
from .refraction import refractions
from .steps import steps_chart
from .sweep import series, sweep
