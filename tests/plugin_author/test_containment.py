"""Plugins that are wrong are named in the real command, and no pass comes of them."""

from __future__ import annotations

import json
from typing import Any

import pytest
from wrong_plugins import HEAD, SOUND, Told, Wrong, audit, break_in

from ledger.auditentry import read_latest_audits
from ledger.store.reading import Book
from ledger.testing import check_tally_laws, make_chunk


def answer(name: str, said: str, finding: str) -> Wrong:
    """Return a plugin whose check gives one strange answer."""
    return break_in(name, said, finish=f"yield {finding}")


RAISING = [
    break_in(
        f"raises-in-{phase}",
        f"in {phase} and says nothing here: LookupError: lost",
        **{phase: "raise LookupError('lost')"},
    )
    for phase in ("prepare", "start", "chunk", "close", "finish")
]


ENDING = [
    break_in("exits", "SystemExit: 0", prepare="sys.exit(0)"),
    break_in("interrupts", "KeyboardInterrupt: mine", chunk="raise KeyboardInterrupt('mine')"),
    break_in(
        "interrupts-as",
        "Own: mine",
        before="class Own(KeyboardInterrupt): pass\n",
        start="raise Own('mine')",
    ),
    break_in("panics", "BaseException: panic", close="raise BaseException('panic')"),
    break_in("stops-itself", "GeneratorExit", finish="raise GeneratorExit"),
    break_in("goes-deep", "RecursionError", prepare="deep = lambda: deep(); deep()"),
    break_in("wants-memory", "MemoryError", start="bytearray(2**62)"),
    break_in(
        "cannot-say",
        "Mute: its own message could not be read",
        before="class Mute(Exception):\n    def __str__(self): raise RuntimeError\n",
        chunk="raise Mute",
    ),
]


LOADING = [
    Wrong("absent", "import no_such_module_at_all\n", "does not load: ModuleNotFoundError", None),
    Wrong("torn", "def broken(:\n", "does not load: SyntaxError", None),
    Wrong("leaves", "raise SystemExit(0)\n", "does not load: SystemExit: 0", None),
    Wrong("stops", "raise KeyboardInterrupt\n", "does not load: KeyboardInterrupt", None),
    Wrong(
        "misspelt",
        f"{HEAD}\n@hookimpl\ndef register_cheks():\n    return []\n",
        "unknown hook 'register_cheks'",
        None,
    ),
    Wrong("unmarked", "def register_checks():\n    return []\n", "@hookimpl may be missing", None),
    break_in(
        "raises-in-hook",
        "register_checks failed: OSError: gone",
        None,
        hook="raise OSError('gone')",
    ),
    break_in("empty-handed", "it offers neither checks nor profiles", None, hook="return None"),
    break_in("no-check", "what was offered is no check: found a str", None, hook="return ['a']"),
    break_in("no-title", "title of no-title", None, claims="title = ''"),
    break_in(
        "custody-of-points", "there is already a check custody-of-points: found swathbook", None
    ),
    break_in(
        "not-a-number",
        "a measured number has to be finite",
        None,
        before="class Own(Criteria):\n    a_m: float = float('nan')\n",
        claims="criteria = Own",
    ),
    break_in(
        "wrong-default",
        "refuses what is not from job.toml, a_m",
        None,
        before="from pydantic import Field\nclass Own(Criteria):\n"
        "    a_m: float = Field(default='x', validate_default=True)\n",
        claims="criteria = Own",
    ),
]


RUBBISH = [
    break_in("plans-nothing", "prepare returned no plan", prepare="return None"),
    break_in("starts-nothing", "start returned no tally", start="return 7"),
    answer("says-text", "the check answered something else: found a str", "'all fine'"),
    answer("says-nothing", "the check answered something else: found nothing", "None"),
    answer(
        "says-errored",
        "outcome of says-errored",
        "__import__('dataclasses').replace(self.conforms('a', 'b'), outcome=Outcome.ERRORED)",
    ),
    answer(
        "says-for-another",
        "check of says-for-another",
        "__import__('dataclasses').replace(self.conforms('a', 'b'), check='exits')",
    ),
    answer("grades-a-pass", "grade of grades-a-pass", "self.conforms('a', 'b', grade=Grade.MAJOR)"),
    answer("says-too-much", "sentence of says-too-much", "self.conforms('a', 'b' * 100_000)"),
    answer(
        "is-nowhere",
        "where.xy of is-nowhere",
        "self.conforms('a', 'b', where=Where(xy=(1.0, float('nan'))))",
    ),
    break_in("silent", "found nothing to judge", "inconclusive", finish="return"),
    break_in(
        "asks-the-impossible",
        "crystal-ball: this version knows no such input",
        "not assessed",
        claims="needs = ('crystal-ball',)",
    ),
]


ALTERING = [
    break_in("alters-evidence", "cannot assign to field 'files'", prepare="evidence.files = ()"),
    break_in("alters-mapping", "evidence is shared", prepare="evidence.registered.clear()"),
    break_in(
        "alters-wishes", "evidence is shared", finish="evidence.specification.criteria.pop('x', 0)"
    ),
    break_in("alters-points", "z of the points cannot be altered", chunk="points.z = points.z * 0"),
    break_in("alters-array", "read-only", chunk="points.z[:] = 0"),
]


WRONG = [*RAISING, *ENDING, *LOADING, *RUBBISH, *ALTERING]


# Each prints in its own way; what leaves the process by number can be kept off but not counted.
LOUD = """
print("LEAK loading")
os.write(1, b"LEAK by number\\n")
os.write(2, b"LEAK by number\\n")
sys.__stdout__.write("LEAK by the first name\\n")
sys.__stdout__.flush()
import atexit, logging, subprocess, warnings
atexit.register(print, "LEAK at the end")
"""


PRINTING = [
    break_in(
        "loud",
        "It is fine",
        None,
        before=LOUD,
        prepare="print('LEAK preparing')",
        start="print('LEAK starting', file=sys.stderr)",
        # Once: how often a warning is repeated depends on what others import meanwhile.
        chunk="hasattr(sys, 'warned') or warnings.warn('LEAK warning'); sys.warned = True",
        finish="subprocess.run([sys.executable, '-c', 'print(\"LEAK program\")']); "
        "logging.getLogger('loud').error('LEAK log')",
    ),
    break_in("asks", "EOFError", prepare="input('LEAK question? ')"),
    break_in("closes", "ValueError", prepare="sys.stdout.close(); sys.stderr.close(); print('x')"),
]


@pytest.fixture(scope="module")
def alone(tmp_path_factory) -> Told:
    """The job without a stranger."""
    return audit(tmp_path_factory.mktemp("alone"))


@pytest.fixture(scope="module")
def beside(tmp_path_factory) -> Told:
    """The same job beside all of them."""
    return audit(tmp_path_factory.mktemp("beside"), *WRONG, *PRINTING, SOUND)


def flatten(text: str) -> str:
    """Return the words of a screen, whatever its lines."""
    return " ".join(text.split())


def find(told: Told, name: str) -> list[dict[str, Any]]:
    """Return the findings of one check, or about one plugin."""
    return [
        each
        for each in told.told["findings"]
        if each["check"] == name or each["subject"] == f"plugin {name}"
    ]


@pytest.mark.parametrize("wrong", [each for each in WRONG if each.outcome], ids=lambda w: w.name)
def test_a_check_that_is_wrong_is_named_and_no_pass(beside: Told, wrong: Wrong) -> None:
    """One finding with outcome and plugin: on the screen, in the JSON and in the entry."""
    (found,) = find(beside, wrong.name)
    assert found["outcome"] == wrong.outcome
    assert wrong.said in found["sentence"]
    assert found["plugin"] == wrong.name
    if wrong.outcome == "errored":
        assert f"({wrong.name} 1.0)" in found["sentence"]
    assert wrong.name not in {each["check"] for each in beside.told["conforming"]}
    assert wrong.name in flatten(beside.screen)
    with Book.open(beside.job) as book:
        stored = [each.finding for each in read_latest_audits(book)[0].findings]
    (entered,) = [each for each in stored if each.check == wrong.name]
    assert (entered.outcome, entered.plugin) == (wrong.outcome, wrong.name)


@pytest.mark.parametrize("wrong", LOADING, ids=lambda wrong: wrong.name)
def test_a_plugin_that_cannot_be_used_is_named_and_no_pass(beside: Told, wrong: Wrong) -> None:
    """It is a finding of the audit itself, which is always required; `checks` names it too."""
    (found,) = [each for each in find(beside, wrong.name) if each["check"] == "audit"]
    assert found["outcome"] == "errored"
    assert f"{wrong.name} 1.0: " in found["sentence"]
    assert wrong.said in found["sentence"]
    for listed in (beside.told["plugin_faults"], beside.listed["plugin_faults"]):
        (fault,) = [each for each in listed if each.startswith(f"{wrong.name} 1.0: ")]
        assert wrong.said in fault
    assert f"{wrong.name} 1.0: " in flatten(beside.screen)
    with Book.open(beside.job) as book:
        entry = read_latest_audits(book)[0].entry
    assert wrong.name in {each["plugin"] for each in entry.values["plugin_faults"]}


def test_no_verdict_is_better_than_incomplete(beside: Told) -> None:
    """What the broken ones would have checked is not known."""
    assert beside.told["verdict"] == "incomplete"
    assert beside.statuses == (3, 3, 0)


def test_our_own_checks_and_a_sound_stranger_find_what_they_found(
    alone: Told, beside: Told
) -> None:
    """None of them costs another a thing."""

    def list_ours(told: Told) -> list[tuple[str, ...]]:
        kept = ("check", "outcome", "subject", "sentence")
        return [
            tuple(each[key] for key in kept)
            for each in told.told["findings"]
            if each["plugin"] == "swathbook" and each["check"] != "audit"
        ]

    assert list_ours(beside) == list_ours(alone)
    assert {"check": "sound", "count": 2} in beside.told["conforming"]
    assert [
        each for each in beside.told["conforming"] if each["check"] not in ("sound", "loud")
    ] == (alone.told["conforming"])


def test_nothing_that_a_plugin_prints_gets_out(beside: Told) -> None:
    """Not on the screen and not in the JSON, by whatever way; what was counted is told once."""
    assert beside.stderr == ""
    (said,) = find(beside, "loud")
    assert said["sentence"] == (
        "loud 1.0 printed 6 lines, left out here and of no weight in the verdict. "
        "The first: LEAK loading"
    )
    assert beside.screen.count("LEAK") == 2  # this sentence, and the one about the question
    assert json.dumps(beside.told).count("LEAK") == 2
    assert "LEAK" not in json.dumps(beside.listed)
    (question,) = [each for each in find(beside, "asks") if each["check"] == "audit"]
    assert question["grade"] == "observation"
    assert {"check": "loud", "count": 2} in beside.told["conforming"]


@pytest.mark.parametrize("wrong", PRINTING[1:], ids=lambda wrong: wrong.name)
def test_a_plugin_that_takes_the_streams_for_its_own_is_alone_with_that(
    beside: Told, wrong: Wrong
) -> None:
    """To ask, or to close a stream, is an error of that check."""
    (found,) = [each for each in find(beside, wrong.name) if each["check"] == wrong.name]
    assert found["outcome"] == "errored"
    assert wrong.said in found["sentence"]


def test_merging_is_held_by_the_laws() -> None:
    """An audit of this version reads each file in one go and never merges; the laws do."""
    space: dict[str, Any] = {}
    wrong = break_in("raises-in-merge", "", merge="raise LookupError('lost')")
    exec(compile(wrong.source, "odd", "exec"), space)  # noqa: S102 - the plugin of a line above
    points = make_chunk({axis: list(range(30)) for axis in "xyz"})
    with pytest.raises(LookupError, match="lost"):
        check_tally_laws(space["Odd"](), [points])
