"""Kept parts come back as they were, torn ones do not, and no two computations share a name."""

from dataclasses import replace

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.twists import Twist
from solver.errors import OutputError
from solver.runs.cluster import NearJoint
from solver.runs.cluster_task import ClusterTask
from solver.runs.part_store import KEPT, PartStore
from solver.runs.part_task import KeptPart
from solver.runs.sampled_part import Spill
from solver.studies.band import Band
from solver.waves.resonances import Resonance
from solver.waves.walls import Walls
from tests.unit.solver.runs.made_up_parts import BAND, GUIDE, obstacle

PART = KeptPart(
    replace(
        obstacle(0.3, 0.2, 1e-4),
        spills=(Spill(2, "TE20", 13.1e9, 0.02, 4e-3),),
        resonances=(Resonance(9.1e9, 2e3, 800.0, "the gap"),),
    ),
    {"method": "made up", "worst_loss_db": None, "cautions": ["one", "two"]},
    {"report.html": b"<p>\x00\xff</p>"},
)


def test_a_kept_part_is_read_as_it_was_written(tmp_path):
    store = PartStore(tmp_path)
    assert store.keeps and store.get("abc") is None and store.kept_text == ""
    store.add("abc", PART)
    found = PartStore(tmp_path).get("abc")
    assert (found.facts, found.files) == (PART.facts, PART.files)
    for ours, theirs in zip(found.sampled.at(BAND), PART.sampled.at(BAND), strict=True):
        np.testing.assert_array_equal(ours, theirs)
    for name in ("port_modes", "doubt", "reached", "loses", "spills", "resonances", "radiates"):
        assert getattr(found.sampled, name) == getattr(PART.sampled, name)
    assert store.kept_text == (
        f"finished parts kept in {tmp_path / KEPT}: 1; the same command goes on from there"
    )


@pytest.mark.parametrize("torn", ["", "no archive at all", "cut", "garbled list"])
def test_a_torn_file_is_computed_again(tmp_path, torn):
    store, path = PartStore(tmp_path), tmp_path / KEPT / "abc.npz"
    store.add("abc", PART)
    whole = path.read_bytes()
    # the way of compression of the last array, in the list at the end
    tail = whole.rindex(b"PK\x01\x02") + 10
    content = {
        "cut": whole[: len(whole) // 2],
        "garbled list": whole[:tail] + b"\x63" + whole[tail + 1 :],
    }
    path.write_bytes(content.get(torn, torn.encode()))
    assert store.get("abc") is None
    store.add("abc", PART)
    assert store.get("abc") is not None
    assert list(path.parent.iterdir()) == [path]


def test_no_folder_keeps_nothing():
    store = PartStore(None)
    store.add("abc", PART)
    assert not store.keeps and store.get("abc") is None and store.kept_text == ""


def test_a_folder_that_cannot_be_made_is_told_in_one_line(tmp_path):
    (tmp_path / "taken").write_text("a file")
    with pytest.raises(OutputError) as told:
        PartStore(tmp_path / "taken").add("abc", PART)
    text = str(told.value)
    assert text.startswith(str(tmp_path / "taken" / KEPT)) and "\n" not in text
    assert text.endswith("choose another folder")


def test_groups_that_answer_differently_have_different_names():
    bend = Bend(GUIDE, "E", 1.0, 0.02)
    task = ClusterTask(
        (bend, bend), (False, False), (NearJoint(3e-3),), Band(9e9, 10e9, 3), 1e-4, None
    )
    others = [
        task,
        replace(task, parts=(bend, Bend(GUIDE, "E", 1.0, 0.021))),
        replace(task, parts=(bend, Twist(GUIDE, 1.0, 0.02))),
        replace(task, parts=(bend, Bend(GUIDE, "H", 1.0, 0.02))),
        replace(task, backwards=(False, True)),
        replace(task, joints=(NearJoint(4e-3),)),
        replace(task, joints=(NearJoint(3e-3, np.pi),)),
        replace(task, band=Band(9e9, 10e9, 4)),
        replace(task, s_error=2e-4),
        replace(task, walls=Walls(5.8e7)),
    ]
    assert len({other.fingerprint for other in others}) == len(others)
    assert replace(task).fingerprint == task.fingerprint


def test_two_processes_at_one_part_do_not_meet(tmp_path, monkeypatch):
    """While one has written its part, and not yet put it in its place, another does both."""
    store, first, replace_file = PartStore(tmp_path), [True], type(tmp_path).replace

    def interrupted(path, target):
        if first.pop() if first else False:
            with monkeypatch.context() as other:
                other.setattr("os.getpid", lambda: 4711)
                PartStore(tmp_path).add("abc", PART)
        return replace_file(path, target)

    monkeypatch.setattr(type(tmp_path), "replace", interrupted)
    store.add("abc", PART)
    assert PartStore(tmp_path).get("abc").facts == PART.facts
    assert [path.name for path in (tmp_path / KEPT).iterdir()] == ["abc.npz"]
