// The record page: tabs of feet, 'as last time', findings that unfold, the drawing
// that follows, and a draft on this phone until the server has said yes. Without it
// the same form works, all feet below each other, with buttons that ask the server.
import { forget, isAcknowledged, keep, kept } from "./drafts.js";
import { fillAll, footOf, restore, showSeen, typed } from "./fields.js";

const form = document.querySelector("[data-record]");
const record = form.dataset.record;
const revision = Number(form.dataset.revision);

// ---- Tabs -------------------------------------------------------------------------
const tabs = [...form.querySelectorAll("[data-tab]")];
const panels = [...form.querySelectorAll("[data-panel]")];

function show(name, { scroll = false } = {}) {
  for (const panel of panels) panel.hidden = panel.dataset.panel !== name;
  for (const tab of tabs) {
    if (tab.dataset.tab === name) tab.setAttribute("aria-current", "true");
    else tab.removeAttribute("aria-current");
  }
  sessionStorage.setItem("clenchline-tab", `${record} ${name}`);
  if (scroll) form.querySelector("[data-tabs]").scrollIntoView({ block: "start" });
}

function firstPanel() {
  const wrong = panels.find((panel) => panel.querySelector(".error, [aria-invalid]"));
  if (wrong) return wrong.dataset.panel;
  const asked = panels.find((panel) => `#${panel.dataset.panel}` === location.hash);
  if (asked) return asked.dataset.panel;
  const [before, name] = (sessionStorage.getItem("clenchline-tab") || "").split(" ");
  return before === record && name ? name : panels[0].dataset.panel;
}

for (const tab of tabs) {
  tab.addEventListener("click", (event) => {
    event.preventDefault();
    show(tab.dataset.tab, { scroll: true });
  });
}
show(firstPanel());

// ---- The drawing follows ----------------------------------------------------------
const waiting = {};
async function look(foot) {
  const place = form.querySelector(`[data-foot-look="${foot}"]`);
  const body = new FormData(form);
  body.delete("photo");
  try {
    const answer = await fetch(form.dataset.look.replace("FOOT", foot), {
      method: "POST",
      body,
      credentials: "same-origin",
    });
    if (!answer.ok || answer.redirected) return;
    const wasOpen = place.querySelector("details")?.open;
    place.innerHTML = await answer.text();
    const details = place.querySelector("details");
    if (details && wasOpen !== undefined) details.open = wasOpen;
  } catch {
    // No signal: the drawing waits, nothing typed is lost.
  }
}

function follow(foot) {
  if (!form.querySelector(`[data-foot-look="${foot}"]`)) return;
  clearTimeout(waiting[foot]);
  waiting[foot] = setTimeout(() => look(foot), 450);
}

// ---- Draft ------------------------------------------------------------------------
const state = form.querySelector("[data-draft-state]");
const notice = document.querySelector("[data-draft-notice]");
let isDirty = false;

function remember(sent = false) {
  const draft = { revision, at: Date.now(), sent, fields: typed(form) };
  const done = keep(record, draft);
  if (!sent) state.textContent = done ? "Kept on this phone, not saved yet" : "Not saved yet";
}

function say(words, { canRestore = false } = {}) {
  notice.hidden = false;
  notice.querySelector("[data-draft-words]").textContent = words;
  notice.querySelector("[data-draft-restore]").hidden = !canRestore;
  notice.querySelector("[data-draft-forget]").hidden = false;
}

function bringBack(draft) {
  restore(form, draft.fields);
  isDirty = true;
  for (const panel of panels) follow(panel.dataset.panel);
}

const asShown = JSON.stringify(typed(form));
const isRefused = Boolean(document.querySelector(".error-summary"));
const draft = kept(record);
const same = draft && JSON.stringify(draft.fields) === asShown;
if (draft && (isAcknowledged(draft, revision) || (same && !isRefused))) {
  forget(record);
} else if (draft && !same && draft.revision === revision) {
  bringBack(draft);
  say("What you typed here and had not saved is back. Look it over and save.");
} else if (draft && !same) {
  const when = new Date(draft.at).toLocaleString();
  say(`This phone holds what was typed on ${when}. Someone saved the record since.`, {
    canRestore: true,
  });
}
notice.querySelector("[data-draft-restore]").addEventListener("click", () => {
  bringBack(draft);
  notice.hidden = true;
});
notice.querySelector("[data-draft-forget]").addEventListener("click", () => {
  isDirty = false;
  forget(record);
  location.reload();
});

let pause = 0;
function changed(foot) {
  isDirty = true;
  clearTimeout(pause);
  pause = setTimeout(remember, 250);
  follow(foot);
}

form.addEventListener("input", (event) => changed(footOf(event.target.name || "")));
form.addEventListener("change", (event) => {
  if ("see" in event.target.dataset) showSeen(form, event.target);
  changed(footOf(event.target.name || ""));
});
window.addEventListener("pagehide", () => {
  if (isDirty) remember(kept(record)?.sent);
});

form.addEventListener("submit", (event) => {
  clearTimeout(pause);
  remember();
  if (!navigator.onLine) {
    event.preventDefault();
    state.textContent = "No signal: all is kept on this phone. Save again when there is one.";
    return;
  }
  isDirty = false;
  // What the server itself showed needs no keeping; what it refused does.
  if (!isRefused && JSON.stringify(typed(form)) === asShown) forget(record);
  else remember(true);
});

// ---- As last time, copy to the pair, tap on last time's value ------------------------
const repeat = JSON.parse(form.dataset.repeat || "{}");

function asLast(which) {
  const fields = Object.fromEntries(
    Object.entries(repeat).filter(([name]) => which === "all" || footOf(name) === which),
  );
  fillAll(form, fields, (name) => ({ add: name.endsWith("-see") }));
  for (const foot of new Set(Object.keys(fields).map(footOf))) changed(foot);
}

const MATE = { LF: "RF", RF: "LF", LH: "RH", RH: "LH" };
function copyToMate(foot) {
  const fields = {};
  for (const control of form.elements) {
    const field = (control.name || "").slice(3);
    if (footOf(control.name || "") !== foot) continue;
    if (field !== "work" && !field.startsWith("shoe_")) continue;
    const values = (fields[`${MATE[foot]}-${field}`] ||= []);
    const counts = !["checkbox", "radio"].includes(control.type) || control.checked;
    if (counts) values.push(control.value);
  }
  fillAll(form, fields);
  changed(MATE[foot]);
  state.textContent = `Work and shoe copied to ${MATE[foot]}`;
}

form.addEventListener("click", (event) => {
  const last = event.target.closest("[data-as-last]");
  const copy = event.target.closest("[data-copy]");
  const value = event.target.closest("[data-fills]");
  if (last) {
    event.preventDefault();
    asLast(last.dataset.asLast);
  } else if (copy) {
    event.preventDefault();
    copyToMate(copy.dataset.copy);
  } else if (value) {
    const input = value.closest(".field").querySelector("input");
    input.value = value.textContent.trim();
    input.dispatchEvent(new Event("change", { bubbles: true }));
  }
});
for (const last of form.querySelectorAll(".measures .last-time")) last.dataset.fills = "";
