// Measuring on a photo: marks are set and moved by touch, mouse and keyboard. The form's
// number fields are what is kept; this module moves them, draws marks and lines, shows
// what lies under a finger, and asks the server for the figures. It reckons no figure.
const form = document.querySelector("[data-marks]");
const board = form.querySelector("[data-board]");
const loupe = form.querySelector("[data-loupe]");
const loupeView = form.querySelector("[data-loupe-view]");
const now = form.querySelector("[data-now]");
const state = form.querySelector("[data-state]");
const takeOff = form.querySelector("[data-take-off]");
const place = form.querySelector("[data-figures-place]");
const { width, height } = board.viewBox.baseVal;

// Shown pixels around a mark within which a finger takes it; nearer while a mark is
// still to be set, which may be wanted beside another.
const REACH = 26;
const NEAR_REACH = 12;
const MAGNIFIES = 4;
const spots = [...form.querySelectorAll("[data-spot]")];
const names = spots.map((spot) => spot.dataset.spot);
const nodes = Object.fromEntries(
  [...board.querySelectorAll("[data-mark]")].map((node) => [node.dataset.mark, node]),
);
const lines = [...board.querySelectorAll("[data-line]")];
const field = (name, axis) => form.elements[`${name}_${axis}`];
const spotOf = (name) => spots[names.indexOf(name)];

// ---- Where marks are --------------------------------------------------------------
function at(name) {
  const [x, y] = [field(name, "x").value, field(name, "y").value];
  if (x.trim() === "" || y.trim() === "" || Number.isNaN(+x) || Number.isNaN(+y)) return null;
  return [+x, +y];
}

// Picture pixels in one pixel of the screen.
const px = () => 1 / board.getScreenCTM().a;

function onPicture(event) {
  const point = new DOMPoint(event.clientX, event.clientY);
  const { x, y } = point.matrixTransform(board.getScreenCTM().inverse());
  return [x, y];
}

function drawMark(name) {
  const point = at(name);
  const node = nodes[name];
  if (point) {
    node.removeAttribute("display");
    node.setAttribute("transform", `translate(${point[0]} ${point[1]}) scale(${px()})`);
  } else {
    node.setAttribute("display", "none");
  }
  const { label } = spotOf(name).dataset;
  const where = point ? `, ${Math.round(point[0])} across, ${Math.round(point[1])} down` : "";
  node.setAttribute("aria-label", `${names.indexOf(name) + 1}: ${label}${where}`);
  spotOf(name).querySelector("[data-set]").textContent = point ? "✓" : "";
}

function drawLines() {
  for (const line of lines) {
    const [one, other] = line.dataset.line.split(" ").map(at);
    if (!one || !other) {
      line.setAttribute("display", "none");
      continue;
    }
    line.removeAttribute("display");
    for (const each of line.children) {
      each.setAttribute("x1", one[0]);
      each.setAttribute("y1", one[1]);
      each.setAttribute("x2", other[0]);
      each.setAttribute("y2", other[1]);
    }
  }
}

function draw() {
  for (const name of names) drawMark(name);
  drawLines();
}

function put(name, x, y) {
  field(name, "x").value = Math.min(Math.max(x, 0), width).toFixed(1);
  field(name, "y").value = Math.min(Math.max(y, 0), height).toFixed(1);
  changed(name);
}

function clear(name) {
  field(name, "x").value = "";
  field(name, "y").value = "";
  changed(name);
}

function changed(name) {
  drawMark(name);
  drawLines();
  isDirty = true;
  state.textContent = "Moved, not saved yet";
  ask();
}

// ---- Which mark is at hand --------------------------------------------------------
let current = null;

function select(name) {
  current = name;
  for (const spot of spots) {
    const isNow = spot.dataset.spot === name;
    spot.setAttribute("aria-pressed", String(isNow));
    nodes[spot.dataset.spot].classList.toggle("is-now", isNow);
  }
  takeOff.disabled = !name || !at(name);
  if (!name) {
    now.textContent = "All marks are set. Drag one to move it.";
    return;
  }
  const { label, hint } = spotOf(name).dataset;
  const way = at(name) ? "Drag it to move it." : "Tap where it is.";
  now.textContent = `${names.indexOf(name) + 1} of ${names.length}: ${label}, ${hint}. ${way}`;
}

const nextOf = () => names.find((name) => !at(name)) ?? null;

// ---- The magnifier ----------------------------------------------------------------
function magnify(name) {
  const point = at(name);
  loupe.hidden = !point;
  if (!point) return;
  const side = (loupe.clientWidth * px()) / MAGNIFIES;
  const [x, y] = point;
  loupeView.setAttribute("viewBox", `${x - side / 2} ${y - side / 2} ${side} ${side}`);
  loupe.classList.toggle("is-right", x < width / 2);
}

const putLoupeAway = () => {
  loupe.hidden = true;
};

// ---- Finger and mouse -------------------------------------------------------------
let held = null;

function within(point, isNew) {
  const reach = (isNew ? NEAR_REACH : REACH) * px();
  const far = (name) => {
    const mark = at(name);
    return mark ? Math.hypot(mark[0] - point[0], mark[1] - point[1]) : Infinity;
  };
  if (current && far(current) <= reach) return current;
  const nearest = names.reduce((a, b) => (far(b) < far(a) ? b : a));
  return far(nearest) <= reach ? nearest : null;
}

board.addEventListener("pointerdown", (event) => {
  if (!event.isPrimary || event.button !== 0) return;
  const point = onPicture(event);
  const taken = within(point, current !== null && !at(current));
  const name = taken ?? current;
  if (name === null) return;
  event.preventDefault();
  const before = at(name);
  held = { name, before, offset: [0, 0] };
  board.setPointerCapture(event.pointerId);
  if (name !== current) select(name);
  nodes[name].focus({ preventScroll: true });
  if (taken) {
    // After the words above the picture have changed, and may have moved it.
    const [x, y] = onPicture(event);
    held.offset = [before[0] - x, before[1] - y];
  } else {
    put(name, ...point);
  }
  magnify(name);
});

board.addEventListener("pointermove", (event) => {
  if (!held || !event.isPrimary) return;
  const [x, y] = onPicture(event);
  put(held.name, x + held.offset[0], y + held.offset[1]);
  magnify(held.name);
});

board.addEventListener("pointerup", (event) => {
  if (!held || !event.isPrimary) return;
  const { name } = held;
  held = null;
  putLoupeAway();
  select(nextOf() ?? name);
});

// Two fingers zoom the page: the mark goes back to where it was.
board.addEventListener("pointercancel", () => {
  if (!held) return;
  const { name, before } = held;
  held = null;
  if (before) put(name, ...before);
  else clear(name);
  putLoupeAway();
});

// ---- Keyboard ---------------------------------------------------------------------
const STEPS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

for (const name of names) {
  const node = nodes[name];
  node.addEventListener("focus", () => {
    if (!held && name !== current) select(name);
  });
  node.addEventListener("blur", putLoupeAway);
  node.addEventListener("keydown", (event) => {
    const step = STEPS[event.key];
    if (step) {
      event.preventDefault();
      const size = (event.shiftKey ? 10 : 1) * px();
      const [x, y] = at(name);
      put(name, x + step[0] * size, y + step[1] * size);
      magnify(name);
    } else if (event.key === "Delete" || event.key === "Backspace") {
      event.preventDefault();
      clear(name);
      select(name);
      spotOf(name).focus();
    }
  });
}

for (const spot of spots) {
  spot.addEventListener("click", (event) => {
    const name = spot.dataset.spot;
    select(name);
    if (event.detail !== 0) return; // a finger or a mouse: the picture is next
    if (!at(name)) put(name, ...spot.dataset.start.split(" ").map(Number));
    select(name);
    nodes[name].focus();
    magnify(name);
  });
}

takeOff.addEventListener("click", () => {
  if (!current) return;
  clear(current);
  select(current);
});

// ---- Figures, from the server -----------------------------------------------------
let isDirty = false;
let waiting = 0;
let asked = 0;

function ask() {
  clearTimeout(waiting);
  waiting = setTimeout(fetchFigures, 350);
}

async function fetchFigures() {
  const turn = ++asked;
  place.setAttribute("aria-busy", "true");
  try {
    const answer = await fetch(form.dataset.figures, {
      method: "POST",
      body: new FormData(form),
      credentials: "same-origin",
    });
    if (turn !== asked || !answer.ok || answer.redirected) return;
    place.innerHTML = await answer.text();
  } catch {
    if (turn === asked) state.textContent = "No signal: the figures wait, the marks stay.";
  } finally {
    if (turn === asked) place.removeAttribute("aria-busy");
  }
}

form.addEventListener("input", (event) => {
  const found = event.target.name?.match(/^(.+)_[xy]$/);
  if (found && names.includes(found[1])) changed(found[1]);
  else if (event.target.name === "known") ask();
});
form.addEventListener("submit", () => {
  isDirty = false;
});
addEventListener("beforeunload", (event) => {
  if (isDirty) event.preventDefault();
});

// ---- Start ------------------------------------------------------------------------
for (const one of form.querySelectorAll("[data-with-script]")) one.hidden = false;
now.hidden = false;
new ResizeObserver(draw).observe(board);
draw();
select(nextOf());
