"""What a program may look like that uses greyscale: mypy checks it strictly with the package."""

import greyscale


def in_words(path: str) -> str:
    """Return what a reading says under one light."""
    return greyscale.summary(greyscale.analyse(path, lights="A"))


def misspelt(path: str) -> None:
    """Say so if a misspelt keyword is no longer found: then there is nothing to ignore."""
    greyscale.analyse(path, lihgts="A")  # type: ignore[call-arg]
