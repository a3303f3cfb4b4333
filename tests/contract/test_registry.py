"""Finding plugins: one that is broken is a fact of the registry, and the others go on."""

from __future__ import annotations

import base64
import hashlib
import sys
from collections.abc import Callable
from importlib.metadata import EntryPoint, PackageNotFoundError, PathDistribution
from pathlib import Path
from types import ModuleType

import pytest

from ledger.contract import hookspecs, origin, packages
from ledger.contract.guard import Guard
from ledger.contract.hearing import Heard
from ledger.contract.registry import Registry, build_registry

Install = Callable[..., None]

GOOD = """
class Tidy(Check):
    id = "{id}"
    title = "Everything is tidy"
    def finish(self, plan, summaries, evidence):
        yield self.conforms("delivery", "It is tidy.")

@hookimpl
def register_checks():
    return [Tidy()]
"""


def find_ids(found: Registry, plugin: str) -> list[str]:
    """Return the ids of the checks of one distribution."""
    return [each.check.id for each in found.checks if each.plugin.name == plugin]


def find_faults(found: Registry, plugin: str) -> list[str]:
    """Return what is wrong with one distribution."""
    return [fault.sentence for fault in found.faults if fault.plugin == plugin]


def test_a_stranger_is_found_like_our_own(install: Install) -> None:
    """A check of another distribution is offered with its name, version and digest."""
    install("tidyness", GOOD.format(id="tidy"), version="3.1")
    found = build_registry()
    plugin = next(each.plugin for each in found.checks if each.check.id == "tidy")
    assert (plugin.name, plugin.version, plugin.entry_point) == ("tidyness", "3.1", "tidyness")
    assert find_ids(found, "swathbook")
    assert not find_faults(found, "tidyness")


def test_digest_is_over_names_and_bytes(install: Install) -> None:
    """The digest of a plugin is the SHA-256 over digest and name of each of its files."""
    install("tidyness", GOOD.format(id="tidy"))
    found = build_registry()
    plugin = next(each.plugin for each in found.checks if each.check.id == "tidy")
    file = Path(sys.modules["tidyness"].__file__ or "")
    line = f"{hashlib.sha256(file.read_bytes()).hexdigest()} tidyness.py\n"
    assert plugin.digest == hashlib.sha256(line.encode()).hexdigest()


def test_digest_follows_the_files_of_a_package(tmp_path: Path, monkeypatch) -> None:
    """An edited module changes the digest of its package; a compiled file does not."""
    package = tmp_path / "dented"
    (package / "inner").mkdir(parents=True)
    (package / "__init__.py").write_text("", encoding="utf-8")
    (package / "inner" / "rules.toml").write_text("a = 1\n", encoding="utf-8")
    monkeypatch.syspath_prepend(str(tmp_path))
    __import__("dented")
    try:
        first = packages.compute_package_digest("dented")
        (package / "__pycache__").mkdir(exist_ok=True)
        (package / "__pycache__" / "rules.cpython-311.pyc").write_bytes(b"compiled")
        assert packages.compute_package_digest("dented") == first
        (package / "inner" / "rules.toml").write_text("a = 2\n", encoding="utf-8")
        assert packages.compute_package_digest("dented") != first
    finally:
        del sys.modules["dented"]


def test_plugins_are_asked_in_order_of_name(install: Install) -> None:
    """Plugins are loaded in the order of their entry points, whatever the order on the path."""
    for name in ("zebra", "ant", "moose"):
        install(name, GOOD.format(id=name))
    names = [plugin.entry_point for plugin in build_registry().plugins]
    assert names[0] == "lidar_checks"
    assert names[1:] == sorted(names[1:])
    assert {"ant", "moose", "zebra"} < set(names)


@pytest.mark.parametrize(
    ("source", "part"),
    [
        ("import no_such_module_at_all\n", "does not load: ModuleNotFoundError"),
        ("raise SystemExit('enough')\n", "does not load: SystemExit: enough"),
        ("def broken(:\n", "does not load: SyntaxError"),
        (
            "@hookimpl\ndef register_cheks():\n    return []\n",
            "unknown hook 'register_cheks'",
        ),
        (
            "@hookimpl\ndef register_checks(speed):\n    return []\n",
            "hooks cannot be used: PluginValidationError",
        ),
        ("def register_checks():\n    return []\n", "@hookimpl may be missing"),
        ("@hookimpl\ndef register_checks():\n    return 7\n", "the hook answered no list"),
        ("@hookimpl\ndef register_checks():\n    return 'abc'\n", "the hook answered no list"),
        ("@hookimpl\ndef register_checks():\n    return ['abc']\n", "what was offered is no check"),
        ("@hookimpl\ndef register_checks():\n    return [Check]\n", "what was offered is no check"),
        ("@hookimpl\ndef register_checks():\n    1 / 0\n", "failed: ZeroDivisionError"),
        ("@hookimpl\ndef register_checks():\n    raise SystemExit(3)\n", "failed: SystemExit: 3"),
        (
            "@hookimpl\ndef register_profiles():\n    return [{'id': 'x'}]\n",
            "what was offered is no profile",
        ),
    ],
)
def test_a_broken_plugin_is_a_fact(install: Install, source: str, part: str) -> None:
    """However a plugin breaks, there is a sentence about it, and our own checks are still there."""
    install("broken", source)
    found = build_registry()
    assert any(part in sentence for sentence in find_faults(found, "broken")), found.faults
    assert find_ids(found, "swathbook")
    assert not find_ids(found, "broken")


@pytest.mark.parametrize(
    ("line", "part"),
    [
        ("id = 'Bad Id'", "id of a check is wrong"),
        ("id = 'audit'", "is reserved"),
        ("id = 'profile'", "is reserved"),
        ("id = 7", "id of a check is wrong"),
        ("title = ''", "title of tidy"),
        ("revision = 0", "revision of tidy"),
        ("revision = True", "revision of tidy"),
        ("needs = 'points'", "needs of tidy"),
        ("fields = ['run.crs']", "fields of tidy"),
        ("specification_keys = 'job'", "specification_keys of tidy"),
        ("specification_keys = ('coordinates.geiod',)", "name no key of job.toml"),
        ("specification_keys = ('coordinates.geiod',)", "did you mean coordinates.geoid?"),
        ("after = (1,)", "after of tidy"),
        ("dimensions = {'gps_time'}", "dimensions of tidy"),
        ("criteria = dict", "criteria of tidy"),
        ("always_required = 'yes'", "always_required of tidy"),
    ],
)
def test_a_check_with_a_wrong_claim_is_not_taken(install: Install, line: str, part: str) -> None:
    """A check whose claims have the wrong shape is a fault, and its neighbour is kept."""
    other = "class Other(Tidy):\n    id = 'other'\n    title = 'Other'\n"
    source = GOOD.format(id="tidy").replace("[Tidy()]", "[Tidy(), Other()]")
    source = source.replace("@hookimpl", f"{other}\n@hookimpl")
    install("wrong", f"{source}\nTidy.{line}\n{_repair(line)}")
    found = build_registry()
    assert any(part in sentence for sentence in find_faults(found, "wrong")), found.faults
    assert find_ids(found, "wrong") == ["other"]


def _repair(line: str) -> str:
    """Give the neighbour a sound claim of its own where the wrong one would be inherited."""
    name = line.split(" = ", maxsplit=1)[0]
    return "" if name in ("id", "title") else f"Other.{name} = Check.{name}\n"


def test_of_two_checks_with_one_id_the_first_is_kept(install: Install) -> None:
    """The first by name of the entry point is kept, and the second is a fault that names it."""
    install("aardvark", GOOD.format(id="tidy"))
    install("beaver", GOOD.format(id="tidy"))
    found = build_registry()
    assert find_ids(found, "aardvark") == ["tidy"]
    assert "there is already a check tidy: found aardvark" in find_faults(found, "beaver")[0]


def test_a_stranger_cannot_take_the_id_of_a_check_of_ours(install: Install) -> None:
    """Our own distribution is asked first, whatever a stranger's entry point is called."""
    install("aardvark", GOOD.format(id="custody-of-points"))
    found = build_registry()
    assert find_ids(found, "aardvark") == []
    assert "there is already a check custody-of-points" in find_faults(found, "aardvark")[0]


def test_an_exception_in_place_of_a_check_is_a_fault(install: Install) -> None:
    """A plugin may report a check that it could not make, and keeps the others."""
    source = GOOD.format(id="tidy").replace("[Tidy()]", "[ImportError('no raster'), Tidy()]")
    install("partial", source)
    found = build_registry()
    assert find_ids(found, "partial") == ["tidy"]
    assert find_faults(found, "partial") == [
        "a part of it could not be made: ImportError: no raster"
    ]


def test_checks_before_the_one_that_raises_are_kept(install: Install) -> None:
    """A hook that breaks off half-way loses what would have come, and says so."""
    source = GOOD.format(id="tidy").replace("return [Tidy()]", "yield Tidy()\n    1 / 0")
    install("half", source)
    found = build_registry()
    assert find_ids(found, "half") == ["tidy"]
    assert "ZeroDivisionError" in find_faults(found, "half")[0]


def test_checks_that_wait_for_each_other_are_dropped(install: Install) -> None:
    """A circle of checks is a fault of each of them; one that waits for the circle stays."""
    source = """
def make(name, *waits):
    members = {"id": name, "title": name, "after": waits, "finish": lambda *parts: ()}
    return type(name.title(), (Check,), members)()

@hookimpl
def register_checks():
    return [make("one", "two"), make("two", "three"), make("three", "one"), make("four", "one")]
"""
    install("circle", source)
    found = build_registry()
    assert find_ids(found, "circle") == ["four"]
    faults = find_faults(found, "circle")
    assert len(faults) == 3
    assert all("one after two after three after one" in fault for fault in faults), faults


def test_what_a_plugin_prints_is_left_out_and_counted(install: Install, capsys) -> None:
    """Neither stream gets it; the guard can say who printed, how much and how it began."""
    install("chatty", "print('hello from import')\n" + GOOD.format(id="tidy"))
    guard = Guard()
    build_registry(guard)
    assert capsys.readouterr() == ("", "")
    assert guard.heard == {("chatty", "1.0"): Heard(1, "hello from import")}


def test_ctrl_c_is_not_swallowed(install: Install) -> None:
    """An interruption while a plugin loads interrupts."""
    install("slow", "raise KeyboardInterrupt\n")
    with pytest.raises(KeyboardInterrupt):
        build_registry()


def test_every_call_gives_a_fresh_registry(install: Install) -> None:
    """Nothing is kept between two calls: a plugin that comes later is found."""
    before = build_registry()
    install("late", GOOD.format(id="tidy"))
    after = build_registry()
    assert not find_ids(before, "late")
    assert find_ids(after, "late") == ["tidy"]


def test_our_packages_come_from_our_own_distribution() -> None:
    """The packages in use are those of the installed distribution, not namesakes."""
    build_registry()
    assert origin.find_foreign_packages(("lidar_checks",)) == ()


def test_a_namesake_of_our_package_is_reported(
    install: Install, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A package of the same name from somewhere else is a fault: it would speak in our name."""
    shadow = tmp_path / "shadow" / "lidar_checks"
    shadow.mkdir(parents=True)
    (shadow / "__init__.py").write_text("", encoding="utf-8")
    kept = {name: sys.modules.pop(name) for name in tuple(sys.modules) if _is_ours(name)}
    monkeypatch.syspath_prepend(str(shadow.parent))
    try:
        found = build_registry()
    finally:
        for name in tuple(sys.modules):
            if _is_ours(name):
                del sys.modules[name]
        sys.modules.update(kept)
    assert any("lidar_checks in use does not belong" in s for s in find_faults(found, "swathbook"))


def _is_ours(name: str) -> bool:
    return name.split(".", maxsplit=1)[0] == "lidar_checks"


@pytest.fixture
def wheel(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return the folder of an installation from a wheel, with the installer's record."""
    site = tmp_path / "wheel"
    (site / "ledger").mkdir(parents=True)
    content = b"# ours"
    (site / "ledger" / "__init__.py").write_bytes(content)
    digest = base64.urlsafe_b64encode(hashlib.sha256(content).digest()).rstrip(b"=").decode()
    info = site / "swathbook-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: swathbook\nVersion: 1.0\n")
    (info / "RECORD").write_text(f"ledger/__init__.py,sha256={digest},{len(content)}\n")
    found = PathDistribution(info)
    monkeypatch.setattr(origin, "distribution", lambda _: found)
    module = ModuleType("ledger")
    module.__file__ = str(site / "ledger" / "__init__.py")
    monkeypatch.setitem(sys.modules, "ledger", module)
    return site


def test_an_installed_package_is_held_against_the_record(wheel: Path) -> None:
    """An installed package is ours while its files are those that the installer recorded."""
    assert origin.find_foreign_packages(()) == ()
    (wheel / "ledger" / "__init__.py").write_bytes(b"# not ours")
    assert origin.find_foreign_packages(()) == ("ledger",)


def test_a_package_that_the_record_does_not_list_is_foreign(wheel: Path) -> None:
    """A file beside ours that our installer did not put there is not ours."""
    module = ModuleType("lidar_checks")
    module.__file__ = str(wheel / "lidar_checks.py")
    (wheel / "lidar_checks.py").write_bytes(b"")
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(sys.modules, "lidar_checks", module)
        assert origin.find_foreign_packages(("lidar_checks",)) == ("lidar_checks",)
        patch.delitem(sys.modules, "lidar_checks")
        assert origin.find_foreign_packages(("lidar_checks",)) == ("lidar_checks",)


def test_a_record_without_a_digest_is_believed(wheel: Path) -> None:
    """Where the installer recorded no digest, being listed is enough."""
    record = wheel / "swathbook-1.0.dist-info" / "RECORD"
    record.write_text("ledger/__init__.py,,\n", encoding="utf-8")
    assert origin.find_foreign_packages(()) == ()


def test_without_an_installation_nothing_is_ours(monkeypatch: pytest.MonkeyPatch) -> None:
    """Run from a bare copy of the sources, no package can be shown to be ours."""

    def refuse(name: str) -> None:
        raise PackageNotFoundError(name)

    monkeypatch.setattr(origin, "distribution", refuse)
    assert origin.find_foreign_packages(("lidar_checks",)) == ("ledger", "lidar_checks")


def test_an_entry_point_without_a_distribution_goes_by_its_own_name() -> None:
    """An entry point that nobody installed is named by itself, without a version."""
    found = origin.identify_plugin(EntryPoint("loose", "loose", "swathbook.checks"))
    assert (found.name, found.version) == ("loose", "")


def test_a_module_that_was_not_imported_has_no_digest() -> None:
    """Without files there is no digest, and none is made up."""
    assert packages.compute_package_digest("never_imported_at_all") == ""


def test_a_second_profile_of_one_id_is_a_fault(install: Install) -> None:
    """Profiles are kept by id like checks."""
    source = """
@hookimpl
def register_profiles():
    wrong = {"a": {"b": 1}}
    return [Profile("p-1", "P", "1"), Profile("p-1", "P", "2"), Profile("p-2", "P", "1", wrong)]
"""
    install("profiles", source)
    found = build_registry()
    offered = [each.profile for each in found.profiles if each.plugin.name == "profiles"]
    assert [each.edition for each in offered] == ["1"]
    first, second = find_faults(found, "profiles")
    assert "there is already a profile p-1" in first
    assert "a.b of p-2" in second


def test_the_hooks_are_two_and_take_nothing() -> None:
    """Plugins join in by two hooks without arguments; more can be added later, fewer cannot."""
    marked = [
        name
        for name, value in vars(hookspecs).items()
        if hasattr(value, f"{hookspecs.PROJECT}_spec")
    ]
    assert marked == ["register_checks", "register_profiles"]
    assert origin.ENTRY_POINT_GROUP == "swathbook.checks"


def test_installed_plugins_are_told_without_importing_them(install: Install) -> None:
    """The digest of a plugin's files is the same before it is imported and after."""
    install("stranger", GOOD.format(id="tidy"))
    before = {plugin.name: plugin for plugin in origin.read_installed()}
    assert "stranger" not in sys.modules
    assert before["stranger"].digest
    loaded = {plugin.name: plugin for plugin in build_registry().plugins}
    assert before == loaded
