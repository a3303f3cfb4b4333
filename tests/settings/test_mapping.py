"""A settings map reads what a person said once, and nothing that is unclear."""

from __future__ import annotations

import json

import pytest

from ledger.model.fields import FIELDS
from ledger.settings.flat import Setting
from ledger.settings.mapping import MapRow, SettingsMap, rank_places
from ledger.settings.reading import read_settings

# The keys and values are made up; no program's settings are imitated.
TEXT = read_settings(
    b"""{"device": {"mountType": "UAV", "password": "x1y2z3"},
    "arm": {"x": "0.120", "y": "-0.03", "z": "0.25"},
    "heights_out": "ellipsoidal", "note": ""}""",
    "R1.json",
)
MOUNT = MapRow("run.mount_mode", ("device.mountType",), words={"UAV": "drone"})
ARM = MapRow("run.lever_arm", ("arm.x", "arm.y", "arm.z"), unit="m")


def test_words_of_the_program_become_answers_of_the_trade():
    """What the program calls UAV is the answer `drone`, and three keys are one vector."""
    answers = SettingsMap((MOUNT, ARM)).read(TEXT)
    assert {key: answer for key, (_, answer) in answers.items()} == {
        "run.mount_mode": "drone",
        "run.lever_arm": "0.120 -0.03 0.25",
    }


@pytest.mark.parametrize("key", ["absent", "note", "device.password"])
def test_a_key_that_is_absent_blank_or_taken_out_answers_nothing(key):
    """Nothing is made of what the file does not say."""
    assert MapRow("run.reason", (key,)).read(TEXT) is None


def test_a_vector_with_one_key_missing_answers_nothing():
    """Two of three numbers are no lever arm."""
    assert MapRow("run.lever_arm", ("arm.x", "arm.y", "arm.q")).read(TEXT) is None


def test_the_latest_row_that_fits_the_file_counts():
    """A row of another program, whose key this file has not, does not hide an older one."""
    other = MapRow("run.mount_mode", ("scanner.mode",))
    newer = MapRow("run.mount_mode", ("heights_out",))
    assert SettingsMap((MOUNT,)).with_rows([other]).read(TEXT)["run.mount_mode"][1] == "drone"
    assert SettingsMap((MOUNT,)).with_rows([newer]).read(TEXT)["run.mount_mode"][0] == newer


def test_a_row_said_again_replaces_the_old_one():
    """Words learned later stand beside the same key, once."""
    better = MapRow(MOUNT.field, MOUNT.keys, words={"UAV": "drone", "H": "hand"})
    assert SettingsMap((ARM, MOUNT)).with_rows([better]).rows == (better, ARM)


def test_a_map_survives_being_stored():
    """The stored form is plain JSON and reads back equal."""
    given = SettingsMap((MOUNT, ARM))
    assert SettingsMap.from_values(json.loads(json.dumps(given.to_values()))) == given


@pytest.mark.parametrize(
    ("field", "first"),
    [
        ("run.mount_mode", ("device.mountType",)),
        ("run.output_height_type", ("heights_out",)),
        ("run.lever_arm", ("rig.leverArm",)),
        ("run.geoid_name", ("vertical.geoidModelName",)),
    ],
)
def test_the_likeliest_key_is_offered_first(field, first):
    """Words of the key and of the value order the list that a person chooses from."""
    settings = [
        Setting("device.mountType", "UAV"),
        Setting("heights_out", "ellipsoidal"),
        Setting("rig.leverArm", "0.1;0;0.2"),
        Setting("rig.leverArmName", "front"),
        Setting("vertical.geoidModelName", "demo-geoid-A"),
        Setting("mode", "fast"),
    ]
    assert rank_places(FIELDS[field], settings)[0].keys == first


def test_blank_values_are_not_offered():
    """A blank says nothing, whatever its key."""
    assert rank_places(FIELDS["run.mount_mode"], [Setting("mount_mode", "")]) == ()


@pytest.mark.parametrize(
    "keys",
    [
        ("leverArm.x", "leverArm.y", "leverArm.z"),
        ("rig.lever_arm.0", "rig.lever_arm.1", "rig.lever_arm.2"),
        ("leverArmX", "leverArmY", "leverArmZ"),
        ("LEVER_ARM_X", "LEVER_ARM_Y", "LEVER_ARM_Z"),
    ],
)
def test_three_keys_of_one_arm_are_offered_as_one(keys):
    """In the order of the axes, however the file orders them; two of three are none."""
    values = dict(zip(keys, ("0,112", "0,004", "0,231"), strict=True))
    shuffled = [Setting(key, values[key]) for key in reversed(keys)]
    (place,) = rank_places(FIELDS["run.lever_arm"], [*shuffled, Setting("leverArm.source", "tape")])
    assert (place.keys, place.value) == (keys, "0,112 0,004 0,231")
    assert rank_places(FIELDS["run.lever_arm"], shuffled[:2]) == ()


def test_what_was_refused_is_remembered_and_answers_nothing():
    """A key that is said not to be a field is not read for it, and survives being stored."""
    refused = SettingsMap((ARM,)).refuse("run.mount_mode", ["mode"]).refuse("run.mount_mode", ["m"])
    again = SettingsMap.from_values(json.loads(json.dumps(refused.to_values())))
    assert again == refused
    assert again.find_refused("run.mount_mode") == {"mode", "m"}
    assert again.find_refused("run.lever_arm") == frozenset()
    assert again.read(TEXT).keys() == {"run.lever_arm"}
    assert len(again.rows) == 2
