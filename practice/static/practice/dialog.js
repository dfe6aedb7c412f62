// <a href="#x" data-dialog="x">…</a> opens <dialog id="x" class="dialog">; a
// button with data-close inside shuts it. Without scripts the link leads to the
// page of the same action (give it a real href).
document.addEventListener("click", (event) => {
  const opener = event.target.closest("[data-dialog]");
  const dialog = opener && document.getElementById(opener.dataset.dialog);
  if (dialog) {
    event.preventDefault();
    dialog.showModal();
  }
  event.target.closest("[data-close]")?.closest("dialog")?.close();
});
