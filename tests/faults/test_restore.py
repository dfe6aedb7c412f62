"""A backup is worth what comes back from it."""

import json
import stat
import subprocess
import tarfile
from pathlib import Path

import pytest

from tests.faults.conftest import SERVER, Installation


@pytest.fixture
def archive(installation: Installation, tmp_path: Path) -> Path:
    """A backup of three mails, a photo and the key."""
    installation.run("-m", "tests.faults.acts", "mail", "3")
    photo = installation.data / "media" / "photos" / "one.jpg"
    photo.parent.mkdir(parents=True)
    photo.write_bytes(b"not really a photo")
    (installation.data / "secret_key").write_text("kept\n", encoding="utf-8")
    done = installation.run("manage.py", "backup", str(tmp_path / "backups"))
    assert done.returncode == 0, done.stderr
    (file,) = (tmp_path / "backups").iterdir()
    return file


def test_a_backup_is_for_its_owner_alone_and_brings_back_rows_photos_and_key(
    archive: Path, installation: Installation, tmp_path: Path
) -> None:
    assert stat.S_IMODE(archive.stat().st_mode) == 0o600
    data = tmp_path / "restored"
    with tarfile.open(archive) as tar:
        if hasattr(tarfile, "data_filter"):  # came with Python 3.11.4
            tar.extraction_filter = tarfile.data_filter
        tar.extractall(data)  # noqa: S202 -- ours, and just made
        sums = json.loads((data / "sums.json").read_text(encoding="utf-8"))
    url = installation.database_url
    if SERVER:
        installation.ask("DELETE FROM practice_message")
        subprocess.run(
            ["pg_restore", "--clean", "--if-exists", "--no-owner", f"--dbname={url}",
             str(data / "clenchline.dump")],
            check=True,
        )  # fmt: skip
    restored = Installation(data=data, database_url=url, started=[])
    assert restored.run("manage.py", "migrate", "--check").returncode == 0
    assert restored.states() == {"ready": 3}
    assert (data / "media/photos/one.jpg").read_bytes() == b"not really a photo"
    assert (data / "secret_key").read_text(encoding="utf-8") == "kept\n"
    assert "media/photos/one.jpg" in sums


def test_a_folder_that_can_not_be_written_is_one_line_and_exit_2(
    installation: Installation, tmp_path: Path
) -> None:
    file = tmp_path / "a file"
    file.write_text("", encoding="utf-8")
    done = installation.run("manage.py", "backup", str(file / "below"))
    assert done.returncode == 2
    assert len(done.stderr.strip().splitlines()) == 1
    assert done.stdout == ""
