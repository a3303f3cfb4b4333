"""The short id of this computer."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys

import pytest

from ledger.canonical import decode
from ledger.model.entry import Draft
from ledger.store import machine
from ledger.store.writing import create_book


def test_the_id_is_made_once_and_is_no_name(tmp_path, monkeypatch):
    """The id stays the same, is random hex, and has nothing of the computer's name in it."""
    home = tmp_path / "home" / "inner"
    monkeypatch.setenv(machine.HOME_VARIABLE, str(home))
    first = machine.read_machine_id()
    assert re.fullmatch("[0-9a-f]{8}", first)
    assert machine.read_machine_id() == first
    assert [path.name for path in home.iterdir()] == ["machine"]
    monkeypatch.setenv(machine.HOME_VARIABLE, str(tmp_path / "other"))
    assert machine.read_machine_id() != first
    assert socket.gethostname() not in first


def test_without_the_variable_the_users_own_folder_is_taken(monkeypatch):
    """Where nothing else is said, the folder is that of the user."""
    monkeypatch.delenv(machine.HOME_VARIABLE)
    assert machine.find_home().name == "swathbook"


@pytest.mark.parametrize("content", [b"", b"office-laptop\n", b"\xff\xfe"])
def test_a_file_that_holds_no_id_is_replaced(tmp_path, monkeypatch, content):
    """A damaged file, or one with a name in it, gives way to a fresh id."""
    monkeypatch.setenv(machine.HOME_VARIABLE, str(tmp_path))
    (tmp_path / "machine").write_bytes(content)
    fresh = machine.read_machine_id()
    assert re.fullmatch("[0-9a-f]{8}", fresh)
    assert machine.read_machine_id() == fresh


def test_where_nothing_can_be_kept_entries_are_made_all_the_same(tmp_path, monkeypatch):
    """A home that cannot be made gives the id `unknown` and a stored entry."""
    (tmp_path / "file").touch()
    monkeypatch.setenv(machine.HOME_VARIABLE, str(tmp_path / "file" / "home"))
    with create_book(tmp_path) as book:
        assert book.append(Draft("note", {})).machine == machine.UNKNOWN_MACHINE


def test_processes_that_start_together_agree(tmp_path):
    """Several processes that need the id for the first time at once get the same one."""
    home = tmp_path / "home"
    program = "from ledger.store.machine import read_machine_id; print(read_machine_id())"
    running = [
        subprocess.Popen(
            [sys.executable, "-c", program],
            env={**os.environ, machine.HOME_VARIABLE: str(home)},
            stdout=subprocess.PIPE,
            text=True,
        )
        for _ in range(4)
    ]
    answers = {process.communicate()[0].strip() for process in running}
    assert len(answers) == 1
    assert re.fullmatch("[0-9a-f]{8}", answers.pop())


def test_entries_carry_the_id_and_no_name(tmp_path, open_behind):
    """The stored bytes name the computer by its id alone."""
    with create_book(tmp_path) as book:
        entry = book.append(Draft("note", {}))
    body = open_behind(tmp_path).execute("SELECT body FROM journal").fetchone()[0]
    assert decode(body)["machine"] == entry.machine == machine.read_machine_id()
    assert socket.gethostname().encode() not in body
