// What the pages do beyond forms and links. All of it works without this script as well, by hand.
"use strict";

// Work in progress: wait until it is done, then show what is there.
for (const box of document.querySelectorAll("[data-wait]")) {
  const begun = Date.now();
  const elapsed = box.querySelector(".elapsed");
  const clock = setInterval(() => {
    elapsed.textContent = `${Math.round((Date.now() - begun) / 1000)} s`;
  }, 1000);
  (async () => {
    for (;;) {
      const answer = await fetch(box.dataset.wait);
      if (!answer.ok || (await answer.json()).done) break;
    }
    clearInterval(clock);
    location.replace(location.pathname + location.search);
  })().catch(() => { clearInterval(clock); elapsed.textContent = "the page has ended"; });
}

// A print dries: how long still, and when it is dry, what comes next.
for (const box of document.querySelectorAll("[data-ready]")) {
  const ready = new Date(box.dataset.ready).getTime();
  const remaining = box.querySelector(".remaining");
  const tick = () => {
    const minutes = Math.ceil((ready - Date.now()) / 60000);
    const hours = Math.floor(minutes / 60);
    remaining.textContent = minutes > 0
      ? `${hours ? `${hours} h ` : ""}${minutes % 60} min to go.` : "It can be measured now.";
    if (minutes > 0) setTimeout(tick, 20000);
  };
  tick();
}

// What was sent once is not sent again by a second press; nor is a choice that Enter ends.
addEventListener("submit", event => {
  const form = event.target;
  const sent = form.method === "post" ? "true" : `${new URLSearchParams(new FormData(form))}`;
  if (form.dataset.sent === sent) event.preventDefault();
  form.dataset.sent = sent;
});
addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("[data-sent]")) delete form.dataset.sent;
});

// A choice redraws at once, and leaves one where one was, also when the page shows itself anew.
const CHOSEN = "greyscale-chosen";
for (const form of document.querySelectorAll("form.choices")) {
  let chosen;
  form.addEventListener("change", event => {
    chosen = event.target.name;
    form.requestSubmit();
  });
  addEventListener("pagehide", () => {
    const at = document.activeElement;
    const place = [location.pathname, form.contains(at) ? at.name : chosen, scrollY];
    if (place[1]) sessionStorage.setItem(CHOSEN, JSON.stringify(place));
  });
  const [path, name, down] = JSON.parse(sessionStorage.getItem(CHOSEN)) || [];
  sessionStorage.removeItem(CHOSEN);
  if (path !== location.pathname || !form.elements[name]) continue;
  form.elements[name].focus({ preventScroll: true });
  scrollTo(0, down);
}

// A file may be dropped anywhere: it goes where the first form for files would send it.
const files = document.querySelector(".drop input[type=file]");
if (files) {
  let depth = 0;
  const over = change => {
    depth = Math.max(0, depth + change);
    document.body.classList.toggle("dropping", depth > 0);
  };
  addEventListener("dragenter", () => over(1));
  addEventListener("dragleave", () => over(-1));
  addEventListener("dragover", event => event.preventDefault());
  addEventListener("drop", event => {
    event.preventDefault();
    over(-depth);
    if (!event.dataTransfer.files.length) return;
    // By what it says of itself, whichever sheet waits.
    const sheet = files.form.querySelector("[name=sheet]");
    if (sheet) sheet.disabled = true;
    files.files = event.dataTransfer.files;
    files.form.requestSubmit();
  });
}

// Pointing at a tone: the hairline through every row, and its numbers once, from the table.
for (const axis of document.querySelectorAll("[data-tones]")) {
  const rows = [...document.querySelectorAll(`#${axis.dataset.tones} tbody tr`)];
  const places = rows.map(row => parseFloat(row.dataset.x));
  const slider = axis.querySelector("input[type=range]");
  const hairline = axis.querySelector(".hairline");
  const ramp = axis.querySelector(".ramp .drawn");
  const numbers = axis.querySelectorAll(".readout dd");
  const heads = [...axis.querySelectorAll(".readout dt")].map(head => head.textContent);
  const show = () => {
    const cells = [...rows[slider.value].cells].map(cell => cell.textContent);
    cells.forEach((cell, index) => { numbers[index].textContent = cell; });
    slider.setAttribute("aria-valuetext", cells.map((cell, i) => `${heads[i]} ${cell}`).join(", "));
    const box = ramp.getBoundingClientRect();
    const left = box.left - axis.getBoundingClientRect().left;
    hairline.style.left = `${left + box.width * places[slider.value] / 100}px`;
    ramp.style.setProperty("--tone", `${places[slider.value]}%`);
    axis.dispatchEvent(new CustomEvent("tone", { detail: places[slider.value] / 100 }));
  };
  // The ends of the slider are the ends of the axis, but tones need not lie evenly on it.
  const point = event => {
    const box = ramp.getBoundingClientRect();
    const x = 100 * (event.clientX - box.left) / box.width;
    if (x < -2 || x > 102) return;
    let nearest = 0;
    places.forEach((place, index) => {
      if (Math.abs(place - x) < Math.abs(places[nearest] - x)) nearest = index;
    });
    slider.value = nearest;
    axis.dataset.pointed = "true";
    show();
  };
  for (const part of axis.querySelectorAll("[hidden]")) part.hidden = false;
  axis.addEventListener("pointermove", event => { if (event.target !== slider) point(event); });
  axis.addEventListener("pointerdown", event => { if (event.target !== slider) point(event); });
  slider.addEventListener("input", () => { axis.dataset.pointed = "true"; show(); });
  addEventListener("resize", show);
  show();
}

// Before and after in one place: the slider draws the line between them.
for (const box of document.querySelectorAll(".compare")) {
  const [before, after] = box.querySelectorAll("figure img");
  const slider = box.querySelector("input");
  const part = () => {
    before.style.clipPath = `inset(0 ${100 - slider.value}% 0 0)`;
    after.style.clipPath = `inset(0 0 0 ${slider.value}%)`;
    slider.setAttribute("aria-valuetext", `${slider.value} %`);
  };
  box.classList.add("together");
  slider.hidden = false;
  slider.addEventListener("input", part);
  for (const type of ["pointerdown", "pointermove"]) {
    box.addEventListener(type, event => {
      if (event.target === slider || !(event.buttons & 1)) return;
      const frame = before.getBoundingClientRect();
      slider.value = 100 * (event.clientX - frame.left) / frame.width;
      part();
    });
  }
  box.addEventListener("dragstart", event => event.preventDefault());
  part();
}

// A tone that is pointed at is lit in the picture: all others darken.
for (const box of document.querySelectorAll("[data-levels]")) {
  const axis = document.querySelector("[data-tones]");
  const image = new Image();
  let levels = null, lit = null;
  const canvas = document.createElement("canvas");
  canvas.setAttribute("aria-hidden", "true");
  const light = tone => {
    lit = tone;
    if (!levels) return;
    const drawing = canvas.getContext("2d");
    const veil = drawing.createImageData(canvas.width, canvas.height);
    for (let at = 0; at < levels.length; at += 4) {
      const far = Math.abs(levels[at] / 255 - tone) > 0.02;
      veil.data[at] = veil.data[at + 1] = veil.data[at + 2] = far ? 0 : 255;
      veil.data[at + 3] = far ? 150 : 235;
    }
    drawing.putImageData(veil, 0, 0);
  };
  image.addEventListener("load", () => {
    [canvas.width, canvas.height] = [image.naturalWidth, image.naturalHeight];
    const drawing = canvas.getContext("2d");
    drawing.drawImage(image, 0, 0);
    levels = drawing.getImageData(0, 0, canvas.width, canvas.height).data;
    drawing.clearRect(0, 0, canvas.width, canvas.height);
    box.append(canvas);
    if (lit !== null) light(lit);
  });
  image.src = box.dataset.levels;
  if (!axis) continue;
  const clear = () => {
    lit = null;
    canvas.getContext("2d").clearRect(0, 0, canvas.width, canvas.height);
  };
  axis.addEventListener("tone", event => { if (axis.dataset.pointed) light(event.detail); });
  axis.addEventListener("pointerleave", clear);
  axis.addEventListener("focusout", clear);
}

// What takes a moment comes when it is there.
for (const box of document.querySelectorAll("[data-later]")) {
  box.hidden = false;
  fetch(box.dataset.later).then(answer => answer.ok ? answer.text() : "").then(text => {
    const part = new DOMParser().parseFromString(text, "text/html");
    box.replaceChildren(...part.body.childNodes);
    dispatchEvent(new Event("resize"));
  }).catch(() => box.remove());
}
