// The plan as it is typed: drawn and reckoned by the server a moment after each change,
// and a slider under each value at a place. Without it the button 'Reckon' does the same.
const form = document.querySelector("[data-plan]");
const look = form.querySelector("[data-plan-look]");
let waiting = 0;
let asked = 0;

async function redraw() {
  const mine = ++asked;
  try {
    const answer = await fetch(form.dataset.look, {
      method: "POST",
      body: new URLSearchParams(new FormData(form)),
      credentials: "same-origin",
    });
    if (!answer.ok || mine !== asked) return;
    const text = await answer.text();
    if (mine !== asked) return;
    const open = [...look.querySelectorAll("[data-keep][open]")].map((fold) => fold.dataset.keep);
    look.innerHTML = text;
    for (const name of open) look.querySelector(`[data-keep="${name}"]`)?.setAttribute("open", "");
    for (const fault of form.querySelectorAll(".plan-fields .error")) fault.remove();
  } catch {
    // No signal: what is typed stays, and the next change asks again.
  }
}

function soon() {
  clearTimeout(waiting);
  waiting = setTimeout(redraw, 180);
}
form.addEventListener("input", soon);
form.addEventListener("change", soon);

// ---- Sliders -----------------------------------------------------------------------
const [reach, step] = { mm: [12, 0.5], cm: [1.2, 0.1], in: [0.5, 0.0625] }[form.dataset.unit] || [12, 0.5];

function plain(text) {
  const value = Number(text.trim().replace("−", "-").replace(",", ".") || 0);
  return Number.isFinite(value) ? value : null;
}

for (const input of form.querySelectorAll("[data-place] .stepper > input")) {
  const slide = document.createElement("input");
  slide.type = "range";
  slide.className = "plan-slide";
  slide.min = input.name.startsWith("extension") ? 0 : -reach;
  slide.max = reach;
  slide.step = step;
  slide.value = plain(input.value) ?? 0;
  slide.tabIndex = -1; // the keyboard has the field beside it
  slide.setAttribute("aria-label", `${input.labels[0]?.textContent.trim() ?? ""}, slider`);
  slide.addEventListener("input", () => {
    input.value = slide.value === "0" ? "" : slide.value;
  });
  input.addEventListener("input", () => {
    slide.value = plain(input.value) ?? 0;
  });
  input.closest(".field").append(slide);
}

// ---- What each place says, beside its name -----------------------------------------
function tell(fold) {
  const said = [];
  for (const input of fold.querySelectorAll(".stepper > input")) {
    const text = input.value.trim();
    if (text && plain(text) !== 0) said.push(`${input.name.split("_")[0]} ${text}`);
  }
  fold.querySelector("summary .soft").textContent = said.join(", ");
}
for (const fold of form.querySelectorAll("[data-place]")) {
  fold.addEventListener("input", () => tell(fold));
}
