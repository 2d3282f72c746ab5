// Rows of the sheet in a table: what was changed in each, and how it is sent.
export const controls = (line) => [...line.querySelectorAll("[data-column]")];

const now = (control) =>
  control.type === "checkbox" ? (control.checked ? "yes" : "no") : control.value.trim();

// A control's value as the sheet has it; set where one is given.
export function value(control, text) {
  if (text !== undefined) {
    if (control.type === "checkbox") control.checked = text !== "no";
    else control.value = text;
  }
  return now(control);
}

function before(control) {
  if (control.type === "checkbox") return control.defaultChecked ? "yes" : "no";
  if (control.tagName === "SELECT") {
    const chosen = [...control.options].find((option) => option.defaultSelected);
    return chosen ? chosen.value : control.options[0].value;
  }
  return control.defaultValue.trim();
}

// What differs from the sheet; a row that the sheet lacks is worth one with more than a mode.
export function changed(line) {
  const row = rowOf(line);
  const values = {};
  for (const control of controls(line)) {
    const blank = control.type === "checkbox" ? "yes" : "";
    const old = row === null ? blank : before(control);
    if (now(control) !== old) values[control.dataset.column] = now(control);
  }
  const columns = Object.keys(values);
  const empty = row === null && columns.every((column) => column === "mode");
  return columns.length && !empty ? { row, file: line.dataset.file, values } : null;
}

const rowOf = (line) => (line.dataset.row === "" ? null : Number(line.dataset.row));

export function settle(line, row) {
  line.dataset.row = row;
  for (const control of controls(line)) {
    if (control.type === "checkbox") control.defaultChecked = control.checked;
    else if (control.tagName === "SELECT") {
      for (const option of control.options) option.defaultSelected = option.selected;
    } else control.defaultValue = control.value;
  }
}
