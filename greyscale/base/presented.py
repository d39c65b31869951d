"""Results that show themselves: a few lines as text, a page in a notebook, plain data, a table.

How each is shown is known far above; `register` is told where when that is first needed.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    import pandas


class Presenter(Protocol):
    """What knows how every kind of result is shown."""

    def text(self, result: Any) -> str:
        """Return a few lines."""

    def html(self, result: Any) -> str:
        """Return its report as part of another page."""

    def data(self, result: Any) -> dict[str, Any]:
        """Return plain data: the same as its JSON."""

    def rows(self, result: Any) -> list[dict[str, Any]]:
        """Return its table, an object a line."""


_finders: list[Callable[[], Presenter]] = []


def register(find: Callable[[], Presenter]) -> None:
    """Tell where the presenter is found; it is not looked for before it is needed."""
    _finders[:] = [find]


class Presented:
    """A result of the program, as Python and notebooks show it."""

    def __repr__(self) -> str:
        return _finders[0]().text(self)

    def _repr_html_(self) -> str:
        return _finders[0]().html(self)

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, with the keys of the result's JSON."""
        return _finders[0]().data(self)

    def to_pandas(self) -> pandas.DataFrame:
        """Return its table: of patches, tones or papers, a line each.

        Raises
        ------
        ModuleNotFoundError
            If pandas is not installed.
        """
        try:
            import pandas
        except ModuleNotFoundError as error:
            raise ModuleNotFoundError(
                "a table for pandas needs the package pandas; install it by: pip install pandas"
            ) from error
        return pandas.DataFrame(_finders[0]().rows(self))
