// <div class="stepper" data-stepper>
//   <button type="button" data-step="-1" aria-label="Less">−</button>
//   <input …  data-step-by="1" min="0" max="200">
//   <button type="button" data-step="1" aria-label="More">+</button>
// </div>
// One tap adds or takes data-step-by (or the input's own step). An empty field
// starts from data-step-from (last time's value) where there is one. Holding the
// button repeats. The input keeps its type: '3 1/4 in' stays typeable, and a
// value that isn't a plain number is left alone.
// With data-step-parts="16" on the input, '3 1/4' is a number too and is written so.
export function number(text) {
  const plain = text.trim().replace(",", ".");
  const parts = /^(?:(\d+)[\s-]+)?(\d+)\/(\d+)$/.exec(plain);
  if (parts) return Number(parts[1] || 0) + Number(parts[2]) / Number(parts[3]);
  return Number(plain);
}

export function fraction(value, parts) {
  let over = Math.round(value * parts);
  const whole = Math.floor(over / parts);
  over -= whole * parts;
  if (!over) return String(whole);
  let under = parts;
  while (over % 2 === 0) [over, under] = [over / 2, under / 2];
  return `${whole || ""} ${over}/${under}`.trim();
}

function decimals(text) {
  return (String(text).split(".")[1] || "").length;
}

export function stepped(value, { by, from, min, max, parts }) {
  const empty = value.trim() === "";
  const start = number(String(empty ? from || min || 0 : value));
  if (!Number.isFinite(start)) return null;
  let next = empty && from !== undefined && from !== "" ? start : start + by;
  if (min !== undefined && min !== "") next = Math.max(next, Number(min));
  if (max !== undefined && max !== "") next = Math.min(next, Number(max));
  if (parts) return fraction(next, Number(parts));
  return next.toFixed(Math.max(decimals(by), decimals(start)));
}

function press(button) {
  const input = button.closest("[data-stepper]").querySelector("input");
  const step = Number(input.dataset.stepBy || input.step || 1) || 1;
  const next = stepped(input.value, {
    by: step * Number(button.dataset.step),
    from: input.dataset.stepFrom,
    parts: input.dataset.stepParts,
    min: input.min || input.dataset.min,
    max: input.max || input.dataset.max,
  });
  if (next === null) return;
  input.value = next;
  input.dispatchEvent(new Event("input", { bubbles: true }));
  input.dispatchEvent(new Event("change", { bubbles: true }));
}

let holding = 0;
let held = false;
function release() {
  clearTimeout(holding);
  holding = 0;
}

document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-stepper] [data-step]");
  if (button && !held) press(button);
  held = false;
});
document.addEventListener("pointerdown", (event) => {
  const button = event.target.closest("[data-stepper] [data-step]");
  if (!button) return;
  release();
  held = false;
  const again = () => {
    held = true;
    press(button);
    holding = setTimeout(again, 90);
  };
  holding = setTimeout(again, 500);
});
for (const name of ["pointerup", "pointercancel", "pointerleave", "blur"]) {
  window.addEventListener(name, release);
}
document.addEventListener("contextmenu", release);
