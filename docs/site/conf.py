# SPDX-License-Identifier: MIT
"""The site of ``./dev docs``, which copies this folder: the Python package, the theory at the head of each law, results and recipes."""

import os
import pathlib
import sys

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

import pages  # noqa: E402

import arris  # noqa: E402

project = "arris"
copyright = "the arris authors"
version = release = arris.__version__
extensions = ["sphinx.ext.autodoc", "sphinx.ext.napoleon"]
napoleon_google_docstring = False
napoleon_use_rtype = False
autodoc_member_order = "bysource"
autodoc_typehints = "none"
html_theme = "alabaster"
html_theme_options = {"description": "How the edge of a hand tool is honed, stropped and worn", "fixed_sidebar": True, "page_width": "1100px"}
html_show_sourcelink = False
html_static_path = ["_static"]
html_css_files = ["equations.css"]
exclude_patterns = ["_build"]

pages.write(pathlib.Path(os.environ["ARRIS_SOURCE_DIR"]), HERE)
