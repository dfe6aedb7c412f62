// The page of proposed weeks. Everything works without: links and forms stand for all
// of it.
// [data-weeks] holds days ([data-round="day farrier"]) with stops ([data-stop="id"];
// those with data-carry can be carried): picking one up asks data-costs for what each
// day would cost, dropping it posts to data-move and puts the fresh page in place. A day
// under the pointer lights its line on the map.
import { carrying } from "./carry.js";

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

function before(day, target) {
  // Dropped on a stop: in front of it. Else where it fits best.
  const stop = target.closest("[data-stop]");
  if (!stop || !day.contains(stop)) return "";
  const others = [...day.querySelectorAll("[data-stop]:not(.is-carried)")];
  const at = others.indexOf(stop);
  return at < 0 ? "" : String(at);
}

// Costs, and on a phone the free days, come and go around this element.
function steadily(element, change) {
  const top = element.getBoundingClientRect().top;
  change();
  window.scrollBy({ top: element.getBoundingClientRect().top - top, behavior: "instant" });
}

function attach(weeks) {
  if (!weeks) return;
  let carried = null;
  let above = null;
  const label = () => {
    const said = above?.querySelector(":scope > [data-cost]")?.textContent;
    return [carried.dataset.name, above?.dataset.name, said].filter(Boolean).join(" · ");
  };
  carrying(weeks, {
    thing: "[data-carry]",
    place: "[data-round], [data-left]",
    begin(stop, say) {
      carried = stop;
      steadily(stop, () => weeks.classList.add("is-carrying"));
      say(label());
      const address = `${weeks.dataset.costs}?visit=${encodeURIComponent(stop.dataset.stop)}`;
      fetch(address, { credentials: "same-origin" })
        .then((answer) => (answer.ok ? answer.json() : { choices: [] }))
        .then((told) => {
          if (carried !== stop) return;
          steadily(above ?? stop, () => show(weeks, told.choices));
          say(label());
        })
        .catch(() => {});
    },
    over(day, say) {
      above?.classList.remove("is-over");
      above = day;
      above?.classList.add("is-over");
      say(label());
    },
    end(stop) {
      above?.classList.remove("is-over");
      const lasts = above && !above.closest(".is-free") ? above : stop;
      carried = above = null;
      steadily(lasts, () => {
        clear(weeks);
        weeks.classList.remove("is-carrying");
      });
    },
    drop(stop, day, target) {
      const to = day.dataset.round ?? "left";
      const position = day.dataset.round ? before(day, target) : "";
      move(weeks, { visit: stop.dataset.stop, to, position });
    },
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

attach(document.querySelector("[data-weeks]"));
