# SPDX-License-Identifier: MIT
"""arris: how the edge of a hand tool is honed, stropped and worn, and what a tester reads on it.

    import arris
    campaign = arris.load("my.toml")            a configuration and its readings; or arris.loads(text), arris.Configuration(...)
    result = arris.simulate(campaign)           print(result); result["edge/first/track"]; result.to_pandas("edges")
    fit = arris.fit(campaign, draws=2000)       parameters from readings
    arris.forecast(campaign, fit=fit)           also compare, upkeep, plan, weigh, gauge, sweep,
                                                sensitivity
    arris.simulate_many(campaign, names, x)     many sets of parameters into one array
    campaign.log_density(x)                     the posterior, for any sampler; campaign.density() says more
    campaign.with_wear_law(function, {...})     a wear law of your own
    fit.save("fit.h5"); fit.report("fit.html")  what the command line writes; fit.figure() shows a picture
    arris.open_result("fit.h5")                 a file that either of them wrote, as the same kind of result

Functions do what the commands of the same name do, with the same numbers to the last bit. Quantities carry their unit in their
name. A prediction is an estimate, not a promise; ``result.rests_on`` says on what it rests. Errors are :class:`arris.Error`.
"""

from arris import _arrays as _arrays  # first, as it may refuse
from arris._core import __version__
from arris._table import Stated, Step, Table
from arris.campaign import Campaign, load, loads
from arris.configuration import Configuration, Edge, follow
from arris.density import LogDensity
from arris.errors import ConfigurationError, DataError, Diagnostic, Error, IntegrationError, NotConvergedError
from arris.files import seal
from arris.progress import show_progress
from arris.readings_files import read_readings
from arris.result import Figure, FitResult, Result, SimulationResult, SweepResult, open_result
from arris.sensitivity import design, sobol_indices
from arris.studies import (
    check_gradient,
    compare,
    fit,
    fitted,
    forecast,
    gauge,
    invent_readings,
    materials,
    plan,
    readings,
    simulate,
    upkeep,
    weigh,
)
from arris.sweeps import lazy_sweep, merge, sensitivity, simulate_many, sweep
from arris.tables import (
    Backing,
    Coefficients,
    Compound,
    Computer,
    Counterface,
    Family,
    Filament,
    Fit,
    Limit,
    Medium,
    Numerics,
    Output,
    Price,
    Scatter,
    Specimen,
    Steel,
    Tester,
    Tool,
    Wood,
    Workshop,
    back,
    cut,
    dress,
    hone,
    read,
    strop,
    wears,
)
from arris.tester_log import log_check
from arris.wear import Parameter, wear_inputs

__all__ = [
    "__version__",
    "Stated",
    "Step",
    "Table",
    "Campaign",
    "load",
    "loads",
    "Configuration",
    "Edge",
    "follow",
    "LogDensity",
    "ConfigurationError",
    "DataError",
    "Diagnostic",
    "Error",
    "IntegrationError",
    "NotConvergedError",
    "read_readings",
    "Figure",
    "FitResult",
    "Result",
    "SimulationResult",
    "SweepResult",
    "open_result",
    "seal",
    "design",
    "sensitivity",
    "sobol_indices",
    "check_gradient",
    "compare",
    "fit",
    "fitted",
    "forecast",
    "gauge",
    "invent_readings",
    "lazy_sweep",
    "log_check",
    "materials",
    "merge",
    "plan",
    "show_progress",
    "simulate",
    "simulate_many",
    "sweep",
    "readings",
    "upkeep",
    "weigh",
    "Backing",
    "Coefficients",
    "Compound",
    "Computer",
    "Counterface",
    "Family",
    "Filament",
    "Fit",
    "Limit",
    "Medium",
    "Numerics",
    "Output",
    "Price",
    "Scatter",
    "Specimen",
    "Steel",
    "Tester",
    "Tool",
    "Wood",
    "Workshop",
    "back",
    "cut",
    "dress",
    "hone",
    "read",
    "strop",
    "wears",
    "Parameter",
    "wear_inputs",
]
