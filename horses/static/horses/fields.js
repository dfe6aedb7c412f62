// Reading and filling the record form by field name, as [[name, value], …].
const NOT_KEPT = new Set(["csrfmiddlewaretoken", "revision", "photo"]);

export function typed(form) {
  return [...new FormData(form)].filter(
    ([name, value]) => typeof value === "string" && !NOT_KEPT.has(name),
  );
}

export function footOf(name) {
  return name.split("-")[0];
}

// The row of a ticked finding appears when its chip is ticked, from the template of
// its kind; a chip that is not ticked has none.
export function showSeen(form, chip) {
  const foot = footOf(chip.name);
  const rows = chip.closest("[data-panel]").querySelector("[data-seen-rows]");
  const there = rows.querySelector(`[data-seen-row="${CSS.escape(chip.value)}"]`);
  if (!chip.checked) {
    there?.remove();
    return;
  }
  const kind = chip.value.split("~")[0];
  const template = document.querySelector(`[data-seen-template="${CSS.escape(kind)}"]`);
  if (there || !template) return;
  const row = template.content.firstElementChild.cloneNode(true);
  row.dataset.seenRow = chip.value;
  for (const control of row.querySelectorAll("[name]")) {
    control.name = control.name.replace("FOOT-see-" + kind, `${foot}-see-${chip.value}`);
  }
  rows.append(row);
}

function controls(form, name) {
  const found = form.elements.namedItem(name);
  if (!found) return [];
  return found instanceof RadioNodeList ? [...found] : [found];
}

function fill(form, name, values, { add = false } = {}) {
  for (const control of controls(form, name)) {
    if (control.type === "checkbox" || control.type === "radio") {
      const wanted = values.includes(control.value);
      control.checked = add ? control.checked || wanted : wanted;
      if ("see" in control.dataset) showSeen(form, control);
    } else {
      control.value = values[0] ?? "";
    }
  }
}

// Chips of kinds first: the other fields of a finding hang on them.
export function fillAll(form, fields, options) {
  const names = Object.keys(fields).sort((a, b) => b.endsWith("-see") - a.endsWith("-see"));
  for (const name of names) fill(form, name, fields[name], options?.(name));
}

export function restore(form, pairs) {
  const fields = {};
  for (const control of form.elements) {
    if (!control.name || NOT_KEPT.has(control.name)) continue;
    if (["button", "submit", "file"].includes(control.type)) continue;
    fields[control.name] = [];
  }
  for (const [name, value] of pairs) (fields[name] ||= []).push(value);
  fillAll(form, fields);
}
