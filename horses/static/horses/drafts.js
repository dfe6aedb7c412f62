// What was typed and not yet acknowledged stays on this phone, by record:
// { revision, at, sent, fields: [[name, value], …] }. A draft is dropped once the
// server shows a later revision than the one it was sent from, never before.
const PREFIX = "clenchline-record-";

function store() {
  try {
    return window.localStorage;
  } catch {
    return null; // storage is off: nothing is kept, everything else works
  }
}

export function kept(record) {
  try {
    return JSON.parse(store()?.getItem(PREFIX + record) || "null");
  } catch {
    return null;
  }
}

export function keep(record, draft) {
  try {
    store()?.setItem(PREFIX + record, JSON.stringify(draft));
    return Boolean(store());
  } catch {
    return false; // full
  }
}

export function forget(record) {
  store()?.removeItem(PREFIX + record);
}

export function isAcknowledged(draft, revision) {
  return Boolean(draft.sent) && revision > draft.revision;
}

// <li data-draft-of="record" data-revision="2"> with <span data-draft-badge hidden>:
// shows where this phone still holds something unsent.
for (const row of document.querySelectorAll("[data-draft-of]")) {
  const draft = kept(row.dataset.draftOf);
  if (!draft) continue;
  if (isAcknowledged(draft, Number(row.dataset.revision))) forget(row.dataset.draftOf);
  else row.querySelector("[data-draft-badge]")?.removeAttribute("hidden");
}
