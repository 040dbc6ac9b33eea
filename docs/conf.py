"""How the pages are built: ``make docs``."""

import sys
from pathlib import Path

import seabed

sys.path.insert(0, str(Path(__file__).parent))  # command_help, import_graph

project = "seabed-layers"
author = "The seabed-layers developers"
version = release = seabed.__version__

extensions = [
    "myst_parser",
    "numpydoc",
    "sphinx.ext.autodoc",
    "sphinx_gallery.gen_gallery",
    "command_help",
    "import_graph",
]
source_suffix = {".md": "markdown", ".rst": "restructuredtext"}
myst_heading_anchors = 3
html_theme = "furo"
html_title = "seabed-layers"
html_show_sourcelink = False
html_copy_source = False
templates_path: list[str] = []
exclude_patterns = ["_build", "gallery"]

autodoc_default_options = {"members": True, "imported-members": True}
autodoc_typehints = "none"  # the docstrings say types with their units
numpydoc_show_class_members = False
numpydoc_class_members_toctree = False

sphinx_gallery_conf = {
    "examples_dirs": "gallery",
    "gallery_dirs": "_gallery",
    "abort_on_example_error": True,
    "download_all_examples": False,
    "min_reported_time": 1e9,
    "show_memory": False,
    "show_signature": False,
    "write_computation_times": False,
}
