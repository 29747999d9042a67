# SPDX-License-Identifier: MIT
"""Lists as the command line has them."""


def name_in_list(name: str) -> str:
    """A name as lists of the command line have it: in quotes where a comma or a quote is part of it."""
    return '"' + name.replace('"', '""') + '"' if "," in name or name.startswith('"') else name
