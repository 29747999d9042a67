# SPDX-License-Identifier: MIT
"""Whether bands of 90 % hold 90 % where no law of the program is the true one: a group of validation/run.py.

    /usr/bin/python3 -m validation.coverage --campaigns 2           about a minute
    /usr/bin/python3 -m validation.coverage --campaigns 40          what ./dev validate runs
"""

from validation.checks import Section
from validation.coverage import bands, ways
from validation.outside import Place


def sections(place: Place) -> list[Section]:
    return [*bands.sections(place), *ways.sections(place)]


__all__ = ["sections"]
