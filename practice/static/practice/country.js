// The start form shows what is usual in the chosen country in its fields. A field
// that was changed by hand is left alone. Without scripts an empty field means the
// same as 'usual' chosen: as usual there.
const form = document.querySelector("form[data-country-form]");
const NAMES = ["currency", "time_zone", "length_unit", "mass_unit", "road_unit", "prices_include_tax"];
const touched = new Set(NAMES.filter((name) => !["", "usual"].includes(form.elements[name].value)));

function propose() {
  const row = document.querySelector(`tr[data-country="${form.elements.country.value}"]`);
  form.elements.other_country.closest(".field").hidden = form.elements.country.value !== "ZZ";
  if (!row) return;
  for (const name of NAMES) {
    if (touched.has(name)) continue;
    const key = name.replace(/_(\w)/g, (_, letter) => letter.toUpperCase());
    form.elements[name].value = row.dataset[key];
  }
  // The device knows its own zone better than the country does.
  const own = Intl.DateTimeFormat().resolvedOptions().timeZone;
  const zones = form.elements.time_zone;
  const sameArea = own && own.split("/")[0] === row.dataset.timeZone.split("/")[0];
  if (sameArea && !touched.has("time_zone") && row.dataset.country === "US") {
    if ([...zones.options].some((option) => option.value === own)) zones.value = own;
  }
}

for (const name of NAMES) {
  form.elements[name].addEventListener("change", () => touched.add(name));
}
form.elements.country.addEventListener("change", propose);
propose();
