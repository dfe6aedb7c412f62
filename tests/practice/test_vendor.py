"""What others wrote lies here unchanged, with its licence."""

import hashlib
import tomllib
from pathlib import Path

VENDOR = Path(__file__).parents[2] / "practice" / "static" / "practice" / "vendor"
LISTED = tomllib.loads((VENDOR / "VENDOR.toml").read_text(encoding="utf-8"))


def test_every_vendored_file_is_the_one_that_is_listed():
    found = {
        folder.name: {
            str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
            for path in sorted(folder.rglob("*"))
            if path.is_file()
        }
        for folder in VENDOR.iterdir()
        if folder.is_dir()
    }
    assert found == {name: about["sha256"] for name, about in LISTED.items()}


def test_every_vendored_package_names_version_and_licence():
    assert LISTED
    for folder, about in LISTED.items():
        assert folder.endswith(about["version"])
        assert about["licence"]
        assert "LICENSE" in about["sha256"]
