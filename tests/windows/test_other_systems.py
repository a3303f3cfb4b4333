"""The commands do without what only systems like Unix have.

Windows itself is not at hand. Here the parts of the standard library that it lacks are taken away
before our modules are loaded, and a job is walked through.
Source: Python, library reference, the remarks "Availability: Unix" at each of these.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

# Modules that Windows does not have.
MODULES = (
    "fcntl",
    "grp",
    "pwd",
    "posix",
    "resource",
    "syslog",
    "termios",
    "tty",
    "pty",
    "readline",
)

# Names of `os` that it does not have, among those that a program like ours may be tempted by.
OF_OS = [
    "O_CLOEXEC",
    "O_DIRECTORY",
    "O_DSYNC",
    "O_NOATIME",
    "O_NOCTTY",
    "O_NOFOLLOW",
    "O_NONBLOCK",
    "O_SYNC",
    "POSIX_FADV_DONTNEED",
    "chown",
    "chroot",
    "confstr",
    "ctermid",
    "fchdir",
    "fchmod",
    "fchown",
    "fdatasync",
    "fork",
    "forkpty",
    "fstatvfs",
    "getegid",
    "geteuid",
    "getgid",
    "getgroups",
    "getloadavg",
    "getpgid",
    "getpgrp",
    "getpriority",
    "getresuid",
    "getsid",
    "getuid",
    "killpg",
    "lchown",
    "lockf",
    "mkfifo",
    "mknod",
    "nice",
    "openpty",
    "pathconf",
    "pipe2",
    "posix_fadvise",
    "posix_fallocate",
    "pread",
    "preadv",
    "pwrite",
    "pwritev",
    "readv",
    "sched_getaffinity",
    "sched_yield",
    "setuid",
    "sync",
    "sysconf",
    "tcgetpgrp",
    "ttyname",
    "uname",
    "wait",
    "wait3",
    "wait4",
    "writev",
]
OF_SIGNAL = [
    "SIGALRM",
    "SIGHUP",
    "SIGKILL",
    "SIGPIPE",
    "SIGQUIT",
    "SIGUSR1",
    "SIGUSR2",
    "SIGCHLD",
    "alarm",
    "pause",
    "setitimer",
]

WALK = """
import importlib, os, signal, sys

# The libraries first: they have their own ways on each system.
for name in (
    "click, defusedxml.ElementTree, jinja2, laspy, lazrs, numpy, platformdirs, pluggy, psutil,"
    " pydantic, pyproj, questionary, rich.console, rich.progress, tifffile, tomlkit, yaml,"
    " asyncio, concurrent.futures, sqlite3, tempfile, zipfile, gzip, bz2, shutil, subprocess"
).replace(" ", "").split(","):
    importlib.import_module(name)
for name in {modules!r}:
    sys.modules[name] = None
for name in {of_os!r}:
    if hasattr(os, name):
        delattr(os, name)
for name in {of_signal!r}:
    if hasattr(signal, name):
        delattr(signal, name)
assert not hasattr(os, "geteuid")

from ledger.cli import main
sys.exit(main(sys.argv[1:]))
"""


def test_a_job_without_anything_that_is_of_unix_alone(tmp_path) -> None:
    """The demonstration runs to its end: every command of the job, but for the drives."""
    code = WALK.format(modules=MODULES, of_os=OF_OS, of_signal=OF_SIGNAL)
    done = subprocess.run(
        [sys.executable, "-c", code, "demo", str(tmp_path / "demo")],
        cwd=tmp_path,
        env={**os.environ, "SWATHBOOK_HOME": str(tmp_path / "home")},
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-3000:]
    assert done.stderr == ""


def test_copies_on_a_drive_without_it(tmp_path) -> None:
    """A card is copied and read back; what cannot be asked of the system is not claimed."""
    code = WALK.format(modules=MODULES, of_os=OF_OS, of_signal=OF_SIGNAL)
    home = {**os.environ, "SWATHBOOK_HOME": str(tmp_path / "home")}

    def run(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-c", code, *words],
            cwd=folder,
            env=home,
            capture_output=True,
            text=True,
            encoding="utf-8",
            check=False,
        )

    assert run(tmp_path, "start", "job").returncode == 0
    raw = tmp_path / "job" / "raw"
    raw.mkdir(exist_ok=True)
    (raw / "a.bin").write_bytes(b"points")
    drive = tmp_path / "drive"
    drive.mkdir()
    done = run(tmp_path / "job", "register", "raw", "--flight", "F1", "--copy-to", str(drive))
    assert "Traceback" not in done.stderr
    assert len(done.stderr.splitlines()) <= 1, done.stderr
    for words in (("recheck",), ("trace", "raw/a.bin"), ()):
        done = run(tmp_path / "job", *words)
        assert (done.returncode, done.stderr) in ((0, ""), (1, "")), done.stderr
