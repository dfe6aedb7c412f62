// <div data-fragment="URL"><a href="URL">Balance</a></div>
// Loads the piece that another app owns into its place. Until it has come, and
// if it never comes, the plain link inside stays. A redirect to another path
// (signed out) keeps the link. After loading, 'house:loaded' bubbles from the
// place, so that other modules can attach to what arrived.
export async function load(place) {
  const address = new URL(place.dataset.fragment, location.href);
  if (address.origin !== location.origin) return;
  place.setAttribute("aria-busy", "true");
  try {
    const answer = await fetch(address, {
      credentials: "same-origin",
      headers: { "X-Requested-With": "fetch", Accept: "text/html" },
    });
    if (answer.ok && new URL(answer.url).pathname === address.pathname) {
      place.innerHTML = await answer.text();
      place.dispatchEvent(new CustomEvent("house:loaded", { bubbles: true }));
    }
  } catch {
    // No signal: the plain link inside stays.
  } finally {
    place.removeAttribute("aria-busy");
  }
}

for (const place of document.querySelectorAll("[data-fragment]")) load(place);
