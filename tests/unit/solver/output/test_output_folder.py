from pathlib import Path

import pytest

from solver.errors import OutputError
from solver.output.output_folder import check_folder, write_files


def test_all_files_are_written_and_nothing_else(tmp_path):
    folder = tmp_path / "new" / "deep"
    check_folder(folder)
    assert not folder.exists()
    paths = write_files(folder, {"a.txt": b"1", "b.txt": b"2"})
    assert sorted(p.name for p in folder.iterdir()) == ["a.txt", "b.txt"]
    assert [p.read_bytes() for p in paths] == [b"1", b"2"]


def test_old_files_are_replaced(tmp_path):
    write_files(tmp_path, {"a.txt": b"old", "kept.txt": b"kept"})
    write_files(tmp_path, {"a.txt": b"new"})
    assert (tmp_path / "a.txt").read_bytes() == b"new"
    assert (tmp_path / "kept.txt").read_bytes() == b"kept"


def test_a_failed_swap_leaves_the_old_result(tmp_path, monkeypatch):
    write_files(tmp_path, {"a.txt": b"old a", "b.txt": b"old b"})
    real = Path.replace

    def fail_at_new_b(source, target):
        if target == tmp_path / "b.txt" and "before" not in str(source):
            raise OSError(28, "No space left on device")
        return real(source, target)

    monkeypatch.setattr(Path, "replace", fail_at_new_b)
    with pytest.raises(OutputError, match="No space left"):
        write_files(tmp_path, {"a.txt": b"new a", "b.txt": b"new b", "c.txt": b"new c"})
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == {
        "a.txt": b"old a",
        "b.txt": b"old b",
    }


def test_a_failed_first_write_leaves_no_folder(tmp_path, monkeypatch):
    monkeypatch.setattr(Path, "replace", lambda *_: (_ for _ in ()).throw(OSError(5, "I/O error")))
    with pytest.raises(OutputError, match="I/O error"):
        write_files(tmp_path / "new", {"a.txt": b"1"})
    assert list(tmp_path.iterdir()) == []


def test_folders_that_cannot_be_used_are_refused(tmp_path):
    (tmp_path / "file").write_text("x")
    for bad in (tmp_path / "file", tmp_path / "file" / "below", "/proc/none", "a\0b"):
        with pytest.raises(OutputError, match="cannot be written"):
            check_folder(bad)


def test_a_folder_where_a_file_should_go_is_not_lost(tmp_path):
    (tmp_path / "a.txt").mkdir()
    (tmp_path / "a.txt" / "inside").write_text("x")
    with pytest.raises(OutputError, match=r"a\.txt is a folder"):
        write_files(tmp_path, {"a.txt": b"1"})
    assert (tmp_path / "a.txt" / "inside").exists()
