"""Whatever a file holds, no command that reads it opens a connection.

Where there is strace every connection that a command, or a process it begins, asks the system for
is seen; everywhere, whether a server on this machine is asked.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from coarse_demo import coarse_demo

DEMO = coarse_demo(4)
SCRIPT = Path(__file__).with_name("every_reader.py")
SERVER = """
import socket
listening = socket.create_server(("127.0.0.1", 0))
print(listening.getsockname()[1], flush=True)
while True:
    client, _ = listening.accept()
    print("asked", flush=True)
    client.close()
"""
NETWORK = re.compile(r"sa_family=AF_INET6?\b")


def watched(command: list[str], trace: Path) -> list[str]:
    """Put strace before a command, where it is there and may watch."""
    tool = shutil.which("strace")
    if tool is None:
        return command
    words = [tool, "-f", "--seccomp-bpf", "-qq", "-e", "trace=connect,sendto", "-o", str(trace)]
    tried = subprocess.run([*words, "true"], capture_output=True, check=False, timeout=300)
    return command if tried.returncode else [*words, *command]


@pytest.fixture(scope="module")
def runs(tmp_path_factory):
    """The messages of a command, the connections that were asked for, and what the server saw."""
    folder = tmp_path_factory.mktemp("calls")
    demo = folder / "demo"
    shutil.copytree(DEMO, demo, ignore=shutil.ignore_patterns("making", "__pycache__"))
    server = subprocess.Popen([sys.executable, "-c", SERVER], stdout=subprocess.PIPE, text=True)
    address = f"127.0.0.1:{server.stdout.readline().strip()}"
    trace = folder / "trace"
    done = subprocess.run(
        watched([sys.executable, str(SCRIPT), str(folder), str(demo), address], trace),
        capture_output=True, text=True, check=False, timeout=600, cwd=folder,
        env={**os.environ, "NO_PROXY": "*", "no_proxy": "*", "AWS_NO_SIGN_REQUEST": "YES"},
    )  # fmt: skip
    server.kill()
    assert done.returncode == 0, done.stderr
    said = [json.loads(line) for line in done.stdout.splitlines()]
    return said, trace.read_text() if trace.exists() else None, server.stdout.read()


def test_every_run_ends_in_a_message(runs):
    said, _, _ = runs
    assert len(said) > 150
    assert {words[0] for _, words, _ in said} >= {
        "check", "scout", "plan", "trip", "tide", "season", "soundings", "marks", "picture",
    }  # fmt: skip
    assert [row for row in said if row[0] not in (0, 2)] == []


def test_the_server_is_not_asked(runs):
    assert runs[2] == ""


def test_no_connection_is_asked_for(runs):
    trace = runs[1]
    if trace is None:
        pytest.skip("NOT TESTED: no strace here, or it may not watch")
    assert [line for line in trace.splitlines() if NETWORK.search(line)] == []
