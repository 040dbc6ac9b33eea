"""Options of a command, derived from the fields of a request."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from contextlib import suppress
from dataclasses import MISSING, fields
from types import GenericAlias
from typing import Annotated, Any, Final, get_args, get_origin, get_type_hints

import typer
from typer.core import TyperCommand

from layers.area.keys import Choice
from layers.area.loading import key_named, sections
from layers.jobs.options import Option, Request, options_of
from seabed.errors import with_settings


class Names:
    """What a command calls the settings that errors and notes are about."""

    def __init__(self, requests: dict[str, type[Request]], command: str) -> None:
        self._requests, self._command = requests, command

    def __call__(self, key: str) -> str:
        """Give the command's own option; else the key of the area file; else another's option.

        A key with its section gives both.
        """
        request, in_file = self._requests[self._command], _in_area_file(key)
        own = WHOLE.get(key, key) if " " in key else _option_of(request, key)
        if own and ("." not in key or "area" not in options_of(request)):
            return own
        if in_file:
            return f"{own}, or {in_file}" if own else in_file
        options = {name: _option_of(request, key) for name, request in self._requests.items()}
        others = [(name, flag) for name, flag in options.items() if flag]
        if len(others) == 1:
            return " ".join(("seabed", *others[0]))
        if others:
            return others[0][1]
        return f"[{key}] of the area file" if key in sections() else key


def _in_area_file(key: str) -> str:
    """Name a key as the area file has it; ``""`` if it has no such key."""
    section, _, name = key.rpartition(".")
    for one in (section,) if section else ("area", *sections()):
        with suppress(LookupError):
            key_named(one, name)
            return f"[{one}] {name} of the area file"
    return ""


def _option_of(request: type[Request], key: str) -> str:
    for name, option in options_of(request).items():
        if key in (name, option.name, option.overrules, option.overrules.rpartition(".")[2]):
            return _flag(name, option)
    return ""


WHOLE: Final = {"seabed learn": "seabed tide --area area.toml --learn trip_1.gpx --out current"}
"""Commands for what a page has a button for."""


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
        parts: dict[str, list[tuple[str, str]]] = {"Arguments": [], "Options": []}
        for param in self.get_params(ctx):
            if param.param_type_name == "argument":
                parts["Arguments"].append((f"{param.metavar}...", param.help or ""))
            elif record := param.get_help_record(ctx):
                panel = getattr(param, "rich_help_panel", None)
                parts.setdefault(panel or "Options", []).append(record)
        for name, rows in parts.items():
            if rows:
                with formatter.section(name):
                    formatter.write_dl(rows)


def callback_of(
    request: type[Request], names: Names, run: Callable[[Any, bool], None]
) -> Callable[..., None]:
    """Give a function of a request's fields and ``as_json``, which hands the request to `run`."""
    many = [one.name for one in fields(request) if "tuple" in str(one.type)]

    def callback(*, as_json: bool, **words: Any) -> None:
        words |= {name: tuple(words[name] or ()) for name in many}
        run(request(**words), as_json)

    parameters = _parameters(request, names)
    callback.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    callback.__annotations__ = {one.name: one.annotation for one in parameters}
    return callback


def _parameters(request: type[Request], names: Names) -> list[inspect.Parameter]:
    hints, options = get_type_hints(request), options_of(request)
    parameters = []
    for one in fields(request):
        default = inspect.Parameter.empty if one.default is MISSING else one.default
        default = None if default == () else default
        shown = _shown(one.name, options[one.name], "area" in options, names)
        parameters.append(_parameter(one.name, _typed(hints[one.name], default), default, shown))
    json = typer.Option("--json", help="Print JSON for machines.")
    return [*parameters, _parameter("as_json", bool, False, json)]


def _parameter(name: str, kind: Any, default: Any, shown: Any) -> inspect.Parameter:
    annotation: Any = Annotated[kind, shown]
    keyword = inspect.Parameter.KEYWORD_ONLY
    return inspect.Parameter(name, keyword, default=default, annotation=annotation)


def _typed(hint: Any, default: Any) -> Any:
    """Give the type as the command line reads it: several words are a list."""
    kind = GenericAlias(list, get_args(hint)[0]) if get_origin(hint) is tuple else hint
    return kind | None if default is None else kind


def _shown(name: str, option: Option, has_area: bool, names: Names) -> Any:
    text = with_settings(option.help, names) + _otherwise(option, has_area)
    if option.argument:
        return typer.Argument(metavar=option.metavar, help=text)
    words = option.words or _choices(option)
    return typer.Option(
        _flag(name, option),
        metavar=option.metavar or "|".join(words) or None,
        help=text,
        min=option.least,
        max=option.most,
        rich_help_panel=option.section or None,
        autocompletion=(lambda incomplete: [one for one in words if one.startswith(incomplete)])
        if words
        else None,
    )


def _choices(option: Option) -> tuple[str, ...]:
    """Give the words that the key of the area file allows, if it allows only some."""
    read = key_named(*option.overrules.split("."))[1].read if option.overrules else None
    return tuple(filter(None, read.words)) if isinstance(read, Choice) else ()


def _otherwise(option: Option, has_area: bool) -> str:
    """Say what holds where an option that overrules the area file is left out."""
    if not option.overrules:
        return ""
    _, spec = key_named(*option.overrules.split("."))
    default = "" if spec.default in (None, [], "") else str(spec.default)
    if has_area:
        return f"  [area file, else {default}]" if default else "  [area file]"
    return f"  [default: {default}]" if default else ""


def _flag(name: str, option: Option) -> str:
    return option.metavar if option.argument else f"--{option.name or name.replace('_', '-')}"
