"use strict";

// What the page can do without: tables sort, figures are saved from the page itself.

const numberIn = text => parseFloat(text.replace(/−/g, "-").replace(/^[^\d-]+/, ""));

function byColumn(column, sign) {
  return (one, other) => {
    const [a, b] = [one, other].map(row => row.cells[column].textContent.trim());
    const [x, y] = [a, b].map(numberIn);
    if (Number.isNaN(x) !== Number.isNaN(y)) return Number.isNaN(x) ? 1 : -1;
    return sign * (Number.isNaN(x) ? a.localeCompare(b) : x - y);
  };
}

function sortable(table) {
  const body = table.tBodies[0], asGiven = [...body.rows], heads = [...table.tHead.rows[0].cells];
  heads.forEach((head, column) => {
    if (!head.textContent.trim()) return;
    if (!asGiven.some(row => row.cells[column].textContent.trim())) return;
    const button = document.createElement("button");
    button.type = "button";
    button.append(...head.childNodes);
    head.append(button);
    button.addEventListener("click", () => {
      const next = { ascending: "descending", descending: null }[head.getAttribute("aria-sort")];
      const order = next === undefined ? "ascending" : next;
      heads.forEach(other => other.removeAttribute("aria-sort"));
      if (order) head.setAttribute("aria-sort", order);
      const sorted = [...asGiven];
      if (order) sorted.sort(byColumn(column, order === "ascending" ? 1 : -1));
      body.append(...sorted);
    });
  });
}

// A file for itself: with the definitions it uses, in the inks of a light page.
function standalone(figure) {
  const copy = figure.querySelector("svg.wide").cloneNode(true);
  const inks = JSON.parse(document.documentElement.dataset.inks);
  const used = new Set(copy.outerHTML.match(/#d\d+(?=["')])/g));
  const definitions = document.createElementNS(copy.namespaceURI, "defs");
  used.forEach(id => definitions.append(document.querySelector(id).cloneNode(true)));
  copy.prepend(definitions);
  const [, , width, height] = copy.getAttribute("viewBox").split(" ");
  for (const [name, value] of Object.entries({
    width: `${width}pt`, height: `${height}pt`, style: "stroke-linejoin:round;stroke-linecap:butt",
  })) copy.setAttribute(name, value);
  copy.removeAttribute("class");
  return new XMLSerializer().serializeToString(copy).replace(/var\(--([\w-]+)\)/g, (_, name) => inks[name]);
}

function keep(blob, name) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
}

function save(event) {
  event.preventDefault();
  const svg = standalone(event.currentTarget.closest("figure"));
  keep(new Blob([svg], { type: "image/svg+xml" }), event.currentTarget.download);
}

document.querySelectorAll("table.sorts").forEach(sortable);
document.querySelectorAll("a.save").forEach(link => link.addEventListener("click", save));
