// What each weight means follows what is typed; without this, Keep shows it.
const form = document.querySelector("[data-weights]");

let waiting = 0;
let latest = 0;

async function follow() {
  const turn = ++latest;
  const address = new URL(form.dataset.weights, location.href);
  for (const place of form.querySelectorAll("[data-example]")) {
    const name = place.dataset.example;
    address.searchParams.set(name, new FormData(form).get(name) ?? "");
  }
  try {
    const answer = await fetch(address, { credentials: "same-origin" });
    if (!answer.ok || answer.redirected) return;
    const said = await answer.json();
    if (turn !== latest) return;
    for (const place of form.querySelectorAll("[data-example]")) {
      const words = said[place.dataset.example];
      if (words && words !== place.textContent) place.textContent = words;
    }
  } catch {
    // No signal: the examples stay as they were.
  }
}

form?.addEventListener("input", () => {
  clearTimeout(waiting);
  waiting = setTimeout(follow, 250);
});
