"""Runs in processes of their own, forked from one that has everything loaded: each ends as an interpreter does, with
its own streams, signals and exit code, but need not import for a second first."""

from __future__ import annotations

import json
import os
import select
import socket
import subprocess
import sys
from collections.abc import Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from typing import IO

COMMAND = "from cutplan.cli.start import main; main()"
SERVER = """
import json, os, signal, socket, sys
import cutplan.api, cutplan.cli.main, cutplan.output.as_csv, cutplan.output.as_json, cutplan.output.rack_file
import cutplan.output.terminal, cutplan.output.workbook, cutplan.plan, ortools.linear_solver.pywraplp

def opened(number, mode):
    try:
        os.fstat(number)
    except OSError:
        return None  # as where an interpreter starts with a stream closed
    errors = "backslashreplace" if number == 2 else "strict"
    return open(number, mode, encoding="utf-8", errors=errors, buffering=1 if number == 2 else -1, closefd=False)

with socket.socket(fileno=int(sys.argv[1])) as asking:
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    while True:
        data, handles, *_ = socket.recv_fds(asking, 1 << 16, 4)
        if not data:
            sys.exit()  # the tests are over
        asked = json.loads(data)
        if os.fork():
            for handle in handles:
                os.close(handle)
            continue
        signal.signal(signal.SIGCHLD, signal.SIG_DFL)
        *streams, report = handles
        pid = os.fork()
        if not pid:
            break
        for number in (0, 1, 2, *streams):
            os.close(number)
        os.write(report, b"%d\\n" % pid)
        os.write(report, b"%d\\n" % os.waitpid(pid, 0)[1])
        os._exit(0)
for number, handle in enumerate(streams):
    os.dup2(handle, number)
for handle in handles:
    os.close(handle)
for number in asked["closed"]:
    os.close(number)
for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
    signal.signal(number, signal.SIG_DFL)
signal.signal(signal.SIGINT, signal.default_int_handler)
os.environ.clear()
os.environ.update(asked["env"])
os.chdir(asked["folder"])
sys.stdin, sys.stdout, sys.stderr = sys.__stdin__, sys.__stdout__, sys.__stderr__ = (
    opened(0, "r"), opened(1, "w"), opened(2, "w")
)
sys.argv = ["-c", *asked["arguments"]]
exec(compile(asked["code"], "<run>", "exec"), {"__name__": "__main__"})
"""


class Run:
    """A process: what can be read of it, signals to it, and its exit code when it has ended."""

    def __init__(self, pid: int, report: IO[bytes], stdout: IO[str] | None, stderr: IO[str] | None) -> None:
        self.pid, self._report = pid, report
        self.stdout, self.stderr = stdout, stderr
        self.returncode: int | None = None

    def send_signal(self, number: int) -> None:
        """Send it a signal, if it has not ended."""
        if self.returncode is None and not select.select([self._report], [], [], 0)[0]:
            os.kill(self.pid, number)

    def wait(self, timeout: float) -> int:
        """Its exit code, negative for the signal that ended it; it must end in time."""
        if self.returncode is None:
            assert select.select([self._report], [], [], timeout)[0], "it has not ended"
            self.returncode = os.waitstatus_to_exitcode(int(self._report.readline()))
        return self.returncode

    def communicate(self, timeout: float) -> tuple[str, str]:
        """All that it says from now on, to its end."""
        pipes = [pipe for pipe in (self.stdout, self.stderr) if pipe is not None]
        with ThreadPoolExecutor(2) as pool:
            said = dict(zip(pipes, pool.map(lambda pipe: pipe.read(), pipes, timeout=timeout), strict=True))
        self.wait(timeout)
        out, err = (said.get(pipe, "") if pipe is not None else "" for pipe in (self.stdout, self.stderr))
        return out, err

    def close(self) -> None:
        """Let go of its streams."""
        for pipe in (self._report, self.stdout, self.stderr):
            if pipe is not None:
                pipe.close()


class Processes:
    """What starts the runs."""

    def __init__(self, asking: socket.socket) -> None:
        self._asking = asking

    @contextmanager
    def __call__(
        self,
        *arguments: object,
        code: str = COMMAND,
        env: Mapping[str, str] = os.environ,
        stdout: int | None = None,
        closed: tuple[int, ...] = (),
    ) -> Iterator[Run]:
        """Run ``code`` with these arguments; standard output goes to this handle, else it can be read, as standard
        error can; the streams ``closed`` are none."""
        with open(os.devnull) as nothing:
            out, err, report = (os.pipe() for _ in range(3))
            handles = [nothing.fileno(), out[1] if stdout is None else stdout, err[1], report[1]]
            asked = {
                "arguments": list(map(str, arguments)),
                "code": code,
                "env": dict(env),
                "folder": os.getcwd(),
                "closed": closed,
            }
            socket.send_fds(self._asking, [json.dumps(asked).encode()], handles)
            for _, far in (out, err, report):
                os.close(far)
        reported = os.fdopen(report[0], "rb", buffering=0)
        run = Run(int(reported.readline()), reported, os.fdopen(out[0]), os.fdopen(err[0]))
        try:
            yield run
            run.wait(60)
        finally:
            run.close()


@contextmanager
def processes() -> Iterator[Processes]:
    """Start the process that has everything loaded."""
    near, far = socket.socketpair()
    with near, far:
        command = [sys.executable, "-c", SERVER, str(far.fileno())]
        server = subprocess.Popen(command, pass_fds=[far.fileno()], stdin=subprocess.DEVNULL)
        far.close()
        yield Processes(near)
        near.close()
        server.wait(60)
