"""What a reader does with a report in a browser: sorts, switches, saves a figure."""

import re
from xml.etree import ElementTree

import pytest
from support.browser import look, needs_browser

pytestmark = needs_browser


def said(browser, page: str, expression: str, folder):
    """Open a page, do something in it, and give what that says."""
    seen = look(browser, page, 1000, folder)
    assert seen["console"] == []
    return browser.run(expression)


@pytest.fixture
def page(pages):
    return pages["analysis"]


@pytest.fixture
def compared(pages):
    return pages["comparison"]


COLUMN = """(() => {
  const heads = [...document.querySelectorAll("th")].filter(th => th.textContent === "a*");
  const head = heads.at(-1), table = head.closest("table"), column = head.cellIndex;
  const values = () => [...table.tBodies[0].rows].map(row => row.cells[column].textContent);
  const states = [[head.getAttribute("aria-sort"), values()]];
  for (let i = 0; i < 3; i++) {
    head.querySelector("button").click();
    states.push([head.getAttribute("aria-sort"), values()]);
  }
  return states;
})()"""


def numbers(texts):
    return [float(text.replace("−", "-")) for text in texts]


def test_a_table_sorts_up_then_down_then_as_it_was(browser, page, tmp_path):
    given, up, down, again = said(browser, page, COLUMN, tmp_path)
    assert [state for state, _ in (given, up, down, again)] == [
        None, "ascending", "descending", None,
    ]  # fmt: skip
    assert numbers(up[1]) == sorted(numbers(given[1]))
    assert numbers(down[1]) == sorted(numbers(given[1]), reverse=True)
    assert again[1] == given[1]
    assert min(numbers(given[1])) < 0 < max(numbers(given[1]))


def test_a_column_of_swatches_offers_no_sorting(browser, page, tmp_path):
    buttons = """[...document.querySelectorAll("th")].filter(
        th => th.textContent === "tone").map(th => th.querySelectorAll("button").length)"""
    assert said(browser, page, buttons, tmp_path) == [0]


SAVE = """(() => {
  const kept = [];
  URL.createObjectURL = blob => { kept.push(blob.type); return "blob:kept"; };
  HTMLAnchorElement.prototype.click = function () { kept.push(this.download); };
  const figure = document.querySelectorAll("figure")[1];
  figure.querySelector("a.save").dispatchEvent(new Event("click", { cancelable: true }));
  return [...kept, standalone(figure)];
})()"""


def test_a_figure_is_saved_as_a_file_for_itself_in_light_inks(browser, page, tmp_path):
    kind, name, svg = said(browser, page, SAVE, tmp_path)
    assert (kind, name) == ("image/svg+xml", "drift.svg")
    root = ElementTree.fromstring(svg)
    assert root.get("width") == "540pt"
    assert "var(" not in svg
    assert "#1a1a1a" in svg
    used = set(re.findall(r'(?:href="#|url\(#)(d\d+)', svg))
    assert used
    assert used == set(re.findall(r' id="(d\d+)"', svg))


def test_without_script_the_figures_file_is_beside_the_page(page):
    links = re.findall(r'class="save" href="([^"]*)" download="([^"]*)"', page)
    names = ("ramp", "drift", "path", "tone", "metamerism")
    assert links == [(f"figures/{name}.svg", f"{name}.svg") for name in names]


SWITCHED = """(() => {
  const shown = () => [...document.querySelectorAll(".switch .case")].filter(
    part => getComputedStyle(part).display !== "none").map(
    part => part.querySelector(".case-name").textContent);
  const states = [shown()];
  for (const label of [...document.querySelectorAll(".switch label")].slice(1, 3)) {
    label.click();
    states.push(shown());
  }
  return states;
})()"""


def test_the_light_is_switched(browser, compared, tmp_path):
    assert said(browser, compared, SWITCHED, tmp_path) == [["D50"], ["A"], ["LED-B3"]]


def test_of_several_readings_each_has_its_own_switch(browser, pages, tmp_path):
    first, second, third = said(browser, pages["analyses"], SWITCHED, tmp_path)
    assert first == ["D50", "D50"]
    assert second == ["A", "D50"]
    assert third == ["F11", "D50"]


def test_before_and_after_are_seen_in_the_same_place(browser, pages, tmp_path):
    assert said(browser, pages["verification"], SWITCHED, tmp_path) == [
        ["before"],
        ["predicted"],
        ["after"],
    ]


def test_the_switch_needs_no_script(compared):
    own = re.sub(r"<script>.*?</script>", "", compared, flags=re.DOTALL)
    assert own.count('type="radio"') == 3
    assert "onclick" not in own
    assert ".switch input:checked + label + .case { display: block; }" in own
