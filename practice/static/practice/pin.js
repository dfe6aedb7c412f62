// Putting a position on a map: [data-pin-from="URL"] gets a button (data-pin-word) behind
// the position's input (data-position) that brings the map; ?at= is where the input says, ?reach= how
// much land. A tap puts the pin, a drag moves it; the input holds the position as always.
// The map's svg says its plane: data-lat, -lon, -x, -y, and units a degree, -north, -east.
const SVG = "http://www.w3.org/2000/svg";
const WINDS = ["N", "NE", "E", "SE", "S", "SW", "W", "NW"];
const METRES = 111194.93; // a degree of latitude
const REACH_PX = 28; // what a finger hits round the pin
const STILL_PX = 8;
const DECIMALS = /^\s*([+-]?\d+(?:\.\d+)?)\s*[,;]\s*([+-]?\d+(?:\.\d+)?)\s*$/;

function read(input) {
  const found = DECIMALS.exec(input.value);
  return found && { lat: Number(found[1]), lon: Number(found[2]) };
}

// Metres and wind from one place to another: near enough on a plane.
function way(from, to) {
  const north = (to.lat - from.lat) * METRES;
  const east = (to.lon - from.lon) * METRES * Math.cos((((from.lat + to.lat) / 2) * Math.PI) / 180);
  const turn = Math.round((Math.atan2(east, north) * 4) / Math.PI);
  return { metres: Math.hypot(north, east), wind: WINDS[(turn + 8) % 8] };
}

class PinMap {
  constructor(holder, input) {
    this.input = input;
    this.figure = holder.querySelector("[data-pin-map]");
    this.svg = this.figure.querySelector("svg");
    this.said = holder.querySelector("[data-pin-said]");
    this.marks = [...holder.querySelectorAll("[data-pin-lat]")].map((one) => ({
      name: one.textContent,
      lat: Number(one.dataset.pinLat),
      lon: Number(one.dataset.pinLon),
    }));
    const number = (name) => Number(this.svg.dataset[name]);
    this.plane = Object.fromEntries(["lat", "lon", "x", "y", "north", "east"].map((n) => [n, number(n)]));
    this.pin = this.svg.appendChild(document.createElementNS(SVG, "g"));
    this.pin.setAttribute("class", "pin-here");
    for (const r of [3, 11]) {
      const ring = this.pin.appendChild(document.createElementNS(SVG, "circle"));
      ring.setAttribute("r", r);
    }
    this.listen();
    this.show();
  }

  place(event) {
    const p = this.plane;
    const at = new DOMPoint(event.clientX, event.clientY);
    const { x, y } = at.matrixTransform(this.svg.getScreenCTM().inverse());
    return { lat: p.lat + (p.y - y) / p.north, lon: p.lon + (x - p.x) / p.east };
  }

  put({ lat, lon }) {
    this.input.value = `${lat.toFixed(6)}, ${lon.toFixed(6)}`;
    this.input.dispatchEvent(new Event("input", { bubbles: true }));
  }

  isOn(event) {
    const box = this.pin.getBoundingClientRect();
    const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
    return !this.pin.hasAttribute("hidden") && Math.hypot(event.clientX - x, event.clientY - y) < REACH_PX;
  }

  // From the pin a finger drags it; from elsewhere it scrolls, and a tap puts the pin.
  listen() {
    let held = null;
    const far = (event) => Math.hypot(event.clientX - held.x, event.clientY - held.y) > STILL_PX;
    this.svg.addEventListener("pointerdown", (event) => {
      if (!event.isPrimary || event.button) {
        held = null;
        return;
      }
      const drags = this.isOn(event) || event.pointerType === "mouse";
      held = { id: event.pointerId, x: event.clientX, y: event.clientY, drags };
      if (drags) this.svg.setPointerCapture(event.pointerId);
    });
    this.svg.addEventListener("pointermove", (event) => {
      if (event.pointerId !== held?.id || !held.drags || (!held.moved && !far(event))) return;
      held.moved = true;
      this.put(this.place(event));
    });
    this.svg.addEventListener("pointerup", (event) => {
      if (event.pointerId === held?.id && !held.moved && !far(event)) this.put(this.place(event));
      held = null;
    });
    this.svg.addEventListener("pointercancel", () => {
      held = null;
    });
    this.svg.addEventListener("touchmove", (event) => held?.drags && event.preventDefault(), { passive: false });
  }

  show() {
    const at = read(this.input);
    this.pin.toggleAttribute("hidden", !at);
    if (!at) return;
    const p = this.plane;
    const x = p.x + (at.lon - p.lon) * p.east;
    const y = p.y - (at.lat - p.lat) * p.north;
    this.pin.setAttribute("transform", `translate(${x.toFixed(1)} ${y.toFixed(1)})`);
    const told = this.marks.map((mark) => ({ ...way(mark, at), name: mark.name }));
    const home = told.find((one) => one.name === "home");
    const barns = told.filter((one) => one !== home).sort((a, b) => a.metres - b.metres);
    const unit = Number(this.figure.dataset.metres);
    const words = (one) =>
      one && `${(one.metres / unit).toFixed(one.metres < 10 * unit ? 1 : 0)} ${this.figure.dataset.unit} ${one.wind} of ${one.name}`;
    this.said.textContent = [words(home), words(barns[0])].filter(Boolean).join(", ");
  }
}

for (const holder of document.querySelectorAll("[data-pin-from]")) {
  const input = holder.parentElement.querySelector("input[data-position]");
  let map = null;
  const bring = async (reach = "") => {
    const address = new URL(holder.dataset.pinFrom, location.href);
    address.searchParams.set("reach", reach);
    if (read(input)) address.searchParams.set("at", input.value);
    const answer = await fetch(address, { credentials: "same-origin" }).catch(() => null);
    if (!answer?.ok) {
      holder.textContent = "The map did not come: try once more.";
      return;
    }
    holder.innerHTML = await answer.text();
    map = holder.querySelector("[data-pin-map]") ? new PinMap(holder, input) : null;
  };
  holder.addEventListener("click", (event) => {
    const button = event.target.closest("[data-pin-reach], [data-pin-shut]");
    if (!button) return;
    if ("pinReach" in button.dataset) {
      bring(button.dataset.pinReach);
      return;
    }
    holder.replaceChildren();
    map = null;
  });
  input.addEventListener("input", () => map?.show());
  const open = document.createElement("button");
  open.type = "button";
  open.className = "button small";
  open.textContent = holder.dataset.pinWord;
  open.addEventListener("click", () => bring());
  (holder.parentElement.querySelector(".position-aids") ?? holder.parentElement).append(open);
}
