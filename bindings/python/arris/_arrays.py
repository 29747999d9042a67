# SPDX-License-Identifier: MIT
"""Refuses, before all else, a numpy whose arrays the extension module would fill or read wrongly."""

import numpy as np

from arris import _core

if int(np.__version__.split(".")[0]) >= 2 and not _core.takes_numpy_2:
    raise ImportError(
        f"arris was compiled with a pybind11 before 2.12, which gets arrays of numpy {np.__version__} wrong: "
        "install an earlier one (pip install 'numpy<2'), or build arris with pybind11 2.12 or later"
    )
