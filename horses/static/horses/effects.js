// The figures follow what is tried; without this the button asks for the whole page.
const form = document.querySelector("[data-effects]");

let waiting = 0;
let latest = 0;

function asked(part) {
  const address = new URL(location.pathname, location.href);
  for (const [name, value] of new FormData(form)) address.searchParams.append(name, value);
  if (part) address.searchParams.set("part", "figures");
  return address;
}

async function follow() {
  const turn = ++latest;
  const place = form.querySelector("[data-effects-figures]");
  try {
    const answer = await fetch(asked(true), { credentials: "same-origin" });
    if ((!answer.ok && answer.status !== 422) || answer.redirected) return;
    const text = await answer.text();
    if (turn !== latest) return;
    place.innerHTML = text;
    history.replaceState(null, "", asked(false));
  } catch {
    // No signal: the figures stay as they were.
  }
}

form?.addEventListener("input", () => {
  clearTimeout(waiting);
  waiting = setTimeout(follow, 250);
});
