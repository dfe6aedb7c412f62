"""What scheduling offers to ``manage.py reckon``: ``rounds``. Pure."""

from collections.abc import Iterator, Mapping
from typing import Any

from practice.reckoning import Bounds, Reckoning


class _Lazily(Mapping[str, Any]):
    """A schema that is read when somebody looks at it, since the module that has it
    loads the search."""

    def __init__(self, name: str) -> None:
        self._name = name

    def _schema(self) -> dict[str, Any]:
        from scheduling.planner import document

        schema: dict[str, Any] = getattr(document, self._name)
        return schema

    def __getitem__(self, key: str) -> Any:
        return self._schema()[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._schema())

    def __len__(self) -> int:
        return len(self._schema())


def run_rounds(document: dict[str, Any], bounds: Bounds) -> dict[str, Any]:
    """``rounds`` of the reckonings. Raises BadDocument."""
    from scheduling.planner.document import run_rounds as run

    return run(document, bounds)


RECKONINGS: dict[str, Reckoning] = {
    "rounds": Reckoning(
        schema_in=_Lazily("ROUNDS_IN"),
        schema_out=_Lazily("ROUNDS_OUT"),
        run=lambda document: run_rounds(document, Bounds()),
        run_within=run_rounds,
    ),
}
