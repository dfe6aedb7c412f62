// <form data-auto> sends itself when a filter changes; its button (data-auto-go)
// is for houses without scripts and is hidden here.
for (const form of document.querySelectorAll("form[data-auto]")) {
  for (const button of form.querySelectorAll("[data-auto-go]")) button.hidden = true;
  form.addEventListener("change", () => form.requestSubmit());
}
