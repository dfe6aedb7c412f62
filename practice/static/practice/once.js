// A form that posts is sent once for one tap. The button stays enabled until the
// submit event is over, so its name and value travel; then the form is marked
// busy and further submits are held back. Coming back by the browser's history
// frees it again. The service behind is safe to repeat: this only spares a
// second request. data-many on a form lets it be sent more than once
// (downloads). data-confirm="Sure?" asks first, where scripts run.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "post" || "many" in form.dataset || event.defaultPrevented) return;
  const asked = event.submitter?.dataset.confirm || form.dataset.confirm;
  if (form.dataset.busy || (asked && !window.confirm(asked))) {
    event.preventDefault();
    return;
  }
  form.dataset.busy = "1";
  form.setAttribute("aria-busy", "true");
  setTimeout(() => {
    for (const button of form.querySelectorAll("button:not([type=button])")) {
      button.setAttribute("aria-disabled", "true");
    }
  });
});

window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-busy]")) {
    delete form.dataset.busy;
    form.removeAttribute("aria-busy");
    for (const button of form.querySelectorAll("[aria-disabled]")) {
      button.removeAttribute("aria-disabled");
    }
  }
});
