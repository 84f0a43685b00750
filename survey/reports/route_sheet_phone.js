"use strict";
(function () {
  const byId = (id) => document.getElementById(id);
  const holder = byId("route"), route = JSON.parse(holder.textContent);
  const prefix = `survey route ${holder.dataset.identity} `;
  const stops = route.stops, fields = route.fields;
  const undone = [];
  let at = -1, thermometer = "", keeps = true;

  /* Kept on the phone: one record for each device, so that two tabs lose nothing. */
  const store = {
    read(name) { try { return localStorage.getItem(prefix + name); } catch { return null; } },
    write(name, text) {
      try {
        if (text === null) localStorage.removeItem(prefix + name);
        else localStorage.setItem(prefix + name, text);
      } catch { lost(); }
    },
  };
  function lost() {
    keeps = false;
    byId("alarm").hidden = false;
    byId("alarm").textContent = "This browser keeps nothing: what you enter is gone when the page is closed. " +
      "Save the CSV file before you leave it, or open the page in another browser, outside a private window.";
  }
  function entryOf(text) {
    try {
      const kept = JSON.parse(text || "{}");
      return kept && typeof kept === "object" && !Array.isArray(kept) ?
        Object.fromEntries(Object.entries(kept).filter((pair) => typeof pair[1] === "string")) : {};
    } catch { return {}; }
  }
  const entries = stops.map(() => ({}));
  function readKept() {
    for (const i of stops.keys()) entries[i] = entryOf(store.read(i));
    showThermometer(store.read("thermometer") || "");
    store.write("probe", "1");
    if (keeps && store.read("probe") !== "1") lost();
    store.write("probe", null);
  }

  const isRead = (entry) => Object.keys(fields).some((name) => entry[name]);
  const isUsed = (entry) => Object.values(entry).some((value) => value);

  /* What a number can be, and what it can hardly be. */
  function tidied(text) {
    const plain = text.trim().replace(/^[−–]/, "-");
    return /^[^.,]*,\d+$/.test(plain) ? plain.replace(",", ".") : plain;
  }
  function numberOf(text) {
    const plain = tidied(text || "");
    return /^[+-]?(\d+\.?\d*|\.\d+)$/.test(plain) ? Number(plain) : NaN;
  }
  function impossible(name, text) {
    const field = fields[name];
    if (!text || field.kind !== "number") return "";
    const value = numberOf(text);
    if (Number.isNaN(value)) return "That is no number.";
    if (value < field.low) return `It cannot be under ${shownLimit(field.low)} ${field.unit}.`;
    if (value > field.high) return `It cannot be over ${shownLimit(field.high)} ${field.unit}.`;
    return "";
  }
  const shownLimit = (value) => String(Math.round(value * 10) / 10);
  const farFrom = { "°F": () => 50, dB: () => 20, psig: (last) => Math.max(5, Math.abs(last) * 0.3) };
  function doubt(i, name) {
    const entry = entries[i], stop = stops[i];
    const of = (other) => (impossible(other, entry[other]) ? NaN : numberOf(entry[other]));
    const value = of(name);
    const steam = stop.steam;
    const pressed = of("supply_psig"), before = stop.last.supply_psig;
    const samePressure = Number.isNaN(pressed) || Math.abs(pressed - before) < 2;
    if (name === "outlet_temp_f" && value > of("inlet_temp_f") + 5) return "Hotter after it than ahead of it: are the two mixed up?";
    if (name === "inlet_temp_f" && steam !== null && samePressure && value > steam + 10) return `Hotter than steam was here (${steam} °F): read it again, or the gauge.`;
    if (name === "inlet_temp_f" && value < of("ambient_f") - 5) return "Colder than the air round it: read it again.";
    if (name === "return_psig" && value > of("supply_psig")) return "More pressure after it than ahead of it: are the two mixed up?";
    if (name === "background_db" && value > of("sound_db") + 3) return "Louder on the bare pipe than on the device: are the two mixed up?";
    if (name === "observed" && entry.valve_position === "closed" && (entry.observed === "steam" || entry.observed === "water")) return "Something came out, though its valve is closed: is it?";
    if (name === "present" && entry.present === "no" && Object.keys(fields).some((other) => other !== "present" && entry[other])) return "Not fitted, yet read: which of the two?";
    const last = stop.last[name], far = farFrom[fields[name].unit];
    if (typeof last === "number" && far && Math.abs(value - last) > far(last)) return `Far from last time (${stop.shown[name]}): read it once more to be sure.`;
    return "";
  }
  const wrongOf = (i) => Object.keys(fields).filter((name) => impossible(name, entries[i][name]));

  /* Building. Everything from the round is set as text, never as markup. */
  function make(kind, properties, ...children) {
    const node = document.createElement(kind);
    for (const [name, value] of Object.entries(properties || {})) {
      if (name in node && name !== "list") node[name] = value;
      else node.setAttribute(name, value);
    }
    node.append(...children.filter((child) => child !== ""));
    return node;
  }
  const said = (text, properties) => make("span", properties, make("bdi", {}, text));

  /* The list. */
  const buttons = stops.map((stop, i) => {
    const mark = make("em", {});
    const button = make("button", { type: "button", className: "stop" },
      make("b", {}, make("bdi", {}, stop.name)), mark,
      said([stop.what, stop.equipment].filter(Boolean).join(", ")),
      stop.why ? said(stop.why, { className: "why" }) : "");
    button.addEventListener("click", () => open(i));
    return { button, mark, text: [stop.name, stop.what, stop.where, stop.station, stop.why].join(" ").toLowerCase() };
  });
  const groups = [];
  for (const [i, stop] of stops.entries()) {
    const name = stop.area || "No area named";
    if (!groups.length || groups[groups.length - 1].name !== name) {
      const heading = make("h2", {}, make("bdi", {}, name));
      groups.push({ name, part: make("section", {}, heading), members: [] });
      byId("devices").append(groups[groups.length - 1].part);
    }
    groups[groups.length - 1].members.push(i);
    groups[groups.length - 1].part.append(buttons[i].button);
  }
  function markAll() { for (let i = 0; i < stops.length; i++) mark(i); progress(); }
  function mark(i) {
    const { button, mark: sign } = buttons[i], entry = entries[i];
    const wrong = wrongOf(i).length > 0;
    button.toggleAttribute("data-read", isRead(entry));
    button.toggleAttribute("data-wrong", wrong);
    sign.textContent = wrong ? "look again" : isRead(entry) ? "read" : isUsed(entry) ? "note" : "not read";
  }
  function progress() {
    const count = entries.filter(isRead).length;
    byId("progress").textContent = `${count} of ${stops.length} read`;
    byId("bar").firstElementChild.style.setProperty("width", `${stops.length ? 100 * count / stops.length : 0}%`);
    byId("check").textContent = count ? `${count} of ${stops.length} devices were read.` : "Nothing was read yet.";
    byId("save").disabled = !entries.some(isUsed);
    byId("clear-all").disabled = !entries.some(isUsed);
    byId("wrong").replaceChildren(...stops.flatMap((stop, i) => wrongOf(i).map((name) => {
      const go = make("button", { type: "button" }, make("bdi", {}, stop.name), `: ${fields[name].label.toLowerCase()} cannot be. It is left out of its column, and put in the note.`);
      go.addEventListener("click", () => open(i));
      return make("li", {}, go);
    })));
    byId("next").textContent = entries.every(isRead) ? "All are read" : "Next not read";
    byId("next").disabled = entries.every(isRead);
    if (byId("copying").open) byId("text").value = csv();
  }
  function filter() {
    const words = byId("find").value.toLowerCase().split(/\s+/).filter(Boolean);
    let any = false;
    for (const group of groups) {
      let shown = false;
      for (const i of group.members) {
        const fits = words.every((word) => buttons[i].text.includes(word)) &&
          !(byId("unread").checked && isRead(entries[i])) && !(byId("reasons").checked && !stops[i].why);
        buttons[i].button.hidden = !fits;
        shown = shown || fits;
      }
      group.part.hidden = !shown;
      any = any || shown;
    }
    byId("none").hidden = any;
  }

  /* One device. */
  let shownFields = {};
  function numberField(i, name) {
    const field = fields[name], id = `f-${name}`;
    const input = make("input", { id, type: "text", inputMode: "decimal", autocomplete: "off", enterKeyHint: "next", value: entries[i][name] || "" });
    const line = make("div", { className: "line" }, input);
    if (field.signed) {
      const sign = make("button", { type: "button", "aria-label": `Change the sign of: ${field.label}` }, "±");
      sign.addEventListener("click", () => {
        input.value = /^[-−]/.test(input.value) ? input.value.slice(1) : `-${input.value}`;
        change(i, name, input.value);
        input.focus();
      });
      line.append(sign);
    }
    input.addEventListener("input", () => change(i, name, input.value));
    const label = make("label", { htmlFor: id }, field.label, " ", make("small", {}, field.unit));
    return finished(i, name, make("div", { className: "field" }, label, line), [input]);
  }
  function choiceField(i, name) {
    const group = make("fieldset", { className: "field" }, make("legend", {}, fields[name].label));
    const radios = choices(group, name, [["", "not read"], ...fields[name].choices], entries[i][name] || "",
      (value) => change(i, name, value));
    return finished(i, name, group, radios);
  }
  function choices(group, name, listed, chosen, changed) {
    const line = make("div", { className: "choices" });
    const radios = listed.map(([value, words]) => {
      const radio = make("input", { type: "radio", name, value, checked: value === chosen });
      radio.addEventListener("change", () => changed(value));
      line.append(make("label", {}, radio, words));
      return radio;
    });
    group.append(line);
    return radios;
  }
  function finished(i, name, box, controls) {
    const stop = stops[i], warn = make("p", { className: "warn", id: `w-${name}`, "aria-live": "polite" });
    const past = make("p", { className: "last", id: `l-${name}` }, name in stop.shown ? "last time " : "no last reading",
      name in stop.shown ? make("bdi", {}, stop.shown[name]) : "");
    box.append(past, warn);
    for (const control of controls) control.setAttribute("aria-describedby", `l-${name} w-${name}`);
    shownFields[name] = { warn, controls };
    return box;
  }
  function show(i) {
    const stop = stops[i];
    byId("name").replaceChildren(make("bdi", {}, stop.name));
    byId("where").replaceChildren(make("bdi", {}, [stop.what, stop.where, stop.station && `station ${stop.station}`].filter(Boolean).join(", ")));
    byId("why").replaceChildren(stop.why ? make("bdi", {}, stop.why) : "");
    byId("last").replaceChildren(make("bdi", {}, [stop.seen && `Last read ${stop.seen}`, stop.verdict, stop.note && `note: ${stop.note}`].filter(Boolean).join("; ")));
    shownFields = {};
    byId("fields").replaceChildren(...stop.read.filter((name) => fields[name]).map((name) =>
      (fields[name].kind === "number" ? numberField : choiceField)(i, name)));
    byId("note").value = entries[i].note || "";
    warnings();
    byId("undo").disabled = !undone.some((step) => step.at === i);
    byId("clear").disabled = !isUsed(entries[i]);
  }
  function warnings() {
    for (const [name, { warn, controls }] of Object.entries(shownFields)) {
      const wrong = impossible(name, entries[at][name]);
      const doubtful = !wrong && entries[at][name] ? doubt(at, name) : "";
      if (warn.textContent !== (wrong || doubtful)) warn.textContent = wrong || doubtful;
      warn.className = wrong ? "warn impossible" : doubtful ? "warn doubt" : "warn";
      if (controls.length === 1) controls[0].setAttribute("aria-invalid", wrong ? "true" : "false");
    }
  }
  function now() {
    const time = new Date(), two = (value) => String(value).padStart(2, "0");
    return `${time.getFullYear()}-${two(time.getMonth() + 1)}-${two(time.getDate())}T${two(time.getHours())}:${two(time.getMinutes())}:${two(time.getSeconds())}`;
  }
  function change(i, name, value) {
    const entry = entries[i], last = undone[undone.length - 1];
    // One step back undoes a whole field, not its last digit.
    if (!last || last.at !== i || last.name !== name) undone.push({ at: i, name, before: { ...entry } });
    if (value.trim()) entry[name] = value; else delete entry[name];
    stamp(entry);
    keep(i);
  }
  function stamp(entry) {
    if (isRead(entry)) entry.read_at = entry.read_at || now(); else delete entry.read_at;
  }
  function keep(i) {
    store.write(i, isUsed(entries[i]) ? JSON.stringify(entries[i]) : null);
    mark(i);
    progress();
    if (at === i) {
      warnings();
      byId("undo").disabled = !undone.some((step) => step.at === i);
      byId("clear").disabled = !isUsed(entries[i]);
    }
  }
  function undo() {
    for (let step = undone.length - 1; step >= 0; step--) {
      if (undone[step].at !== at) continue;
      // The rest of the record may have been written in another tab meanwhile.
      const [{ name, before }] = undone.splice(step, 1), entry = entries[at];
      if (!name) entries[at] = { ...before, ...entry };
      else if (before[name]) entry[name] = before[name];
      else delete entry[name];
      stamp(entries[at]);
      keep(at);
      show(at);
      return;
    }
  }

  /* Going about. The address ends in the device's place, so that the phone's own back works. */
  function open(i) { location.hash = `#device-${i + 1}`; }
  function place() {
    const found = /^#device-(\d+)$/.exec(location.hash), i = found ? Number(found[1]) - 1 : -1;
    const left = at;
    at = i >= 0 && i < stops.length ? i : -1;
    byId("list").hidden = at >= 0;
    byId("to-save").hidden = at >= 0;
    for (const id of ["unit", "back", "previous"]) byId(id).hidden = at < 0;
    if (at >= 0) {
      show(at);
      byId("previous").disabled = at === 0;
      window.scrollTo(0, 0);
      byId("name").focus({ preventScroll: true });
    } else {
      filter();
      if (left >= 0) buttons[left].button.focus();
    }
  }
  function nextUnread() {
    for (let step = 1; step <= stops.length; step++) {
      const i = (at + step + stops.length) % stops.length;
      if (!isRead(entries[i])) return open(i);
    }
  }

  /* The file: only devices with an entry; no cell can start a formula. */
  const formula = /^[\s\u00a0]*[=+\-@＝＋－＠]|^[\t\r\n]/;
  const control = /[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f-\u009f\u200e\u200f\u202a-\u202e\u2066-\u2069]/g;
  function cell(value) {
    if (value === undefined || value === null || value === "") return "";
    if (typeof value === "number") return String(value);
    let text = String(value).replace(control, "");
    if (formula.test(text)) text = `'${text}`;
    return /[",;\t\r\n]/.test(text) ? `"${text.replace(/"/g, '""')}"` : text;
  }
  function rowOf(i) {
    const entry = entries[i], row = { ...stops[i].fixed, read_at: entry.read_at };
    const notes = entry.note ? [entry.note] : [];
    for (const name of Object.keys(fields)) {
      if (!entry[name]) continue;
      if (impossible(name, entry[name])) notes.push(`${name} was entered as ${entry[name]}, which cannot be`);
      else row[name] = fields[name].kind === "number" ? numberOf(entry[name]) : entry[name];
    }
    if (entry.inlet_temp_f || entry.outlet_temp_f) row.thermometer = thermometer;
    row.note = notes.join("; ");
    return row;
  }
  function csv() {
    const lines = [route.columns.join(",")];
    for (let i = 0; i < stops.length; i++) {
      if (!isUsed(entries[i])) continue;
      const row = rowOf(i);
      lines.push(route.columns.map((name) => cell(row[name])).join(","));
    }
    return `${lines.join("\r\n")}\r\n`;
  }
  function save() {
    // The mark in front tells a spreadsheet that the text is UTF-8.
    const address = URL.createObjectURL(new Blob(["\ufeff", csv()], { type: "text/csv;charset=utf-8" }));
    const link = make("a", { href: address, download: `round_${now().slice(0, 16).replace(/[T:]/g, "-")}.csv`, hidden: true }, "file");
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(address), 60000);
  }

  function ask(question, then) {
    byId("question").textContent = question;
    byId("yes").onclick = () => { byId("ask").close(); then(); };
    byId("ask").showModal();
  }

  /* Wiring. */
  const thermometers = choices(byId("thermometer"), "thermometer", [["", "not said"], ["contact", "contact"], ["infrared", "infrared"]], "",
    (value) => { thermometer = value; store.write("thermometer", value || null); });
  function showThermometer(value) {
    thermometer = value;
    for (const radio of thermometers) radio.checked = radio.value === value;
  }
  byId("note").addEventListener("input", () => change(at, "note", byId("note").value));
  byId("undo").addEventListener("click", undo);
  byId("clear").addEventListener("click", () => ask(`Clear everything entered for ${stops[at].name}?`, () => {
    undone.push({ at, name: "", before: { ...entries[at] } });
    entries[at] = {};
    keep(at);
    show(at);
  }));
  byId("clear-all").addEventListener("click", () => {
    const count = entries.filter(isUsed).length;
    ask(`Clear the entries of ${count} ${count === 1 ? "device" : "devices"}? Save the file first. This cannot be undone.`, () => {
      for (let i = 0; i < stops.length; i++) { entries[i] = {}; store.write(i, null); }
      undone.length = 0;
      markAll();
      filter();
    });
  });
  byId("no").addEventListener("click", () => byId("ask").close());
  byId("save").addEventListener("click", save);
  byId("copying").addEventListener("toggle", () => { byId("text").value = byId("copying").open ? csv() : ""; });
  byId("next").addEventListener("click", nextUnread);
  byId("previous").addEventListener("click", () => open(at - 1));
  byId("to-save").addEventListener("click", () => { byId("saving").scrollIntoView(); byId("saving").focus({ preventScroll: true }); });
  byId("back").addEventListener("click", () => { location.hash = ""; });
  for (const id of ["find", "unread", "reasons"]) byId(id).addEventListener("input", filter);
  function takeOver(i, text) {
    const found = entryOf(text);
    if (JSON.stringify(found) === JSON.stringify(entries[i])) return;
    entries[i] = found;
    mark(i);
    progress();
    if (i === at) showInPlace(i);
  }
  /* Show a device anew, and leave whoever is typing where they were. */
  function showInPlace(i) {
    const held = document.activeElement, caret = held && held.type === "text" ? held.selectionStart : null;
    show(i);
    if (!held || held.isConnected) return;
    const same = held.id ? byId(held.id) :
      [...byId("fields").querySelectorAll("input")].find((one) => one.name === held.name && one.value === held.value);
    if (!same) return;
    same.focus({ preventScroll: true });
    if (caret !== null) same.setSelectionRange(caret, caret);
  }
  function heard(event) {
    if (event.key === null || !event.key.startsWith(prefix)) return;
    const name = event.key.slice(prefix.length), i = Number(name);
    if (name === "thermometer") showThermometer(event.newValue || "");
    else if (Number.isInteger(i) && i in entries) takeOver(i, event.newValue);
  }
  // A tab that slept was not told what another one wrote. What is gone from the store it puts back,
  // and if that fails it says that nothing is kept.
  function awake() {
    if (!keeps || document.hidden) return;
    for (const i of stops.keys()) {
      const text = store.read(i);
      if (text !== null) takeOver(i, text);
      else if (isUsed(entries[i])) keep(i);
    }
    showThermometer(store.read("thermometer") || thermometer);
    if (at < 0) filter();
  }
  window.addEventListener("beforeunload", (event) => { if (!keeps && entries.some(isUsed)) event.preventDefault(); });
  if (navigator.storage && navigator.storage.persist) navigator.storage.persist().catch(() => {});
  function begin() {
    readKept();
    markAll();
    place();
    window.addEventListener("hashchange", place);
    window.addEventListener("storage", heard);
    document.addEventListener("visibilitychange", awake);
    window.addEventListener("pageshow", awake);
    // Said by the page itself until all of this has run.
    byId("needs-script").hidden = true;
  }
  // What a page asks of its store before it has been shown, Chromium now and then answers from an
  // empty store that no other tab sees and that is not kept. After its first frame it is the phone's.
  requestAnimationFrame(() => setTimeout(begin, 0));
})();
