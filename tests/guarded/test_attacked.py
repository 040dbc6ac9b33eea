"""The way to the guarded process and back, attacked: broken answers, threads, interrupts, death."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import h5py
import numpy as np
import pytest
from thoroughness import THOROUGH

from seabed.guarded import ReadingError, _asking

pytestmark = pytest.mark.skipif(os.name != "posix", reason="NOT TESTED: signals and pipes of Unix")

ARRAY = "np.arange(1000.0)"
CALL = rb"b'cposix\nsystem\n(Vtouch called\ntR.'".decode()
CHILD = """
import os, pickle, sys, time
import numpy as np
requests, answers = os.fdopen(0, "rb"), os.fdopen(1, "wb", buffering=0)
def given(number, array, share=1.0):
    parts = []
    body = pickle.dumps(array, protocol=5, buffer_callback=parts.append)
    raw = parts[0].raw()
    answers.write(pickle.dumps((number, "done", body, [raw.nbytes])))
    answers.write(raw[: int(raw.nbytes * share)])
while True:
    number, *_ = pickle.load(requests)
    {does}
"""
BROKEN = {
    "half an array": f"given(number, {ARRAY}, 0.5); sys.exit()",
    "half a head": "answers.write(pickle.dumps((number, 'done', b'x' * 99, []))[:40]); sys.exit()",
    "nothing": "sys.exit()",
    "noise": "answers.write(os.urandom(5000))",
    "text": "answers.write(b'libfoo: warning: something\\n' * 9)",
    "an answer to another question": f"given(number + 1, {ARRAY})",
    "an array of an exabyte": "answers.write(pickle.dumps((number, 'done', b'', [1 << 60])))",
    "an array of less than nothing": "answers.write(pickle.dumps((number, 'done', b'', [-8])))",
    "sizes that are none": "answers.write(pickle.dumps((number, 'done', b'', 'abc')))",
    "a tuple of another length": "answers.write(pickle.dumps((number, 'done')))",
    "a call": f"answers.write({CALL})",
    "a call in the body": f"answers.write(pickle.dumps((number, 'done', {CALL}, [])))",
}


@pytest.fixture
def numbers(tmp_path):
    paths = []
    for at in range(6):
        paths.append(tmp_path / f"{at}.h5")
        with h5py.File(paths[-1], "w") as file:
            file["values"] = np.full((300, 200), float(at))
    return paths


@pytest.fixture
def process():
    made = _asking._Process()
    yield made
    made.end()


@pytest.fixture
def endless(tmp_path):
    os.mkfifo(tmp_path / "endless")
    return str(tmp_path / "endless")


def values_of(process, path):
    return process.ask("hdf5.read", str(path), (["values"], []), 60_000)[0][0]


@pytest.fixture
def begun(monkeypatch):
    """Begin a process that does something else; the one after it is again as always."""
    made = []
    real = subprocess.Popen

    def begin(does):
        code = CHILD.format(does=does)
        with monkeypatch.context() as changes:
            changes.setattr(
                _asking.subprocess,
                "Popen",
                lambda command, **how: real([sys.executable, "-c", code], **how),
            )
            made.append(_asking._Process())
            made[-1].begin(())
        return made[-1]

    yield begin
    for one in made:
        one.end()


def test_a_broken_answer_is_one_error_and_the_next_is_whole(numbers, begun, monkeypatch, tmp_path):
    """All at once: each is given a second to end by itself."""
    monkeypatch.chdir(tmp_path)
    processes = {name: begun(does) for name, does in BROKEN.items()}

    def what(name):
        with pytest.raises(ReadingError) as error:
            values_of(processes[name], numbers[1])
        return error.value.what

    with ThreadPoolExecutor(len(BROKEN)) as threads:
        with monkeypatch.context() as changes:
            changes.setattr(_asking, "WAIT_S", 5.0)
            words = dict(zip(BROKEN, threads.map(what, BROKEN), strict=True))
        read = threads.map(lambda name: values_of(processes[name], numbers[2]), BROKEN)
        whole = {name: (values == 2).all() for name, values in zip(BROKEN, read, strict=True)}
    assert set(words.values()) <= {_asking.CRASHED, _asking.TOO_LONG}, words
    assert not (tmp_path / "called").exists()
    assert all(whole.values()), whole


def test_a_whole_answer_of_such_a_process_is_taken(numbers, begun):
    """So that the broken ones above fail for what is broken in them."""
    answer = begun(f"given(number, {ARRAY})").ask("hdf5.read", str(numbers[0]), (), 0)
    np.testing.assert_array_equal(answer, np.arange(1000.0))


def test_an_answer_that_comes_twice_is_not_taken_for_the_next(numbers, begun):
    process = begun(f"given(number, {ARRAY}); given(number, {ARRAY})")
    process.ask("hdf5.read", str(numbers[0]), (), 0)
    with pytest.raises(ReadingError):
        process.ask("hdf5.read", str(numbers[1]), (), 0)
    assert (values_of(process, numbers[1]) == 1).all()


def test_an_answer_that_stops_half_way_is_waited_for_no_longer_than_said(
    numbers, begun, monkeypatch
):
    monkeypatch.setattr(_asking, "WAIT_S", 0.0)  # a second more, for the size of the file
    process = begun(f"given(number, {ARRAY}, 0.5); time.sleep(60)")
    with pytest.raises(ReadingError, match="takes longer than"):
        values_of(process, numbers[0])


def test_a_deadline_that_passes_with_the_answer_does_not_fall_on_the_next(process, numbers):
    """A process killed as it had answered is not asked again."""
    values_of(process, numbers[0])
    late = _asking._Deadline(process._running[0], 0.0)
    with late:
        for _ in range(600):  # its thread comes late on a busy machine
            if late.over:
                break
            time.sleep(0.1)
    assert late.over
    assert process._running[0].wait(300) == -signal.SIGKILL
    assert (values_of(process, numbers[3]) == 3).all()


def test_threads_each_get_their_own(process, numbers):
    wrong = []

    def read(at):
        for _ in range(25):
            values = values_of(process, numbers[at])
            if values.shape != (300, 200) or (values != at).any():
                wrong.append(at)

    threads = [threading.Thread(target=read, args=[at]) for at in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert not wrong
    assert not any(thread.is_alive() for thread in threads)


def test_a_reader_that_hangs_in_one_thread_spoils_no_other(process, numbers, endless, monkeypatch):
    monkeypatch.setattr(_asking, "WAIT_S", 1.0)
    words, right = [], []

    def hang():
        try:
            process.ask("sheets.read", endless, (None,), 0)
        except ReadingError as error:
            words.append(error.what)

    def read(at):
        right.append((values_of(process, numbers[at]) == at).all())

    threads = [threading.Thread(target=hang)]
    threads += [threading.Thread(target=read, args=[at]) for at in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert words == [_asking.TOO_LONG]
    assert right == [True] * 6


@pytest.mark.parametrize("at", range(60 if THOROUGH else 4))
def test_interrupted_at_any_moment_the_next_read_is_right(process, numbers, at):
    """Before the process has begun, while it loads, while it reads, while it answers."""
    before = signal.signal(signal.SIGALRM, signal.default_int_handler)
    try:
        signal.setitimer(signal.ITIMER_REAL, np.random.default_rng(at).uniform(1e-4, 0.6))
        for _ in range(500):
            values_of(process, numbers[0])
    except KeyboardInterrupt:
        pass
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)
    assert (values_of(process, numbers[4]) == 4).all()


@pytest.mark.parametrize("name", ["SIGKILL", "SIGTERM", "SIGSEGV"])
def test_a_process_that_dies_while_nobody_asks_is_begun_again(process, numbers, name):
    values_of(process, numbers[0])
    running = process._running[0]
    running.send_signal(getattr(signal, name))
    os.waitid(os.P_PID, running.pid, os.WEXITED | os.WNOWAIT)
    assert (values_of(process, numbers[5]) == 5).all()


@pytest.mark.skipif(os.name != "posix", reason="process groups of POSIX")
def test_a_ctrl_c_in_the_window_does_not_reach_it(process, numbers):
    """A terminal interrupts its whole group; a python that is still loading prints where it was."""
    values_of(process, numbers[0])
    assert os.getpgid(process._running[0].pid) != os.getpgid(0)


def test_a_copy_of_the_program_asks_a_process_of_its_own(numbers):
    """Also where another thread was just asking, and held the way to it."""
    assert (values_of(_asking._process, numbers[0]) == 0).all()
    with _asking._process._lock:
        child = os.fork()
        if not child:
            right = (values_of(_asking._process, numbers[1]) == 1).all()
            _asking._process.end()
            os._exit(0 if right else 1)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0
    assert (values_of(_asking._process, numbers[2]) == 2).all()


@pytest.mark.skipif(sys.platform != "linux", reason="NOT TESTED: reads /proc")
def test_a_reader_whose_program_is_killed_ends_by_itself(endless):
    code = (
        "from seabed.guarded import _asking\n"
        "_asking.WAIT_S = 2.0\n"
        "_asking._process._begun(); print(_asking._process._running[0].pid, flush=True)\n"
        f"_asking._process.ask('sheets.read', {endless!r}, (None,), 0)"
    )
    program = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True)
    reader = int(program.stdout.readline())
    time.sleep(0.5)
    assert Path(f"/proc/{reader}").exists()
    program.kill()
    program.wait()
    program.stdout.close()
    for _ in range(600):
        if (
            not Path(f"/proc/{reader}").exists()
            or " Z " in Path(f"/proc/{reader}/stat").read_text()
        ):
            break
        time.sleep(0.1)
    else:
        pytest.fail("it is still there")
