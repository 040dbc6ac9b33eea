"""How the command ends when nobody foresaw what happened.  Our own contract."""

from __future__ import annotations

import errno
import subprocess
import sys

import pytest

from layers.cli.bug_report import report_text
from layers.cli.main import main

PRIVATE = "Reef of Ane 46.19 -33.38.toml"


def end_of(monkeypatch, error: BaseException) -> int:
    """Run a command whose job fails with an error; give its exit code."""
    import layers.jobs.area

    def fail(*_, **__):
        raise error

    monkeypatch.setattr(layers.jobs.area, "write_template", fail)
    with pytest.raises(SystemExit) as ended:
        main(["area", "--out", PRIVATE])
    return ended.value.code


def test_an_unforeseen_error_is_two_lines_and_a_report(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    error = KeyError(PRIVATE)
    error.__cause__ = ValueError(PRIVATE)
    assert end_of(monkeypatch, error) == 1
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == 2
    assert "mistake of the program, not yours (KeyError)" in lines[0]
    (file,) = (path for path in tmp_path.iterdir() if path.name.startswith("seabed-report"))
    assert file.name in lines[1]
    assert "Please report it" in lines[1]
    report = file.read_text(encoding="utf-8")
    assert "layers/jobs/area.py, line" in report
    assert "builtins.KeyError" in report
    assert "builtins.ValueError" in report
    assert "command: seabed area --out\n" in report
    for part in (*PRIVATE.split(), "46.1", str(tmp_path)):
        assert part not in report


def test_code_of_others_is_not_shown(tmp_path):
    script = tmp_path / "ane.py"
    script.write_text("def f():\n    return 1 / 0  # reef of ane, 46.19\n")
    scope: dict = {}
    exec(compile(script.read_text(), str(script), "exec"), scope)
    try:
        scope["f"]()
    except ZeroDivisionError as error:
        text = report_text(error, ["trip", "a.gpx", "--catches=ane.csv", "--46.19", "--Ane"])
    assert "somebody else" in text
    assert "command: seabed trip --catches\n" in text
    for part in ("reef", "46.19", "Ane", "a.gpx", "ane.csv", str(tmp_path)):
        assert part not in text


def test_a_place_where_no_report_can_be_written(tmp_path, monkeypatch, capsys):
    import layers.cli.bug_report as bug_report

    monkeypatch.chdir(tmp_path)
    (tmp_path / "file").write_text("")
    monkeypatch.setattr(bug_report, "Path", lambda *_: tmp_path / "file" / "deeper")
    monkeypatch.setattr(bug_report, "report_text", lambda *_: "")
    assert end_of(monkeypatch, KeyError("x")) == 1
    assert "no file about it could be written" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (MemoryError(), "not enough memory"),
        (OSError(errno.ENOSPC, "No space left on device"), "can't write: the disk is full"),
    ],
)
def test_what_the_user_can_put_right_is_one_line_and_2(monkeypatch, capsys, error, words):
    assert end_of(monkeypatch, error) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert words in line


@pytest.mark.parametrize("name", ["typer", "click.core", "layers.jobs.tide", "pandas"])
def test_an_interrupt_while_the_program_loads_is_130_and_one_line(name):
    """SIGINT at the moment at which a library is looked for; some end on it without a word."""
    script = (
        "import sys, signal\n"
        "class Watch:\n"
        "    def find_spec(self, name, *_):\n"
        f"        if name == {name!r}:\n"
        "            signal.raise_signal(signal.SIGINT)\n"
        "sys.meta_path.insert(0, Watch())\n"
        "from layers.cli.main import main\n"
        "main(['tide', '--date', '2031-06-14', '--currents', '1 kn toward 4'])\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, timeout=300, check=False
    )
    assert (done.returncode, done.stdout) == (130, "")
    assert done.stderr == "seabed: stopped; no file was left half-written.\n"


def test_an_interrupt_while_options_are_read_has_its_line(monkeypatch, capsys):
    import layers.cli.app as app

    # as the library of options ends
    monkeypatch.setattr(app, "_tool", lambda: lambda **_: sys.exit(130))
    with pytest.raises(SystemExit) as ended:
        main(["tide"])
    assert ended.value.code == 130
    assert capsys.readouterr().err == "seabed: stopped; no file was left half-written.\n"
