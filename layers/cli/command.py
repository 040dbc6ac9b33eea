"""A command on the line: its help, and options that come together as one value."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass
from functools import wraps
from typing import Any, get_type_hints

from typer.core import TyperCommand

__all__ = ["Command", "spread"]


class Command(TyperCommand):
    """Sets its options out in sections, and what it works on as ``FILE...`` or ``[GRID...]``."""

    def collect_usage_pieces(self, ctx: Any) -> list[str]:
        """Give the words of the line of usage."""
        named = [param for param in self.get_params(ctx) if param.param_type_name == "argument"]
        words = [f"{param.metavar}..." for param in named]
        return [
            "[OPTIONS]",
            *(word if param.required else f"[{word}]"
              for word, param in zip(words, named, strict=True)),
        ]  # fmt: skip

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """Write what the command works on, then its options by section."""
        param: Any
        sections: dict[str, list[tuple[str, str]]] = {"Arguments": [], "Options": []}
        for param in self.get_params(ctx):
            if param.param_type_name == "argument":
                row = f"{param.metavar}...", param.help or ""
                sections["Arguments"].append(row)
            elif record := param.get_help_record(ctx):
                panel = getattr(param, "rich_help_panel", None)
                sections.setdefault(panel or "Options", []).append(record)
        alone = not any(param.name == "area" for param in self.get_params(ctx))
        for name, rows in sections.items():
            if rows:
                with formatter.section(name):
                    formatter.write_dl([_without_area(row) for row in rows] if alone else rows)


def _without_area(row: tuple[str, str]) -> tuple[str, str]:
    """Tell the default alone, for a command that takes no area file."""
    return row[0], row[1].replace("  [area file]", "").replace("[area file, else ", "[default: ")


def spread(command: Callable[..., None]) -> Callable[..., None]:
    """Spread each parameter that is a dataclass of options into those options.

    The command is given the dataclass, the command line shows its fields.

    Parameters
    ----------
    command : callable
        Its parameters are options, or frozen dataclasses whose fields are.
    """
    signature = inspect.signature(command, eval_str=True)
    groups: dict[str, Any] = {
        name: parameter.annotation
        for name, parameter in signature.parameters.items()
        if is_dataclass(parameter.annotation)
    }

    @wraps(command)
    def spreading(**options: Any) -> None:
        gathered = {
            name: group(**{field.name: options.pop(field.name) for field in fields(group)})
            for name, group in groups.items()
        }
        command(**options, **gathered)

    shown = [
        one
        for parameter in signature.parameters.values()
        for one in (
            _options_of(parameter.annotation)
            if parameter.name in groups
            else iter([parameter.replace(kind=inspect.Parameter.KEYWORD_ONLY)])
        )
    ]
    spreading.__signature__ = signature.replace(parameters=shown)  # type: ignore[attr-defined]
    spreading.__annotations__ = {one.name: one.annotation for one in shown} | {"return": None}
    return spreading


def _options_of(group: Any) -> Iterator[inspect.Parameter]:
    hints = get_type_hints(group, include_extras=True)
    for field in fields(group):
        yield inspect.Parameter(
            field.name, inspect.Parameter.KEYWORD_ONLY, default=field.default,
            annotation=hints[field.name],
        )  # fmt: skip
