"""Settings read from the environment: one table, typed, each with its help. Pure.

A secret may also be given as a file: ``CLENCHLINE_SECRET_KEY_FILE=/run/secrets/key``.
The README's table and ``.env.example`` are checked against ``VARIABLES`` by a test.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path


class BadSetting(ValueError):
    """A variable that cannot be read, told with its name and the mend."""


@dataclass(frozen=True, slots=True)
class Variable:
    """One setting: its name without the prefix, kind, default as text, and help."""

    name: str
    kind: str  # "text", "flag", "number", "list", "secret"
    default: str
    help: str


PREFIX = "CLENCHLINE_"

VARIABLES: tuple[Variable, ...] = (
    Variable("DATA", "text", "data", "folder for all that the program writes"),
    Variable(
        "SECRET_KEY",
        "secret",
        "",
        "signs sessions; without it the file secret_key in the data folder is read",
    ),
    Variable(
        "SITE_URL",
        "text",
        "http://localhost:8000",
        "address that people use; links in mail begin with it",
    ),
    Variable(
        "ALLOWED_HOSTS",
        "list",
        "",
        "further host names that may be asked for, comma-separated",
    ),
    Variable("DEBUG", "flag", "no", "error pages with code; never in use"),
    Variable(
        "DATABASE_URL",
        "secret",
        "",
        "postgres://…; without it SQLite in the data folder",
    ),
    Variable(
        "REDIS_URL",
        "secret",
        "",
        "redis://…; without it the embedded worker listens on files",
    ),
    Variable("TRUSTED_PROXIES", "number", "0", "reverse proxies in front of it"),
    Variable("EMAIL_HOST", "text", "", "SMTP server; without it mail goes to a folder"),
    Variable("EMAIL_PORT", "number", "587", "its port"),
    Variable("EMAIL_USER", "text", "", "its user"),
    Variable("EMAIL_PASSWORD", "secret", "", "its password"),
    Variable("EMAIL_TLS", "flag", "yes", "STARTTLS"),
    Variable("EMAIL_FROM", "text", "", "sender; without it the practice's address"),
    Variable(
        "TILE_URL",
        "text",
        "",
        "map tiles, https://…/{z}/{x}/{y}.png; without it maps are drawn by us",
    ),
    Variable("TILE_CREDIT", "text", "", "who made the tiles, shown on the map"),
    Variable(
        "ROAD_ENGINE",
        "text",
        "",
        "osrm or valhalla: what answers at ROAD_ENGINE_URL",
    ),
    Variable(
        "ROAD_ENGINE_URL",
        "text",
        "",
        "address of a road engine that you run; without it drives are estimated",
    ),
)

_YES = {"yes", "true", "1", "on"}
_NO = {"no", "false", "0", "off", ""}


@dataclass(frozen=True, slots=True)
class Environment:
    """Typed reading of ``VARIABLES`` out of a mapping such as ``os.environ``."""

    values: Mapping[str, str]

    def _variable(self, name: str) -> Variable:
        for variable in VARIABLES:
            if variable.name == name:
                return variable
        raise KeyError(name)

    def text(self, name: str) -> str:
        """The value as text, its default when it is not set.

        Raises:
            BadSetting: a named secret file can't be read.
        """
        variable = self._variable(name)
        if variable.kind == "secret":
            path = self.values.get(f"{PREFIX}{name}_FILE", "")
            if path:
                try:
                    return Path(path).read_text(encoding="utf-8").strip()
                except OSError as error:
                    raise BadSetting(
                        f"{PREFIX}{name}_FILE names {path}, which can't be read: "
                        f"{error.strerror}"
                    ) from error
        return self.values.get(f"{PREFIX}{name}", variable.default).strip()

    def flag(self, name: str) -> bool:
        """The value as yes or no.

        Raises:
            BadSetting: it is neither.
        """
        value = self.text(name).lower()
        if value in _YES:
            return True
        if value in _NO:
            return False
        raise BadSetting(f"{PREFIX}{name} is {value!r}: write yes or no")

    def number(self, name: str) -> int:
        """The value as a whole number.

        Raises:
            BadSetting: it is none.
        """
        value = self.text(name)
        try:
            return int(value)
        except ValueError as error:
            raise BadSetting(
                f"{PREFIX}{name} is {value!r}: write a whole number"
            ) from error

    def items(self, name: str) -> list[str]:
        """The value as a list, split at commas."""
        return [item.strip() for item in self.text(name).split(",") if item.strip()]
