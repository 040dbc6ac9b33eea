"""Puts what ``seabed NAME --help`` prints into the page of commands: ``{command-help} NAME``."""

from __future__ import annotations

import contextlib
import io

from docutils import nodes
from sphinx.application import Sphinx
from sphinx.util.docutils import SphinxDirective

from layers.cli.main import main


class CommandHelp(SphinxDirective):
    """The help of a command, as it prints it."""

    required_arguments = 1

    def run(self) -> list[nodes.Node]:
        """Give a block of the printed help."""
        printed = io.StringIO()
        with contextlib.redirect_stdout(printed), contextlib.suppress(SystemExit):
            main([self.arguments[0], "--help"])
        text = printed.getvalue().strip()
        return [nodes.literal_block(text, text, language="text")]


def setup(app: Sphinx) -> dict[str, bool]:
    """Name the directive."""
    app.add_directive("command-help", CommandHelp)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
