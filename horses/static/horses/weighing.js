// Answers to considerations within the page: <div data-weighing> holds forms that
// post; the answer is the same piece anew. Without scripts, or without signal, the
// form goes to the page of its own.
document.addEventListener("submit", async (event) => {
  const form = event.target;
  const place = form.closest("[data-weighing]");
  if (!place || !form.matches("[data-weighed]")) return;
  event.preventDefault();
  const open = [...place.querySelectorAll("details[open]")].map((one) => one.id);
  const body = new FormData(form, event.submitter);
  try {
    const answer = await fetch(form.action, {
      method: "POST",
      body,
      credentials: "same-origin",
      headers: { "X-Requested-With": "fetch", Accept: "text/html" },
    });
    if (!answer.ok || answer.redirected) throw new Error(answer.status);
    const anew = document.createElement("template");
    anew.innerHTML = await answer.text();
    const piece = anew.content.querySelector("[data-weighing]");
    for (const id of open) piece.querySelector(`#${CSS.escape(id)}`)?.setAttribute("open", "");
    place.replaceWith(piece);
    piece.querySelector(`#${CSS.escape(form.closest("details").id)} summary`)?.focus();
  } catch {
    delete form.dataset.busy;
    form.removeAttribute("aria-busy");
    const said = form.querySelector("[role=status]");
    if (said) said.textContent = "Not kept: no answer from the server. Try again.";
  }
});
