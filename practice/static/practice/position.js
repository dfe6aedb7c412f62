// <input data-position> gets two helps where scripts run: 'Use my position' asks
// the device, and four arrows nudge a position in decimals by some ten metres.
const STEP = 0.0001;
const DECIMALS = /^\s*([+-]?\d+(?:\.\d+)?)\s*[,;]\s*([+-]?\d+(?:\.\d+)?)\s*$/;

function button(word, label, act) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = "button small";
  made.textContent = word;
  if (label) made.setAttribute("aria-label", label);
  made.addEventListener("click", act);
  return made;
}

function show(input, lat, lon) {
  input.value = `${lat.toFixed(6)}, ${lon.toFixed(6)}`;
  input.dispatchEvent(new Event("input", { bubbles: true }));
}

function nudge(input, north, east) {
  const found = DECIMALS.exec(input.value);
  if (!found) return;
  const lat = Number(found[1]) + north * STEP;
  // A degree of longitude is shorter away from the equator.
  const lon = Number(found[2]) + (east * STEP) / Math.cos((lat * Math.PI) / 180);
  show(input, lat, lon);
}

for (const input of document.querySelectorAll("input[data-position]")) {
  const row = document.createElement("p");
  row.className = "cluster position-aids";
  const said = document.createElement("span");
  said.className = "soft small";
  said.setAttribute("role", "status");
  if (window.isSecureContext && "geolocation" in navigator) {
    row.append(
      button("Use my position", "", () => {
        said.textContent = "Asking the device …";
        navigator.geolocation.getCurrentPosition(
          ({ coords }) => {
            show(input, coords.latitude, coords.longitude);
            said.textContent = `Good to about ${Math.round(coords.accuracy)} m.`;
          },
          () => {
            said.textContent = "The device gave no position: type it instead.";
          },
          { enableHighAccuracy: true, timeout: 20000 },
        );
      }),
    );
  }
  const arrows = document.createElement("span");
  arrows.className = "cluster";
  arrows.append(
    button("↑", "Ten metres north", () => nudge(input, 1, 0)),
    button("↓", "Ten metres south", () => nudge(input, -1, 0)),
    button("←", "Ten metres west", () => nudge(input, 0, -1)),
    button("→", "Ten metres east", () => nudge(input, 0, 1)),
  );
  const look = () => {
    arrows.hidden = !DECIMALS.test(input.value);
  };
  input.addEventListener("input", look);
  look();
  row.append(arrows, said);
  input.after(row);
}
