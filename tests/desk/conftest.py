"""A desk in a process of its own, and a browser's page on it that may not complain."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urljoin

import pytest
from coarse_demo import coarse_demo

from layers.desk.serving import stop_desk


@pytest.fixture(scope="session")
def demo() -> Path:
    """The demo's files, on a coarse grid."""
    return coarse_demo(4)


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("desk") / "waters"


@pytest.fixture(scope="module")
def address(root: Path) -> Iterator[str]:
    """The address that `seabed desk` prints for an empty folder."""
    command = [sys.executable, "-m", "layers.cli.main", "desk", str(root), "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        line = process.stdout.readline()
        yield re.search(r"http://\S+", line)[0]
        assert stop_desk(root)
        assert process.wait(600) == 0


@pytest.fixture(scope="module")
def open_desk(browser: Any, address: str) -> Iterator[Callable[..., Any]]:
    """``open_desk(width, height, path)``: a page on the desk; console messages and faults fail it.

    Without a path the front page is opened, for which each water's worker reads its grid and tide.
    """
    from playwright.sync_api import expect

    expect.set_options(timeout=600_000)  # a busy machine is no fault
    faults: list[str] = []
    contexts = []

    def opened(width: int = 1152, height: int = 720, path: str = "") -> Any:
        phone = width < 800
        context = browser.new_context(
            viewport={"width": width, "height": height}, has_touch=phone, is_mobile=phone,
            accept_downloads=True,
        )  # fmt: skip
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(600_000)
        page.on("console", lambda m: faults.append(f"console {m.type}: {m.text} {m.location}"))
        page.on("pageerror", lambda error: faults.append(f"error: {error}"))
        page.on("request", lambda asked: _stays_here(asked.url, faults))
        if path:
            context.request.get(address)  # its answer sets the cookie
        page.goto(urljoin(address, path))
        return page

    yield opened
    for context in contexts:
        context.close()
    assert not faults


def _stays_here(url: str, faults: list[str]) -> None:
    if not url.startswith(("http://127.0.0.1:", "data:", "blob:", "about:")):
        faults.append(f"asked for {url}")
