"""A reading typed in patch by patch, as `greyscale read` asks for it; saved after each value."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from greyscale.base.errors import BadInput
from greyscale.base.plain_text import as_typed
from greyscale.checks.typing_in import KINDS, Kind, by_hand, doubt, go_on, in_words, typed_reading
from greyscale.colorimetry.arrays import Array
from greyscale.page.commands import free_stem
from greyscale.page.findings import problem_words
from greyscale.page.papers import Paper, Sheet
from greyscale.page.uploads import posted
from greyscale.page.views import address, paper_asked, render
from greyscale.readings import iso28178
from greyscale.readings.reading import TONE_ALONE

_saving = threading.Lock()  # Two tabs may type at once.

SHOWN = 6
"""So many of the values typed last are shown, to be put right."""


@dataclass(frozen=True, eq=False)
class Typing:
    """What is typed in of a sheet so far, and where that goes."""

    paper: Paper
    sheet: Sheet
    name: str
    kind: Kind
    target: Path
    values: dict[int, Array]

    @property
    def order(self) -> tuple[int, ...]:
        return by_hand(self.sheet.layout)

    def asked(self, wanted: str) -> int | None:
        """The patch that is asked for: the one wanted, else the first without a value."""
        ids = self.sheet.layout.ids
        if wanted in ids:
            return ids.index(wanted)
        return next((one for one in self.order if one not in self.values), None)

    def after(self, index: int) -> int | None:
        """The next patch without a value, after this one and then from the start."""
        at = self.order.index(index)
        turned = (*self.order[at + 1 :], *self.order[:at])
        return next((one for one in turned if one not in self.values), None)

    def save(self, index: int, lab: Array) -> None:
        self.values[index] = lab
        begun = None if self.sheet.typing is None else self.sheet.typing.reading
        told = {"created": datetime.now()}
        layout = self.sheet.layout
        reading = typed_reading(layout, self.values, begun, told, self.kind.alone)
        iso28178.write(reading, self.target)


def _typing(request: Request, kind: str) -> Typing:
    paper, stem = paper_asked(request), request.path_params["stem"]
    sheet = next((one for one in paper.sheets if one.stem == stem), None)
    if sheet is None:
        raise HTTPException(404, "There is no such sheet here.")
    if sheet.typing is not None:
        alone, target = sheet.typing.reading.fields.get(TONE_ALONE), sheet.typing.path
        name = next(name for name, one in KINDS.items() if one.alone == alone)
        values = go_on(sheet.typing.reading, sheet.layout, alone)
        return Typing(paper, sheet, name, KINDS[name], target, values)
    name = kind if kind in KINDS else "lab"
    target = paper.folder / f"{free_stem(paper.folder, f'{stem}-typed', '.txt')}.txt"
    return Typing(paper, sheet, name, KINDS[name], target, {})


def _context(typing: Typing, index: int, said: dict[str, Any]) -> dict[str, Any]:
    layout = typing.sheet.layout
    at = typing.order.index(index)
    last = [one for one in typing.order[:at] if one in typing.values][-SHOWN:]
    shown = slice(0, 1) if typing.kind.alone else slice(0, 3)
    done = []
    for one in last:
        numbers = " ".join(f"{value:.4g}" for value in typing.values[one][shown])
        done.append((layout.ids[one], layout.places[one], numbers))
    command = ("read", typing.sheet.path.name, "-o", typing.target.name)
    alone = () if typing.name == "lab" else ("--values", typing.name)
    return {
        "paper": typing.paper,
        "sheet": typing.sheet,
        "kind": typing.kind,
        "kind_name": typing.name,
        "kinds": KINDS,
        "fresh": not typing.values,
        "place": layout.places[index],
        "id": layout.ids[index],
        "what": in_words(layout, index),
        "before": layout.ids[typing.order[at - 1]] if at else "",
        "later": layout.ids[later] if (later := typing.after(index)) is not None else "",
        "count": len(layout),
        "left": len(layout) - len(typing.values),
        "done": done,
        "says_the_same": as_typed(*command, *alone),
        "text": "",
        "problem": "",
        "doubted": "",
        **said,
    }


def view(request: Request, status: int = 200, **said: Any) -> Response:
    """Ask for a patch."""
    query = request.query_params
    typing = _typing(request, said.pop("kind", query.get("values", "")))
    index = typing.asked(said.pop("patch", query.get("patch", "")))
    if index is None:
        return RedirectResponse(address("paper", typing.paper.key), 303)
    return render(request, "typed.html.j2", status, **_context(typing, index, said))


@posted
def take(request: Request, given: Mapping[str, str]) -> Response:
    """Take a patch's value, or ask again where it can hardly be."""
    fields = ("patch", "text", "values", "doubted")
    patch, text, kind, doubted = (given.get(name, "").strip()[:100] for name in fields)
    again = {"patch": patch, "kind": kind, "text": text}
    with _saving:
        typing = _typing(request, kind)
        index = typing.asked(patch)
        if index is not None:
            lab = typing.kind.lab(text)
            if isinstance(lab, str):
                return view(request, 422, **again, problem=lab)
            reason = doubt(typing.sheet.layout, typing.values, index, lab)
            if reason is not None and doubted != text:
                return view(request, 422, **again, problem=f"{reason}: again?", doubted=text)
            try:
                typing.save(index, lab)
            except BadInput as error:
                said = problem_words(error, request.app.state.root)
                return view(request, 422, **again, problem=said)
    own = address("paper", typing.paper.key)
    if len(typing.values) == len(typing.sheet.layout):
        return RedirectResponse(f"{own}?show={typing.target.name}", 303)
    return RedirectResponse(f"{own}/type/{address(typing.sheet.stem)[1:]}", 303)


ROUTES = (
    Route("/paper/{key}/type/{stem}", view),
    Route("/paper/{key}/type/{stem}", take, methods=["POST"]),
)
