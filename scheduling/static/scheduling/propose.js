// The page of proposed weeks. Everything works without: links and forms stand for all
// of it.
// [data-progress="URL"] is asked anew every second until the search has ended.
// [data-weeks] holds days ([data-round="day farrier"]) with stops ([data-stop="id"],
// draggable): picking one up asks data-costs for what each day would cost, dropping it
// posts to data-move and puts the fresh page in place. A day under the pointer lights
// its line on the map.
const AGAIN_MS = 1000;

async function watch(place) {
  try {
    const answer = await fetch(place.dataset.progress, { credentials: "same-origin" });
    if (answer.ok) {
      if (answer.headers.get("X-Unfinished") === "0") {
        location.reload();
        return;
      }
      place.innerHTML = await answer.text();
    }
  } catch {
    // No signal: asked again.
  }
  setTimeout(() => watch(place), AGAIN_MS);
}

function words(choice) {
  if (choice.refusal) return choice.refusal;
  const drive = `${choice.drive >= 0 ? "+" : "−"}${Math.abs(choice.drive)} min drive`;
  if (!choice.off) return `${drive}, on its day`;
  const days = Math.abs(choice.off);
  return `${drive}, ${days} day${days > 1 ? "s" : ""} ${choice.off > 0 ? "late" : "early"}`;
}

function show(weeks, choices) {
  const best = choices.find((one) => !one.refusal && !one.here);
  for (const one of choices) {
    const day = weeks.querySelector(`[data-round="${one.key}"]`);
    const said = day?.querySelector("[data-cost]");
    if (!said) continue;
    said.textContent = words(one);
    said.hidden = false;
    day.classList.add(one.refusal ? "takes-not" : "takes");
    day.classList.toggle("takes-best", one === best);
  }
}

function clear(weeks) {
  for (const said of weeks.querySelectorAll("[data-cost]")) said.hidden = true;
  for (const day of weeks.querySelectorAll("[data-round]")) {
    day.classList.remove("takes", "takes-not", "takes-best", "is-over");
  }
}

async function move(weeks, fields) {
  const body = new FormData(weeks.querySelector("form[data-move-form]"));
  for (const [name, value] of Object.entries(fields)) body.set(name, value);
  weeks.setAttribute("aria-busy", "true");
  const answer = await fetch(weeks.dataset.move, {
    method: "POST",
    body,
    credentials: "same-origin",
  });
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const fresh = page.querySelector("[data-proposal]");
  const old = document.querySelector("[data-proposal]");
  if (!fresh || !old) {
    location.reload();
    return;
  }
  old.replaceWith(document.adoptNode(fresh));
  attach(document.querySelector("[data-weeks]"));
  document.querySelector(`[data-stop="${fields.visit}"] a`)?.focus();
}

function before(day, event) {
  // Dropped on a stop: in front of it. Else where it fits best.
  const stop = event.target.closest("[data-stop]");
  if (!stop || !day.contains(stop)) return "";
  const others = [...day.querySelectorAll("[data-stop]:not(.is-dragged)")];
  const at = others.indexOf(stop);
  return at < 0 ? "" : String(at);
}

function attach(weeks) {
  if (!weeks) return;
  let dragged = null;
  weeks.addEventListener("dragstart", (event) => {
    const stop = event.target.closest("[data-stop]");
    if (!stop) return;
    dragged = stop;
    stop.classList.add("is-dragged");
    event.dataTransfer.effectAllowed = "move";
    event.dataTransfer.setData("text/plain", stop.dataset.stop);
    const address = `${weeks.dataset.costs}?visit=${encodeURIComponent(stop.dataset.stop)}`;
    fetch(address, { credentials: "same-origin" })
      .then((answer) => (answer.ok ? answer.json() : { choices: [] }))
      .then((told) => dragged === stop && show(weeks, told.choices))
      .catch(() => {});
  });
  weeks.addEventListener("dragend", () => {
    dragged?.classList.remove("is-dragged");
    dragged = null;
    clear(weeks);
  });
  weeks.addEventListener("dragover", (event) => {
    const day = event.target.closest("[data-round], [data-left]");
    if (!dragged || !day) return;
    event.preventDefault();
    for (const other of weeks.querySelectorAll(".is-over")) other.classList.remove("is-over");
    day.classList.add("is-over");
  });
  weeks.addEventListener("drop", (event) => {
    const day = event.target.closest("[data-round], [data-left]");
    if (!dragged || !day) return;
    event.preventDefault();
    const visit = dragged.dataset.stop;
    const to = day.dataset.round ?? "left";
    move(weeks, { visit, to, position: day.dataset.round ? before(day, event) : "" });
  });
  const light = (event, on) => {
    const day = event.target.closest?.("[data-round]");
    if (!day) return;
    const line = document.querySelector(`[data-line="${day.dataset.round}"]`);
    line?.classList.toggle("is-lit", on);
  };
  for (const name of ["pointerover", "focusin"]) weeks.addEventListener(name, (e) => light(e, true));
  for (const name of ["pointerout", "focusout"]) weeks.addEventListener(name, (e) => light(e, false));
}

for (const place of document.querySelectorAll("[data-progress]")) watch(place);
attach(document.querySelector("[data-weeks]"));
