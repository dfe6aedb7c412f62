// The 'More' menu of the phone bar. It is a <details>, so it opens without this
// file; here it also closes on Escape, on a tap elsewhere and when left.
const menu = document.querySelector("[data-menu]");

if (menu) {
  const summary = menu.querySelector("summary");

  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && menu.open) {
      menu.open = false;
      summary.focus();
    }
  });
  document.addEventListener("click", (event) => {
    if (menu.open && !menu.contains(event.target)) menu.open = false;
  });
  menu.addEventListener("focusout", (event) => {
    if (event.relatedTarget && !menu.contains(event.relatedTarget)) menu.open = false;
  });
}
