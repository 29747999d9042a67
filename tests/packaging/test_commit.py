# SPDX-License-Identifier: MIT
"""The commit that a program tells: of a repository, with a mark where it has changes, and of an archive."""

import os
import pathlib
import re
import shutil
import subprocess

import pytest

SOURCE = pathlib.Path(os.environ["ARRIS_SOURCE_DIR"])


def git(folder, *words):
    who = ("-c", "user.name=test", "-c", "user.email=test@example.org")
    return subprocess.run(["git", "-C", folder, *who, *words], check=True, capture_output=True, text=True).stdout.strip()


def told(folder, tmp_path):
    out = tmp_path / "build_commit.cpp"
    subprocess.run(["cmake", f"-DSOURCE={folder}", f"-DOUTPUT={out}", "-P", folder / "cmake" / "commit.cmake"], check=True)
    return re.search(r'return "(.*)";', out.read_text())[1]


@pytest.fixture
def repository(tmp_path):
    if shutil.which("git") is None:
        pytest.skip("there is no git")
    folder = tmp_path / "sources"
    (folder / "cmake").mkdir(parents=True)
    for name in (".gitattributes", "cmake/commit.cmake", "cmake/archive_commit.txt"):
        shutil.copy(SOURCE / name, folder / name)
    (folder / "CMakeLists.txt").write_text("project(x)\n")
    git(folder, "init", "-q")
    git(folder, "add", "-A")
    git(folder, "commit", "-q", "-m", "Begin")
    return folder


def test_a_repository_tells_its_commit_and_whether_it_was_changed(repository, tmp_path):
    head = git(repository, "rev-parse", "--short=12", "HEAD")
    assert told(repository, tmp_path) == head
    (repository / "new.txt").write_text("not tracked, and no part of the sources")
    assert told(repository, tmp_path) == head
    (repository / "CMakeLists.txt").write_text("project(y)\n")
    assert told(repository, tmp_path) == head + "+"


def test_an_archive_tells_the_commit_it_was_made_of(repository, tmp_path):
    archive = tmp_path / "archive"
    archive.mkdir()
    git(repository, "archive", "-o", str(tmp_path / "a.tar"), "HEAD")
    subprocess.run(["tar", "-xf", tmp_path / "a.tar", "-C", archive], check=True)
    assert told(archive, tmp_path) == git(repository, "rev-parse", "--short=12", "HEAD")
    # and files without either tell nothing
    shutil.copy(SOURCE / "cmake" / "archive_commit.txt", archive / "cmake" / "archive_commit.txt")
    assert told(archive, tmp_path) == "unknown"


def test_what_has_not_changed_is_not_written_anew(repository, tmp_path):
    told(repository, tmp_path)
    before = (tmp_path / "build_commit.cpp").stat().st_mtime_ns
    told(repository, tmp_path)
    assert (tmp_path / "build_commit.cpp").stat().st_mtime_ns == before
