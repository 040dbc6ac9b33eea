"""Questions that files leave open, put to the person at the terminal."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import fields, replace

from layers.cli.plain_text import plain
from layers.jobs.options import Request, options_of
from seabed.errors import Question, SeabedError


def answered(request: Request, error: SeabedError, names: Callable[[str], str]) -> Request | None:
    """Ask for what an error says is open; give the request with the answer.

    None where nobody is there to answer, nothing is answered, or the request has no field for it
    or has it filled in already.
    """
    question = error.question
    if question is None or not _at_terminal():
        return None
    if getattr(request, question.setting, "") is not None:
        return None
    place = ", ".join(str(part) for part in (error.file, error.where) if part)
    _say(f"{place}: {error.what}." if place else f"{error.what}.")
    answer = _answer(question, options_of(type(request))[question.setting].help)
    if not answer:
        return None
    kind = next(one.type for one in fields(request) if one.name == question.setting)
    try:
        value = float(answer) if "float" in str(kind) else answer
    except ValueError:
        return None
    if getattr(request, "area", None) is None:
        option = f"{names(question.setting)} {value}"
        _say(f"No area file keeps this: next time say {option}, or name one with {names('area')}.")
    return replace(request, **{question.setting: value})


def _at_terminal() -> bool:
    return all(
        stream is not None and stream.isatty() for stream in (sys.stdin, sys.stdout, sys.stderr)
    )


def _answer(question: Question, about: str) -> str:
    """Read a word of the choices, or any where there are none; "" for none."""
    for word, meaning in question.choices.items():
        _say(f"  {word:<8} {meaning}")
    words = "/".join(question.choices) or about.rstrip(".")
    while True:
        _say(f"Which? [{words}; Enter to stop] ", end="")
        try:
            answer = input().strip()
        except EOFError:
            return ""
        if not answer or not question.choices or answer in question.choices:
            return answer


def _say(words: str, *, end: str = "\n") -> None:
    print(plain(words), end=end, file=sys.stderr, flush=True)
