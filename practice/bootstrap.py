"""Makes ``.venv`` from the lock and runs the command again inside. Standard library.

Nothing but Python 3.11 is expected of the machine. All that is said here goes to
standard error, so that a command's standard output stays its own.
"""

import contextlib
import ctypes
import fcntl
import hashlib
import importlib.util
import json
import os
import secrets
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Literal, NoReturn

from practice.env import VARIABLES, BadSetting, Environment

Need = Literal["run", "test"]

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
LOCKS: dict[Need, Path] = {
    "run": ROOT / "requirements.lock",
    "test": ROOT / "requirements-test.lock",
}
# Commands that ask the tables right after a clone, before any `up`.
_WITH_TABLES = {
    "changepassword",
    "createsuperuser",
    "demo",
    "import_records",
    "send",
    "shell",
}
# What WeasyPrint opens: the names by which the loader knows each library.
# harfbuzz-subset makes PDFs smaller and is optional, so it is not asked for.
_PDF_LIBRARIES = {
    "gobject": ("libgobject-2.0.so.0", "libgobject-2.0.dylib"),
    "pango": ("libpango-1.0.so.0", "libpango-1.0.dylib"),
    "pangoft2": ("libpangoft2-1.0.so.0", "libpangoft2-1.0.dylib"),
    "harfbuzz": ("libharfbuzz.so.0", "libharfbuzz.dylib"),
    "fontconfig": ("libfontconfig.so.1", "libfontconfig.dylib"),
}
_BREW_LIBRARIES = Path("/opt/homebrew/lib")
# One line a system, for each thing that pip can't bring.
PACKAGES = {
    "pdf": {
        "debian": "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 "
        "fonts-dejavu-core",
        "fedora": "pango harfbuzz fontconfig dejavu-sans-fonts",
        "macos": "pango",
    },
    "browser": {
        "debian": "chromium poppler-utils",  # reads the payment code off a page
        "fedora": "chromium poppler-utils",
        "macos": "poppler && brew install --cask chromium",
    },
    "venv": {"debian": "python3-venv", "fedora": "python3", "macos": "python"},
}
_INSTALLERS = {
    "debian": "apt-get install -y",
    "fedora": "dnf install -y",
    "macos": "brew install",
}
_BROWSERS = ("chromium", "chromium-browser", "google-chrome")


def say(line: str) -> None:
    """One line to standard error, at once."""
    sys.stderr.write(line + "\n")
    sys.stderr.flush()


def _stop(line: str) -> NoReturn:
    say(line)
    sys.exit(2)


# --- the virtual environment -------------------------------------------------


def enter(need: Need) -> None:
    """Return inside a complete ``.venv``; outside, make it and run again in it.

    A ``.venv`` without our mark that is already running this was made by hand and
    is left alone; seen from outside it is half-made and is made anew.
    """
    inside = Path(sys.prefix).resolve() == VENV.resolve()
    if inside and not _mark().is_file():
        return
    ensure(need)
    if not inside:
        python = str(VENV / "bin" / "python")
        os.execve(python, [python, *sys.argv], _environment())  # noqa: S606


def ensure(need: Need) -> None:
    """Make ``.venv`` where it is absent or half-made, and bring it to its lock."""
    if _fits(need):
        return
    with _alone():
        if not _sound():
            _make()
        if not _fits(need):
            _install(need)


def _environment() -> dict[str, str]:
    """Ours, and on a Mac with Homebrew also the way to its libraries."""
    environment = dict(os.environ)
    if sys.platform == "darwin" and _BREW_LIBRARIES.is_dir():
        key = "DYLD_FALLBACK_LIBRARY_PATH"
        environment.setdefault(key, f"{_BREW_LIBRARIES}:/usr/local/lib:/usr/lib")
    return environment


def _mark() -> Path:
    return VENV / "clenchline.json"


def _read_mark() -> dict[str, str]:
    try:
        found = json.loads(_mark().read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def _sum(need: Need) -> str:
    return hashlib.sha256(LOCKS[need].read_bytes()).hexdigest()


def _interpreter() -> str:
    return os.path.realpath(VENV / "bin" / "python")


def _sound() -> bool:
    """Whether it was finished once and its Python is still the one it had."""
    python = _interpreter()
    return Path(python).is_file() and _read_mark().get("python") == python


def _fits(need: Need) -> bool:
    return _sound() and _read_mark().get(need) == _sum(need)


@contextlib.contextmanager
def _alone() -> Iterator[None]:
    """One maker at a time: `up` and `test` may both be the first."""
    folder = os.open(ROOT, os.O_RDONLY)
    try:
        fcntl.flock(folder, fcntl.LOCK_EX)
        yield
    finally:
        os.close(folder)


def _make() -> None:
    if importlib.util.find_spec("ensurepip") is None:
        install("venv", "Python's venv module, to make .venv")
        importlib.invalidate_caches()
        if importlib.util.find_spec("ensurepip") is None:
            _stop(f"Python's venv module is missing. Install it: {line_for('venv')}")
    say(f"Making {VENV} …")
    shutil.rmtree(VENV, ignore_errors=True)
    if _run([sys.executable, "-m", "venv", str(VENV)]):
        _stop(f"Could not make {VENV}: see above. Run the command again when mended.")


def _install(need: Need) -> None:
    """Bring ``.venv`` to the lock, by hash; the mark comes last."""
    lock = LOCKS[need]
    known = {} if not _sound() else _read_mark()
    _mark().unlink(missing_ok=True)
    say(f"Installing from {lock.name} (by hash; about a minute the first time) …")
    pip = [str(VENV / "bin" / "python"), "-m", "pip", "install", "--quiet"]
    options = ["--require-hashes", "--only-binary", ":all:", "--no-deps", "--no-input"]
    # Compiled as it is imported: a third of the time, for a tenth of the modules.
    quiet = ["--disable-pip-version-check", "--no-compile"]
    if _run([*pip, *options, *quiet, "-r", str(lock)]):
        _stop(
            f"Could not install from {lock.name}: see above. It needs the network "
            "once; run the command again."
        )
    known |= {"python": _interpreter(), need: _sum(need)}
    if need == "test":  # the test lock holds all of the other, at the same versions
        known["run"] = _sum("run")
    fresh = _mark().with_suffix(".new")
    fresh.write_text(json.dumps(known), encoding="utf-8")
    fresh.replace(_mark())


def _run(command: Sequence[str], **environment: str) -> int:
    """Run it with its output on standard error; its exit code."""
    return subprocess.run(
        command, stdout=sys.stderr, env={**os.environ, **environment}, check=False
    ).returncode


# --- what the system brings --------------------------------------------------


def system() -> str:
    """``debian`` (and Ubuntu), ``fedora``, ``macos``, or empty when unknown."""
    if sys.platform == "darwin":
        return "macos"
    if Path("/etc/debian_version").exists():
        return "debian"
    return "fedora" if Path("/etc/fedora-release").exists() else ""


def line_for(thing: str, on: str | None = None) -> str:
    """The one line that installs ``thing`` on this system, or on each we know."""
    here = system() if on is None else on
    if here:
        sudo = "" if here == "macos" else "sudo "
        return f"{sudo}{_INSTALLERS[here]} {PACKAGES[thing][here]}"
    return "; ".join(f"{name}: {line_for(thing, name)}" for name in _INSTALLERS)


def missing_pdf_libraries() -> list[str]:
    """Names of the libraries without which no PDF can be made."""
    return [name for name, files in _PDF_LIBRARIES.items() if not _opens(files)]


def _opens(files: Sequence[str]) -> bool:
    folders = ["", f"{_BREW_LIBRARIES}/", "/usr/local/lib/"]
    for file in files:
        for folder in folders if file.endswith(".dylib") else [""]:
            with contextlib.suppress(OSError):
                ctypes.CDLL(folder + file)
                return True
    return False


def browser() -> str:
    """Path of a Chromium for the browser tests, or empty."""
    return next(filter(None, map(shutil.which, _BROWSERS)), "")


def install(thing: str, purpose: str) -> bool:
    """Install by apt where we may, after saying so; whether it was done."""
    if system() != "debian" or shutil.which("apt-get") is None:
        return False
    front: list[str] = []
    if os.geteuid() != 0:
        if shutil.which("sudo") is None:
            return False
        front = ["sudo", "-n"]
        asked = subprocess.run([*front, "true"], capture_output=True, check=False)
        if asked.returncode:
            return False
    names = PACKAGES[thing]["debian"].split()
    say(f"Installing by apt, for {purpose}: {' '.join(names)}")
    apt = [*front, "env", "DEBIAN_FRONTEND=noninteractive", "apt-get", "-q"]
    get = [*apt, "install", "-y", "--no-install-recommends", *names]
    if _run(get) == 0:
        return True
    return _run([*apt, "update"]) == 0 and _run(get) == 0


def bring_pdf_libraries() -> None:
    """Install what PDFs need, or name the line that does, and go on."""
    if not (missing := missing_pdf_libraries()):
        return
    install("pdf", "PDFs")
    if missing := missing_pdf_libraries():
        say(
            f"PDFs can't be made: {', '.join(missing)} missing. Install with: "
            f"{line_for('pdf')} -- everything else works."
        )


def bring_browser() -> str:
    """Path of Chromium, installed by apt where we may; empty when there is none."""
    if not browser() or shutil.which("pdftoppm") is None:
        install("browser", "the tests of pages")
    return browser()


# --- the data folder ---------------------------------------------------------


def data_folder() -> Path:
    """The folder of all that the program writes, as ``settings`` reads it."""
    return (ROOT / Environment(os.environ).text("DATA")).resolve()


def check_environment() -> None:
    """Stop with one line when a variable can't be read."""
    env = Environment(os.environ)
    read = {"flag": env.flag, "number": env.number}
    try:
        for variable in VARIABLES:
            read.get(variable.kind, env.text)(variable.name)
    except BadSetting as error:
        _stop(str(error))


def make_secret_key(*, always: bool = False) -> None:
    """Keep a fresh key in the data folder when none is given and none is there.

    On a given database it is made by ``up`` alone (``always``): several machines on
    one database have to be given the same key.
    """
    env = Environment(os.environ)
    given = env.text("SECRET_KEY") or (env.text("DATABASE_URL") and not always)
    path = data_folder() / "secret_key"
    if given or path.exists():
        return
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    fresh = path.with_name(f"secret_key.{os.getpid()}")
    handle = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(handle, "w", encoding="utf-8") as file:
        file.write(secrets.token_urlsafe(48) + "\n")
    with contextlib.suppress(FileExistsError):  # another command was faster
        os.link(fresh, path)
    fresh.unlink()


def needs_tables(command: str) -> bool:
    """Whether the command asks tables that nobody has made yet."""
    if command not in _WITH_TABLES or Environment(os.environ).text("DATABASE_URL"):
        return False
    file = data_folder() / "clenchline.sqlite3"
    if not file.is_file():
        return True
    with contextlib.closing(
        sqlite3.connect(file.as_uri() + "?mode=ro", uri=True)
    ) as db:
        return db.execute("SELECT 1 FROM sqlite_master LIMIT 1").fetchone() is None


def make_tables() -> None:
    """Make them, in a process of their own."""
    say("Making the database …")
    if code := _run([sys.executable, str(ROOT / "manage.py"), "migrate", "-v0"]):
        sys.exit(code)
