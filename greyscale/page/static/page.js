// What the pages do beyond forms and links. All of it works without this script as well, by hand.
"use strict";

// Work in progress: wait until it is done, then show what is there.
for (const box of document.querySelectorAll("[data-work]")) {
  const begun = Date.now();
  const elapsed = box.querySelector(".elapsed");
  const clock = setInterval(() => {
    elapsed.textContent = `${Math.round((Date.now() - begun) / 1000)} s`;
  }, 1000);
  (async () => {
    for (;;) {
      const answer = await fetch(`/work/${box.dataset.work}`);
      if (!answer.ok || (await answer.json()).done) break;
    }
    clearInterval(clock);
    location.replace(location.pathname + location.search);
  })().catch(() => { clearInterval(clock); elapsed.textContent = "the page has ended"; });
}

// A choice redraws at once.
for (const form of document.querySelectorAll("form.choices")) {
  form.addEventListener("change", () => form.requestSubmit());
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
