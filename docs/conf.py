"""The guide as a site: ``python -m sphinx -W docs DIRECTORY``. Nothing is fetched; only links name outside hosts."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))
import make_pictures

import reconcile

project = "reconcile"
author = "the reconcile authors"
copyright = "the reconcile authors, MIT license"
release = version = reconcile.__version__

extensions = ["myst_parser", "sphinx.ext.autodoc", "numpydoc"]
myst_heading_anchors = 3
numpydoc_show_class_members = False
autodoc_typehints = "none"  # numpydoc's sections name the types
autodoc_member_order = "bysource"
autodoc_class_signature = "separated"
exclude_patterns = ["_build"]
nitpicky = False
suppress_warnings: list[str] = []

html_theme = "pydata_sphinx_theme"
html_title = "reconcile"
html_theme_options = {
    "show_prev_next": True,
    "navbar_align": "left",
    "header_links_before_dropdown": 6,
    "navbar_end": ["theme-switcher"],
    "footer_start": ["copyright"],
    "footer_end": [],
    "secondary_sidebar_items": ["page-toc"],
    "navigation_with_keys": False,
}
html_sidebars: dict[str, list[str]] = {"**": []}  # one level of pages: the header holds them
html_copy_source = False
html_show_sourcelink = False


def pictures_anew(app: Any, error: Exception | None) -> None:
    """Draw the figures of the guide by the program as it is, over the copies that stand beside the text."""
    images = Path(app.outdir, "_images")
    if error is None and images.is_dir():
        make_pictures.draw_figures(images)


def without_the_tree(app: Any, page: str, source: list[str]) -> None:
    """Leave the words of a link that leads out of the guide into the source tree, which is not part of the site."""
    source[0] = re.sub(r"\[([^\]]+)\]\(\.\./[^)]*\)", r"\1", source[0])


def setup(app: Any) -> None:
    """Have links fitted and the pictures drawn at every build."""
    app.connect("source-read", without_the_tree)
    app.connect("build-finished", pictures_anew)
