// Drawing an area: the map of form[data-draw] takes taps and strokes, by mouse, pen or
// finger, and ticks the barns inside. What is sent are the form's own fields: the ticks,
// and the outline as "lat,lon lat,lon …". Without this script the list and the buttons
// do the same.
// A finger that has drawn nothing yet scrolls; [data-begin] or a first tap starts.
const SVG = "http://www.w3.org/2000/svg";
const STILL_PX = 8; // a pointer that moves less is tapping
const REACH_PX = 22; // what a finger hits round a corner
const SMOOTH_PX = 10; // a stroke loses corners that lie nearer than that to its line
const STEP = 8; // picture units an arrow key moves a corner, 1 with Shift

const wrap = (degrees) => ((degrees + 540) % 360) - 180;

// Odd crossings, as scheduling/areas.py has it.
function inside(at, corners) {
  let within = false;
  corners.forEach((one, i) => {
    const other = corners.at(i - 1);
    if (one.y > at.y === other.y > at.y) return;
    const x = one.x + ((other.x - one.x) * (at.y - one.y)) / (other.y - one.y);
    if (x > at.x) within = !within;
  });
  return within;
}

function offLine(p, a, b) {
  const long = Math.hypot(b.x - a.x, b.y - a.y);
  if (!long) return Math.hypot(p.x - a.x, p.y - a.y);
  return Math.abs((b.x - a.x) * (a.y - p.y) - (a.x - p.x) * (b.y - a.y)) / long;
}

// Ramer, Douglas and Peucker: the fewest of these points that stay within `off`.
function thinned(points, off) {
  if (points.length < 3) return points;
  const [a, b] = [points[0], points.at(-1)];
  const away = points.map((p) => offLine(p, a, b));
  const far = Math.max(...away);
  if (far <= off) return [a, b];
  const at = away.indexOf(far);
  return [...thinned(points.slice(0, at + 1), off).slice(0, -1), ...thinned(points.slice(at), off)];
}

function made(name, attributes) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  return element;
}

class Drawing {
  constructor(form, svg) {
    this.form = form;
    this.svg = svg;
    this.figure = svg.parentElement;
    this.field = form.elements.outline;
    this.ticks = [...form.querySelectorAll("input[name=barns]")];
    this.spots = new Map();
    for (const dot of svg.querySelectorAll("[data-dot]")) {
      const at = { x: Number(dot.getAttribute("cx")), y: Number(dot.getAttribute("cy")) };
      this.spots.set(dot.dataset.dot, { dot, at });
    }
    this.plane = Object.fromEntries(
      ["lat", "lon", "x", "y", "north", "east"].map((name) => [name, Number(svg.dataset[name])]),
    );
    this.corners = this.read();
    this.closed = this.corners.length > 2;
    this.held = this.within();
    this.past = [];
    this.gesture = null;
    this.begun = false;
    svg.setAttribute("role", "group");
    svg.querySelector('[data-region="drawn"]')?.remove();
    this.layer = svg.appendChild(made("g", { class: "drawn" }));
    for (const tool of form.querySelectorAll(".draw-tools [hidden]")) tool.hidden = false;
    this.listen();
    this.show();
  }

  // ---- Positions and the picture ----------------------------------------------------
  read() {
    const p = this.plane;
    return this.field.value.split(" ").filter(Boolean).map((text) => {
      const [lat, lon] = text.split(",").map(Number);
      return { x: p.x + wrap(lon - p.lon) * p.east, y: p.y - (lat - p.lat) * p.north };
    });
  }

  write() {
    const p = this.plane;
    const text = ({ x, y }) =>
      `${(p.lat + (p.y - y) / p.north).toFixed(6)},${wrap(p.lon + (x - p.x) / p.east).toFixed(6)}`;
    this.field.value = this.corners.length > 2 ? this.corners.map(text).join(" ") : "";
  }

  point(event) {
    const at = new DOMPoint(event.clientX, event.clientY);
    const { x, y } = at.matrixTransform(this.svg.getScreenCTM().inverse());
    return { x, y };
  }

  units(px) {
    return px / this.svg.getScreenCTM().a;
  }

  within() {
    if (this.corners.length < 3) return new Set();
    const keys = [...this.spots].filter(([, spot]) => inside(spot.at, this.corners));
    return new Set(keys.map(([key]) => key));
  }

  // ---- Changes, each of which can be undone -------------------------------------------
  keep() {
    const ticked = new Set(this.ticks.filter((box) => box.checked));
    this.past.push({ corners: [...this.corners], closed: this.closed, ticked, held: this.held });
  }

  back() {
    const last = this.past.pop();
    if (!last) return;
    Object.assign(this, { corners: last.corners, closed: last.closed, held: last.held });
    for (const box of this.ticks) box.checked = last.ticked.has(box);
    this.write();
    this.show();
  }

  // Only barns that the change took in or left out are ticked or not: what was ticked by
  // hand stays.
  settle() {
    const now = this.within();
    for (const box of this.ticks) {
      if (now.has(box.value) !== this.held.has(box.value)) box.checked = now.has(box.value);
    }
    this.held = now;
    this.write();
    this.show();
  }

  close() {
    if (this.corners.length < 3 || this.closed) return;
    this.closed = true;
    this.begun = false;
    this.settle();
  }

  // ---- Pointers --------------------------------------------------------------------------
  gripAt(at) {
    const reach = this.units(REACH_PX);
    const near = (points) => {
      const away = points.map((p) => Math.hypot(p.x - at.x, p.y - at.y));
      const least = Math.min(...away);
      return least <= reach ? away.indexOf(least) : -1;
    };
    const corner = near(this.corners);
    if (corner >= 0) return { corner };
    const middles = this.middles();
    const edge = near(middles);
    return edge >= 0 ? { edge: middles[edge].after } : null;
  }

  // A new corner can be drawn out of the middle of an edge that has the room.
  middles() {
    if (!this.closed) return [];
    const found = this.corners.map((one, after) => {
      const next = this.corners[(after + 1) % this.corners.length];
      const long = Math.hypot(one.x - next.x, one.y - next.y);
      return { x: (one.x + next.x) / 2, y: (one.y + next.y) / 2, after, long };
    });
    return found.filter((one) => one.long > this.units(3 * REACH_PX));
  }

  down(event) {
    if (this.gesture) {
      this.cancel(); // a second finger: it zooms
      return;
    }
    if (!event.isPrimary || event.button) return;
    const at = this.point(event);
    const grip = this.gripAt(at);
    if (this.closed && !grip) return;
    const { pointerId: id, clientX, clientY } = event;
    const takes = grip || this.begun || event.pointerType === "mouse";
    this.gesture = { id, clientX, clientY, grip, takes, path: [at], moved: false };
    if (takes) this.svg.setPointerCapture(id);
  }

  move(event) {
    const now = this.gesture;
    if (!now) this.figure.classList.toggle("is-grip", Boolean(this.gripAt(this.point(event))));
    if (!now || event.pointerId !== now.id || !now.takes) return;
    const away = Math.hypot(event.clientX - now.clientX, event.clientY - now.clientY);
    if (!now.moved && away < STILL_PX) return;
    const at = this.point(event);
    if (!now.moved) {
      now.moved = true;
      this.keep();
      if (now.grip?.edge !== undefined) {
        this.corners.splice(now.grip.edge + 1, 0, at);
        now.grip = { corner: now.grip.edge + 1 };
      }
    }
    if (now.grip) {
      this.corners[now.grip.corner] = at;
      this.settle();
    } else {
      now.path.push(at);
      this.show(now.path);
    }
  }

  up(event) {
    const now = this.gesture;
    if (!now || event.pointerId !== now.id) return;
    this.gesture = null;
    if (now.moved && !now.grip) this.stroke(now.path);
    else if (!now.moved && now.grip?.corner === 0 && !this.closed) this.tapFirst();
    else if (!now.moved && !now.grip) this.tap(now.path[0]);
  }

  stroke(path) {
    const whole = [...this.corners, ...path];
    this.corners = [...this.corners, ...thinned(path, this.units(SMOOTH_PX))];
    const [a, b] = [whole[0], whole.at(-1)];
    // Where it ends at its beginning, the last corner is the first.
    if (Math.hypot(a.x - b.x, a.y - b.y) < this.units(REACH_PX)) this.corners.pop();
    if (this.corners.length < 3) this.back();
    else this.close();
  }

  tap(at) {
    this.keep();
    this.begun = true;
    this.corners.push(at);
    this.settle();
  }

  tapFirst() {
    if (this.corners.length < 3) return;
    this.keep();
    this.close();
  }

  cancel() {
    const now = this.gesture;
    this.gesture = null;
    if (now?.moved) this.back();
  }

  key(event) {
    if (event.key === "Escape") this.cancel();
    const corner = event.target.closest?.("[data-corner]");
    if (!corner) return;
    const at = Number(corner.dataset.corner);
    const step = event.shiftKey ? 1 : STEP;
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    const out = event.key === "Delete" || event.key === "Backspace";
    if (!way && !(out && this.corners.length > 3)) return;
    event.preventDefault();
    this.keep();
    const { x, y } = this.corners[at];
    if (way) this.corners[at] = { x: x + way[0] * step, y: y + way[1] * step };
    else this.corners.splice(at, 1);
    this.settle();
  }

  listen() {
    const { svg, form } = this;
    svg.addEventListener("pointerdown", (e) => this.down(e));
    svg.addEventListener("pointermove", (e) => this.move(e));
    svg.addEventListener("pointerup", (e) => this.up(e));
    svg.addEventListener("pointercancel", () => this.cancel());
    // While a finger draws, the page stands still.
    svg.addEventListener(
      "touchmove",
      (e) => {
        if (this.gesture?.takes && e.touches.length === 1) e.preventDefault();
      },
      { passive: false },
    );
    document.addEventListener("keydown", (e) => this.key(e));
    form.addEventListener("change", (e) => {
      if (e.target.name === "barns" || e.target.name === "from_others") this.show();
      if (e.target.name === "order") form.querySelector("[value=order]").click();
    });
    const on = (name, act) => form.querySelector(`[${name}]`).addEventListener("click", act);
    on("data-begin", () => {
      this.begun = !this.begun;
      this.show();
    });
    on("data-close", () => {
      this.keep();
      this.close();
    });
    on("data-undo", () => this.back());
    on("data-clear", (e) => {
      e.preventDefault();
      this.keep();
      Object.assign(this, { corners: [], closed: false, begun: false });
      this.settle();
    });
  }

  // ---- What is seen ------------------------------------------------------------------------
  show(path = []) {
    const line = [...this.corners, ...path].map(({ x, y }) => `${x.toFixed(1)} ${y.toFixed(1)}`);
    const focused = document.activeElement?.dataset?.corner;
    this.layer.replaceChildren(
      made("path", {
        class: this.closed ? "drawn-line" : "drawn-line is-open",
        "fill-rule": "evenodd",
        d: line.length ? `M${line.join("L")}${this.closed ? "Z" : ""}` : "",
      }),
      ...this.middles().map((at) => this.handle(at, { class: "drawn-edge" }, 4)),
      ...this.corners.map((at, i) =>
        this.handle(at, {
          class: i || this.closed ? "drawn-corner" : "drawn-corner is-first",
          "data-corner": i,
          tabindex: 0,
          role: "button",
          "aria-label": `Corner ${i + 1} of ${this.corners.length}: arrow keys move it, Delete takes it out`,
        }, 6),
      ),
    );
    if (focused !== undefined) this.layer.querySelector(`[data-corner="${focused}"]`)?.focus();
    this.figure.classList.toggle("is-closed", this.closed);
    const button = (name) => this.form.querySelector(`[${name}]`);
    button("data-begin").disabled = this.closed;
    button("data-begin").setAttribute("aria-pressed", String(this.begun));
    button("data-close").disabled = this.closed || this.corners.length < 3;
    button("data-undo").disabled = !this.past.length;
    button("data-clear").disabled = !this.corners.length;
    this.tell();
  }

  handle(at, attributes, size) {
    const group = made("g", attributes);
    const r = size * Math.max(this.units(1), 0.8);
    group.append(made("circle", { class: "dot", cx: at.x.toFixed(1), cy: at.y.toFixed(1), r }));
    return group;
  }

  tell() {
    const ticked = this.ticks.filter((box) => box.checked);
    for (const box of this.ticks) this.spots.get(box.value)?.dot.classList.toggle("is-in", box.checked);
    const horses = ticked.reduce((sum, box) => sum + Number(box.dataset.horses), 0);
    const many = (n, word) => `${n} ${word}${n === 1 ? "" : "s"}`;
    const names = (boxes) => boxes.map((box) => box.dataset.name).join(", ");
    this.form.querySelector("[data-said]").textContent = ticked.length
      ? `${many(ticked.length, "barn")}, ${many(horses, "horse")}.`
      : "No barn yet.";
    const elsewhere = ticked.filter((box) => box.dataset.area && !("own" in box.dataset));
    const stay = this.form.elements.from_others.value === "stay";
    const lines = [
      ["In it", ticked.filter((box) => !(stay && elsewhere.includes(box)))],
      [stay ? "Stay in another area" : "Leave another area", elsewhere, (box) => ` (${box.dataset.area})`],
      ["In no area then", this.ticks.filter((box) => "own" in box.dataset && !box.checked)],
      ["Ticked, but outside the outline", this.corners.length > 2 ? ticked.filter((box) => !this.held.has(box.value)) : []],
      ["Inside, but not ticked", this.ticks.filter((box) => this.held.has(box.value) && !box.checked)],
    ];
    const list = this.form.querySelector("[data-changes]");
    list.replaceChildren();
    list.parentElement.hidden = !lines.some(([, boxes]) => boxes.length);
    for (const [word, boxes, more] of lines) {
      if (!boxes.length) continue;
      const item = document.createElement("li");
      item.textContent = `${word}: ${more ? boxes.map((box) => box.dataset.name + more(box)).join(", ") : names(boxes)}`;
      list.append(item);
    }
  }
}

for (const form of document.querySelectorAll("form[data-draw]")) {
  const svg = form.querySelector("svg.road-map");
  if (svg) new Drawing(form, svg);
}
