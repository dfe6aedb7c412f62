// Ticking horses for a round.
// <form data-choose>: [data-group] holds the horses of one barn; its [data-all] ticks
// them all; [data-chosen] shows how many are ticked. A pin of the map (data-mark, the
// barn's key) ticks the barn with data-barn. data-live="outlook" asks the page anew
// (do=look) after a change and puts its #outlook in place: nothing is kept by that.
const WAIT_MS = 500;

function boxes(place) {
  return [...place.querySelectorAll('input[type="checkbox"][name="horse"]')];
}

function count(form) {
  const ticked = boxes(form).filter((box) => box.checked).length;
  for (const place of form.querySelectorAll("[data-chosen]")) place.textContent = ticked;
  for (const group of form.querySelectorAll("[data-group]")) {
    const all = group.querySelector("[data-all]");
    const own = boxes(group);
    if (all) {
      all.checked = own.every((box) => box.checked);
      all.indeterminate = !all.checked && own.some((box) => box.checked);
    }
    group.classList.toggle("hot", own.some((box) => box.checked));
  }
}

function tick(group, on) {
  for (const box of boxes(group)) box.checked = on;
  group.dispatchEvent(new Event("change", { bubbles: true }));
}

function attach(form) {
  for (const label of form.querySelectorAll(".all-of")) label.hidden = false;
  form.addEventListener("change", (event) => {
    const group = event.target.closest?.("[data-group]");
    if (event.target.matches?.("[data-all]") && group) {
      for (const box of boxes(group)) box.checked = event.target.checked;
    }
    count(form);
    if (form.dataset.live) look(form);
  });
  form.addEventListener("click", (event) => {
    const pin = event.target.closest?.("[data-mark]");
    const group = pin && form.querySelector(`[data-barn="${pin.dataset.mark}"]`);
    if (!group) return;
    event.preventDefault();
    tick(group, !boxes(group).some((box) => box.checked));
  });
  window.addEventListener("pageshow", () => count(form));
  count(form);
}

let timer;
let asked = 0;

function look(form) {
  clearTimeout(timer);
  timer = setTimeout(() => fetchLook(form), WAIT_MS);
}

async function fetchLook(form) {
  const mine = ++asked;
  const place = document.getElementById(form.dataset.live);
  const body = new FormData(form);
  body.set("do", "look");
  place.setAttribute("aria-busy", "true");
  try {
    const answer = await fetch(form.action || location.href, {
      method: "POST",
      body,
      credentials: "same-origin",
    });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const fresh = page.getElementById(form.dataset.live);
    if (mine === asked && fresh && (answer.ok || answer.status === 422)) {
      place.replaceChildren(...fresh.childNodes);
    }
  } catch {
    // No signal: the button 'Reckon' is still there.
  } finally {
    if (mine === asked) place.removeAttribute("aria-busy");
  }
}

for (const form of document.querySelectorAll("form[data-choose]")) attach(form);
