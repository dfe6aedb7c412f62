// Work in the background, watched: [data-watch="URL"] is a piece of a page that is asked
// anew until the work has ended (X-Unfinished: 0). Then the page is loaded anew where
// data-watch-then="reload" says so. A change is looked for again after a second, no
// change and no answer after longer and longer; a page that nobody sees waits.
// Its first heading is told to screen readers when it changes, in [role="status"] next
// to it.
const FIRST_MS = 1000;
const CALM_MS = 8000;
const SILENT_MS = 30000;

function later(ms, most) {
  return Math.min(most, ms * 1.6);
}

function seen() {
  if (!document.hidden) return Promise.resolve();
  return new Promise((go) => document.addEventListener("visibilitychange", go, { once: true }));
}

function say(place) {
  const status = place.parentElement.querySelector('[role="status"]');
  const word = place.querySelector("h2, [data-watch-word]")?.textContent.trim() ?? "";
  if (status && status.textContent !== word) status.textContent = word;
}

async function watch(place) {
  let wait = FIRST_MS;
  let last = "";
  for (;;) {
    await new Promise((go) => setTimeout(go, wait));
    await seen();
    try {
      const answer = await fetch(place.dataset.watch, { credentials: "same-origin" });
      if (!answer.ok) throw new Error(answer.status);
      const text = await answer.text();
      const isOver = answer.headers.get("X-Unfinished") === "0";
      if (isOver && place.dataset.watchThen === "reload") {
        location.reload();
        return;
      }
      wait = text === last ? later(wait, CALM_MS) : FIRST_MS;
      // Not while a control in it is in use.
      if (text !== last && !place.contains(document.activeElement)) {
        place.innerHTML = text;
        last = text;
        say(place);
      }
      if (isOver && text === last) return;
    } catch {
      wait = later(wait, SILENT_MS);
    }
  }
}

for (const place of document.querySelectorAll("[data-watch]")) watch(place);
