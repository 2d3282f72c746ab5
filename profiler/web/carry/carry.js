// The carried page: fields and answers come from Python's own code, unpacked here as `greytare`.
(async () => {
  const byId = (name) => document.getElementById(name);
  const root = document.documentElement;
  if (!window.DecompressionStream) {
    root.classList.add("old");
    return;
  }
  root.classList.add("scripted");
  const packed = Uint8Array.from(atob(byId("packed").textContent), (sign) => sign.charCodeAt(0));
  const unpacked = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate"));
  const script = document.createElement("script");
  script.textContent = await new Response(unpacked).text();
  document.head.append(script);

  const said = JSON.parse(byId("carried").textContent, (_, value) =>
    value && typeof value === "object" && "~" in value ? $.dict(value["~"]) : value);
  const KEY = `greytare ${said.key}`;
  const TOOLS = greytare.tools_offered().items();
  const FIRST = {
    reading: "EV 12.0", key: "EV 12.0", fill: "EV 10.0", ambient: "EV 8.0", total: "f/8+0 ISO 100",
    flash: "f/8+0 ISO 100", flash2: "f/5.6+0 ISO 100", spot: "EV 12.0", lamp: "EV 10.0", after: "EV 12.0",
    aperture: "f/5.6", time: "1/60", setting: "f/5.6 1/60",
  };
  const state = { profile: said.start, tool: "settings", thirds: false, values: {}, shots: [], ...recall() };
  let active = null;
  let names = [];
  let marks = null;

  function recall() {
    try { return JSON.parse(localStorage.getItem(KEY)) ?? {}; } catch { return {}; }
  }
  function keep() {
    try { localStorage.setItem(KEY, JSON.stringify(state)); } catch { /* nothing is kept then */ }
  }
  function h(tag, given = {}, ...inside) {
    const element = document.createElement(tag);
    for (const [name, value] of Object.entries(given)) {
      if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
      else if (value !== false && value != null) element.setAttribute(name, value === true ? "" : value);
    }
    element.append(...inside.filter((each) => each !== null && each !== ""));
    return element;
  }
  const say = (element, text) => { if (element.textContent !== text) element.textContent = text; };
  const chosen = () => said.profiles[state.profile] ?? said.profiles[Math.max(0, said.start)];
  const profile = () => ({ data: chosen().data });

  // --- the form ---------------------------------------------------------------------------
  function pairs() {
    return [...byId("form").elements].filter((e) => e.name).map((e) => [e.name, e.value]);
  }
  function params(given = pairs()) {
    return $.QueryParams(given.filter((pair) => pair[1] !== ""));
  }
  function control(field, value) {
    const told = { id: `field-${field.name}`, name: field.name, "aria-describedby": `hint-${field.name}` };
    if (field.choices.length) {
      return h("select", told, ...field.choices.map(([each, words]) =>
        h("option", { value: each, selected: each === value }, words)));
    }
    return input({ ...told, value, inputmode: field.numeric ? "decimal" : null });
  }
  function input(given) {
    return h("input", { type: "text", autocomplete: "off", autocapitalize: "off", spellcheck: "false",
      onfocus: (event) => aim(event.target), ...given });
  }
  function fieldOf(field, values) {
    const hint = h("p", { class: "hint", id: `hint-${field.name}`, "data-hint": field.hint }, field.hint);
    if (field.pairs.length) return spotsOf(field, values, hint);
    const value = values.get(field.name) ?? field.value;
    return h("div", { class: field.big ? "field big" : "field" },
      h("label", { for: `field-${field.name}` }, field.label), control(field, value), hint);
  }
  function spotsOf(field, values, hint) {
    const given = values.get(`${field.pair}s`) ?? field.pairs;
    const all = h("fieldset", { class: "pairs" }, h("legend", {}, field.label));
    const add = ([name, reading]) => {
      const number = all.querySelectorAll(".pair").length + 1;
      const label = (words, element) => h("label", {}, h("span", { class: "quiet" }, words,
        h("span", { class: "unseen" }, ` of ${field.pair} ${number}`)), element);
      more.before(h("div", { class: "pair" },
        label("Name", h("input", { type: "text", name: `${field.pair}_name`, value: name, maxlength: 60, autocomplete: "off" })),
        label("Reading", input({ name: field.name, value: reading, "aria-describedby": `hint-${field.name}` }))));
    };
    const more = h("button", { type: "button", class: "plain", onclick: () => { add(["", ""]); changed(); } }, `Add a ${field.pair}`);
    all.append(hint, more);
    given.forEach(add);
    return all;
  }
  function remembered() {
    const kept = state.values[state.tool] ?? [];
    const values = new Map(kept);
    const of = (name) => kept.filter((pair) => pair[0] === name).map((pair) => pair[1]);
    for (const pair of ["spot", "lamp"]) {
      const given = of(`${pair}_name`).map((name, i) => [name, of(pair)[i] ?? ""]);
      if (given.length) values.set(`${pair}s`, given);
    }
    return values;
  }
  // profiles of several bodies: none answers before it is chosen
  const open = () => !said.profiles[state.profile] && said.start < 0;
  function build() {
    for (const id of ["tabs", "form"]) byId(id).hidden = open();
    if (open()) {
      say(byId("headline"), "Choose the profile of your body, lens, meter and light.");
      return;
    }
    const values = remembered();
    const kept = state.values[state.tool] ?? [];
    const fields = greytare.form_of(state.tool, profile(), params(kept));
    names = fields.map((field) => field.name);
    const shown = (some) => h("div", { class: "fields" }, ...some.map((field) => fieldOf(field, values)));
    const rare = fields.filter((field) => field.more);
    byId("form").replaceChildren(shown(fields.filter((field) => !field.more)),
      ...(rare.length ? [h("details", { class: "more" }, h("summary", {}, "More"), shown(rare))] : []));
    for (const [name] of TOOLS) {
      const tab = byId(`tab-${name}`);
      if (name === state.tool) tab.setAttribute("aria-current", "page");
      else tab.removeAttribute("aria-current");
    }
    say(byId("purpose"), TOOLS.find(([name]) => name === state.tool)[1].join(": "));
    byId("sheet").hidden = state.tool !== "sheet";
    hold();
    aim(byId("form").querySelector("input[name=reading], input[name=key], input[name=flash]"));
    changed();
  }

  // --- the answer -------------------------------------------------------------------------
  function mark(name, wrong) {
    const hint = byId(`hint-${name}`);
    if (!hint) return false;
    say(hint, wrong || hint.dataset.hint);
    hint.classList.toggle("wrong", Boolean(wrong));
    for (const each of document.querySelectorAll(`[aria-describedby="hint-${name}"]`)) {
      if (wrong) each.setAttribute("aria-invalid", "true");
      else each.removeAttribute("aria-invalid");
    }
    if (wrong) hint.closest("details")?.setAttribute("open", "");
    return true;
  }
  function told(problem) {
    if (!(problem instanceof greytare.GreytareError)) throw problem;
    return greytare.sentence(problem);
  }
  function changed() {
    state.values[state.tool] = pairs();
    keep();
    names.forEach((name) => mark(name, ""));
    let answer = null, wrong = "", sentence = "";
    try {
      answer = greytare.answer_to(state.tool, profile(), params());
    } catch (problem) {
      sentence = told(problem);
      wrong = problem.field;
    }
    const marked = sentence && mark(wrong, sentence);
    say(byId("headline"), answer ? answer.headline : marked ? "Correct the marked field first." : "");
    byId("headline").classList.toggle("waiting", !answer || answer.waits);
    say(byId("trouble"), marked ? "" : sentence);
    byId("trouble").hidden = !sentence || marked;
    byId("detail").replaceChildren(...(answer && !answer.waits ? detail(answer) : []));
    marks = answer?.marks ?? null;
    draw();
    if (state.tool === "sheet") frames(Boolean(answer && !answer.waits));
    stepper();
  }
  function draw() {
    byId("scale").hidden = !marks;
    if (marks) drawScale(byId("scale").querySelector(".drawing"), marks);
  }
  const factsOf = (rows) => (rows.length ? [h("dl", { class: "facts" }, ...rows.map((fact) =>
    h("div", {}, h("dt", {}, fact.name), h("dd", {}, fact.text))))] : []);
  function detail(answer) {
    return [
      ...answer.missing.map((words) => h("p", { class: "warn" }, h("strong", {}, "Missing: "), words)),
      ...answer.lead.map((words) => h("p", { class: "lead" }, words)),
      ...answer.notes.map((note) => h("p", { class: note.warns ? "warn" : "note" },
        note.warns ? h("strong", {}, "Look out: ") : null, note.text)),
      ...answer.pictures.map(pictureOf),
      ...factsOf(answer.figures),
      ...answer.tables.map(tableOf),
      ...factsOf(answer.rows),
      ...(answer.steps.length ? [h("ol", { class: "small" }, ...answer.steps.map((words) => h("li", {}, words)))] : []),
      ...answer.closing.map((words) => h("p", { class: "small" }, words)),
    ];
  }
  // Python draws it as text, every name in it escaped
  function pictureOf(picture) {
    const place = h("div");
    place.innerHTML = greytare.drawing(picture);
    return place;
  }
  const inside = (cell) => (typeof cell === "string" ? [cell] : [cell[0], " ", h("small", {}, cell[1])]);
  function tableOf(table) {
    const kind = (i) => (table.numbers.includes(i) ? { class: "number" } : {});
    return h("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": table.caption },
      h("table", { class: table.numbers.length ? "counts" : null }, h("caption", {}, table.caption),
        h("thead", {}, h("tr", {}, ...table.head.map((name, i) => h("th", { scope: "col", ...kind(i) }, name)))),
        h("tbody", {}, ...[...table.rows, ...table.foot].map((row) => h("tr", {}, ...row.map((cell, i) =>
          (i ? h("td", kind(i), ...inside(cell)) : h("th", { scope: "row" }, ...inside(cell)))))))));
  }
  // whether the profile is too old
  function age() {
    if (open()) return;
    const { day, interval } = chosen();
    const days = Math.floor((Date.now() - Date.parse(day)) / 86_400_000);
    const words = interval ? greytare.expiry(day, days, interval) : "";
    say(byId("age"), words);
    byId("age").hidden = !words;
    say(byId("made"), chosen().short);
  }

  // --- steps of the reading ---------------------------------------------------------------
  function aim(element) {
    active?.classList.remove("aimed");
    active = element;
    active?.classList.add("aimed");
    stepper();
  }
  function parts(text) {
    try { return new Map(greytare.tokens(text, "").items()); } catch { return null; }
  }
  const near = (scale, value) => scale.reduce((best, [, exact], i) =>
    (Math.abs(Math.log2(exact / value)) < Math.abs(Math.log2(scale[best][1] / value)) ? i : best), 0);
  const clamp = (i, scale) => scale[Math.max(0, Math.min(scale.length - 1, i))];
  const timeText = (mark) => (mark < 0.29 ? `1/${Math.round(1 / mark)}` : `${mark} s`);
  // the reading with its light, or its aperture, moved by tenths of a stop; or with its next time
  function moved(text, tenths, what) {
    const found = parts(text);
    if (!found?.size) return null;
    const thirds = Math.sign(tenths) * Math.max(1, Math.round(Math.abs(tenths) * 0.3));
    const iso = found.get("iso"), time = found.get("time"), stop = found.get("f");
    const joined = (first, seconds) => [first, seconds && timeText(seconds), iso && `${iso.unit} ${iso.typed}`]
      .filter(Boolean).join(" ");
    const apertureText = (token) =>
      `f/${token.typed}${token.parts ? `+${$.str(token.parts === 10 ? $.mul(10, token.more) : token.more)}` : ""}`;
    if (found.has("ev")) {
      const at = found.get("ev").value;
      const next = state.thirds ? Math.round(at * 3 + tenths * 0.3) / 3 : at + tenths / 10;
      return joined(`EV ${(next + 0).toFixed(1)}`);
    }
    for (const kind of ["lux", "candela"]) {
      const light = found.get(kind);
      if (light) return `${Number((light.value * 2 ** (tenths / 10)).toPrecision(3))} ${light.unit}`;
    }
    if (time && (what === "time" || !stop)) {
      const times = greytare.TIME_SCALE.get("third");
      const next = clamp(near(times, time.value) + thirds, times)[0][0];
      return joined(stop && apertureText(stop), next);
    }
    if (!stop) return null;
    const exact = stop.value * 2 ** (stop.more / 2);
    const marks = greytare.F_SCALE.get("third"), full = greytare.F_SCALE.get("full");
    if (state.thirds || ["aperture", "setting"].includes(active.name)) {
      const next = clamp(near(marks, exact) + thirds, marks);
      return joined(`f/${next[0][0]}`, time?.value);
    }
    // as a meter shows it: the full stop below, and tenths
    const first = full[0][1];
    const member = stop.parts ? full[near(full, stop.value)][1] * 2 ** (stop.more / 2) : marks[near(marks, exact)][1];
    const at = Math.round(20 * Math.log2(member / first)) + tenths;
    const low = Math.max(0, Math.min(full.length - 1, Math.floor(at / 10)));
    return joined(`f/${full[low][0][0]}+${Math.max(0, Math.min(9, at - 10 * low))}`, time?.value);
  }
  function step(tenths, what) {
    if (!active) return;
    const next = active.value.trim() ? moved(active.value, tenths, what) : FIRST[active.name];
    if (next == null) return;
    active.value = next;
    changed();
  }
  function form(kind) {
    const flash = ["flash", "flash2", "total"].includes(active.name);
    active.value = kind === "EV" ? "EV 12.0" : kind === "lx" ? "1000 lx" : flash ? "f/8+0 ISO 100" : "f/5.6+0 1/60 ISO 100";
    changed();
  }
  function stepper() {
    const known = active && active.name in FIRST;
    byId("stepper").hidden = !known;
    if (!known) return;
    const label = active.labels?.[0]?.textContent ?? "";
    const found = parts(active.value);
    say(byId("stepped"), `${label}: ${active.value || "not given yet"}`);
    byId("times").hidden = !(found?.has("f") && found.has("time"));
    byId("forms").hidden = !["reading", "key", "fill", "ambient", "spot", "lamp", "after"].includes(active.name);
    say(byId("fine").lastChild, state.thirds ? "thirds" : "tenths");
    const dial = ["aperture", "time", "setting"].includes(active.name);
    byId("fine").hidden = dial;
    for (const button of document.querySelectorAll("#stepper [data-step]")) {
      const size = Number(button.dataset.step);
      const shown = Math.abs(size) === 10 ? "1" : state.thirds || dial ? "⅓" : "0.1";
      const sign = size < 0 ? "−" : "+";
      say(button.firstChild, active.name === "time" ? `${shown} ${size < 0 ? "longer" : "shorter"}` : `${sign}${shown}`);
    }
  }
  for (const button of document.querySelectorAll("#stepper [data-step]")) {
    button.addEventListener("click", () => {
      const size = Number(button.dataset.step);
      step(Math.abs(size) === 1 && state.thirds ? Math.sign(size) * 10 / 3 : size);
    });
  }
  for (const button of document.querySelectorAll("#stepper [data-time]")) {
    button.addEventListener("click", () => step(Number(button.dataset.time), "time"));
  }
  for (const button of document.querySelectorAll("#stepper [data-form]")) {
    button.addEventListener("click", () => form(button.dataset.form));
  }
  byId("fine").addEventListener("click", () => { state.thirds = !state.thirds; keep(); stepper(); });

  // --- the field sheet --------------------------------------------------------------------
  // the plan stands while a frame is ticked, else ticks would belong to other frames
  function hold() {
    const stands = state.tool === "sheet" && state.shots.length > 0;
    for (const each of byId("form").elements) {
      if (!each.name || ["after", "first_file"].includes(each.name)) continue;
      each.disabled = stands;
    }
    byId("stands").hidden = !stands;
  }
  function frames(known) {
    byId("sheet").hidden = !known;
    if (!known) return;
    const planned = greytare.frames_of(profile(), params());
    const count = (i) => state.shots.filter((shot) => shot[0] === i).length;
    const flash = planned.some((frame) => frame.meter_shows);
    byId("own").hidden = !flash;
    byId("frames").replaceChildren(...planned.map((frame, i) => h("li", {}, h("button", {
      type: "button", class: count(i) >= frame.copies ? "frame done" : "frame",
      onclick: () => { state.shots.push([i, flash ? byId("shown").value.trim() : ""]); byId("shown").value = ""; ticked(i); },
    }, h("strong", {}, frame.label), ` ${frame.detail} `, h("span", { class: "of" }, `${count(i)} of ${frame.copies}`)))));
    let text = "", problem = "";
    try { text = greytare.sheet_of(profile(), params(), state.shots); } catch (fault) { problem = told(fault); }
    byId("text").value = text;
    say(byId("unwritten"), problem);
    for (const each of document.querySelectorAll("#written button")) each.disabled = !text;
  }
  function ticked(i) {
    hold();
    changed();
    byId("frames").children[i]?.firstChild.focus();
  }
  function anew(shots) { state.shots = shots; byId("told").textContent = ""; hold(); changed(); }
  byId("undo").addEventListener("click", () => anew(state.shots.slice(0, -1)));
  byId("anew").addEventListener("click", () => anew([]));
  const file = () => new File([byId("text").value], "sheet.csv", { type: "text/csv" });
  byId("save").addEventListener("click", () => {
    const link = h("a", { href: URL.createObjectURL(file()), download: "sheet.csv" });
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
  });
  byId("share").hidden = !(navigator.canShare && navigator.canShare({ files: [new File([""], "sheet.csv", { type: "text/csv" })] }));
  byId("share").addEventListener("click", () => navigator.share({ files: [file()] }).catch(() => {}));
  byId("copy").addEventListener("click", async () => {
    try {
      await navigator.clipboard.writeText(byId("text").value);
      say(byId("told"), "Copied.");
    } catch {
      byId("text").select();
      say(byId("told"), "Marked: copy it with the phone's own menu.");
    }
  });
  byId("send").hidden = !said.served;
  byId("send").addEventListener("click", async () => {
    byId("send").disabled = true;
    try {
      const reply = await fetch("/sheet", {
        method: "POST",
        headers: { "Content-Type": "application/json", Accept: "application/json" },
        body: JSON.stringify({ profile: chosen().path, fields: pairs(), shots: state.shots }),
      });
      const words = await reply.json();
      say(byId("told"), words.said ?? words.error);
    } catch {
      say(byId("told"), "greytare doesn't answer: is it still running? The sheet is kept here.");
    }
    byId("send").disabled = false;
  });

  // --- the whole --------------------------------------------------------------------------
  byId("tabs").append(...TOOLS.map(([name, [words]]) => h("li", {}, h("button", {
    type: "button", id: `tab-${name}`, onclick: () => { state.tool = name; build(); },
  }, words))));
  if (!TOOLS.some(([name]) => name === state.tool)) state.tool = "settings";
  if (said.profiles.length > 1) {
    byId("profiles").replaceChildren(h("label", { for: "profile" }, "Profile"), h("select", {
      id: "profile", onchange: (event) => { state.profile = Number(event.target.value); state.shots = []; age(); build(); },
    }, ...(open() ? [h("option", { disabled: true, selected: true }, "choose")] : []),
    ...said.profiles.map((each, i) => h("option", { value: i, selected: i === state.profile }, each.short))));
  }
  byId("form").addEventListener("input", changed);
  byId("form").addEventListener("submit", (event) => event.preventDefault());
  onResize(byId("app"), draw);
  age();
  build();
  // one answer ahead of the first: it fills the tables of marks
  const ahead = params([["reading", "EV 12.0"], ...Object.entries(chosen().first)]);
  setTimeout(() => { try { greytare.answer_to("settings", profile(), ahead); } catch { /* no matter */ } });
  performance.mark("ready");
  root.classList.add("ready");
})();
