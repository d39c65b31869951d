"""Commands in this process, as a person types them."""

from __future__ import annotations

import pytest
from typer.testing import CliRunner, Result

from greyscale.base.errors import BadInput
from greyscale.cli.app import app


def invoke(
    *words: object, code: int | None = None, typed: str | None = None, **environment: str
) -> Result:
    """Run a command; a person's mistake comes back as `BadInput`, as `main` gets it.

    Where a code is given, it must end with that.
    """
    result = CliRunner().invoke(app, list(map(str, words)), input=typed, env=environment)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert code in (None, result.exit_code), result.output
    return result


def said(*words: object, code: int = 0, **environment: str) -> str:
    """What a command says on standard output, as one line."""
    return " ".join(invoke(*words, code=code, **environment).stdout.split())


def refused(*words: object) -> str:
    """Why a command is refused."""
    with pytest.raises(BadInput) as caught:
        invoke(*words)
    return str(caught.value)
