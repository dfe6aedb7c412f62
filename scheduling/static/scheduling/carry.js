// Carrying a thing to a place on the page, by mouse, pen or finger. A mouse carries as
// soon as it moves; a finger or pen after resting a moment, so that a swipe still
// scrolls. Near an edge the page scrolls by itself. Escape, a second finger or a call
// coming in puts everything back.
//
// carrying(root, { thing, place, begin, over, drop, end })
//   thing, place  selectors inside root: what can be carried, where it can go
//   begin(thing, say)  it is picked up; say(words) at any time what goes along with it
//   over(place, say)   it is above another place, or none
//   end(thing)         whatever comes of it
//   drop(thing, place, target)  after that: let go there; target: the element below
const HOLD_MS = 350;
const MOUSE_PX = 5; // a mouse that moves less is clicking
const SWIPE_PX = 10; // a finger that moves more before the time is scrolling
const EDGE_PX = 96; // from the top and bottom of the window
const MOST_PX = 16; // scrolled a frame, at the very edge

export function carrying(root, { thing, place, begin, over, drop, end }) {
  let now = null; // { id, item, x, y, isMouse, timer, over }, once held ghost, place, target
  let swallows = false; // the click that follows belongs to the carrying
  const say = (words) => {
    if (now?.ghost) now.ghost.textContent = words;
  };

  function pick() {
    clearTimeout(now.timer);
    now.held = true;
    now.item.classList.add("is-carried");
    now.ghost = document.createElement("div");
    now.ghost.className = "carried";
    now.ghost.setAttribute("aria-hidden", "true");
    document.body.append(now.ghost);
    begin(now.item, say);
    root.setPointerCapture(now.id);
    frame();
  }

  function finish(isDropped) {
    const was = now;
    if (!was) return;
    now = null;
    clearTimeout(was.timer);
    was.over.abort();
    if (!was.held) return;
    swallows = true;
    was.ghost.remove();
    was.item.classList.remove("is-carried");
    end(was.item);
    if (isDropped && was.place) drop(was.item, was.place, was.target);
  }

  // Above the finger that would hide it, within the window.
  function beside({ ghost, x, y }) {
    const left = Math.min(x - ghost.offsetWidth / 2, window.innerWidth - ghost.offsetWidth - 8);
    const high = y - ghost.offsetHeight - 28;
    ghost.style.transform = `translate(${Math.max(8, left)}px, ${high < 8 ? y + 28 : high}px)`;
  }

  function look() {
    const target = document.elementFromPoint(now.x, now.y);
    const found = target?.closest(place);
    const at = found && root.contains(found) ? found : null;
    const isNew = at !== now.place;
    Object.assign(now, { place: at, target });
    if (isNew) over(at, say);
  }

  // Each frame, since the page may move below a resting finger.
  function frame() {
    if (!now?.held) return;
    const low = window.innerHeight - now.y;
    const deep = now.y < EDGE_PX ? now.y - EDGE_PX : low < EDGE_PX ? EDGE_PX - low : 0;
    if (deep && now.moved) {
      window.scrollBy({ top: (deep / EDGE_PX) * MOST_PX, behavior: "instant" });
    }
    beside(now);
    look();
    requestAnimationFrame(frame);
  }

  root.addEventListener("pointerdown", (event) => {
    swallows = false;
    if (now) return;
    const item = event.target.closest(thing);
    if (!item || event.button || !event.isPrimary) return;
    now = { id: event.pointerId, item, x: event.clientX, y: event.clientY };
    now.isMouse = event.pointerType === "mouse";
    now.over = new AbortController();
    const { signal } = now.over;
    const other = (one) => one.pointerId !== event.pointerId && finish(false);
    document.addEventListener("pointerdown", other, { signal });
    document.addEventListener("keydown", (one) => one.key === "Escape" && finish(false), { signal });
    if (!now.isMouse) now.timer = setTimeout(pick, HOLD_MS);
  });
  root.addEventListener("pointermove", (event) => {
    if (event.pointerId !== now?.id) return;
    if (!event.buttons) return finish(false); // let go outside the window
    const far = Math.hypot(event.clientX - now.x, event.clientY - now.y);
    if (!now.held && !now.isMouse && far > SWIPE_PX) return finish(false);
    if (!now.held && far <= MOUSE_PX) return;
    if (!now.held && !now.isMouse) return;
    if (!now.held) pick();
    Object.assign(now, { x: event.clientX, y: event.clientY, moved: true });
  });
  root.addEventListener("pointerup", (event) => {
    if (event.pointerId !== now?.id) return;
    if (now.held) look();
    finish(true);
  });
  root.addEventListener("pointercancel", (event) => event.pointerId === now?.id && finish(false));
  root.addEventListener("touchmove", (event) => now?.held && event.preventDefault(), { passive: false });
  // A link below would be dragged by the browser, asked about, or followed.
  root.addEventListener("dragstart", (event) => event.target.closest?.(thing) && event.preventDefault());
  root.addEventListener("contextmenu", (event) => now && !now.isMouse && event.preventDefault());
  root.addEventListener(
    "click",
    (event) => {
      if (!swallows || !event.detail) return; // no detail: by the keyboard
      swallows = false;
      event.preventDefault();
      event.stopPropagation();
    },
    true,
  );
}
