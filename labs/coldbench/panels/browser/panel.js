// One panel on the page. Python decides everything that is shown; this module builds the
// controls, draws what Python sends, and reports what the learner moved.
//
// Each focusable element carries QUIET: without it JupyterLab takes single keys (a inserts a
// cell, x cuts one, arrows change the cell) while a control has the focus.

const QUIET = { "data-lm-suppress-shortcuts": "true" };
const FIRST_ANSWER_MS = 2500; // then we say that no kernel is running
const LATER_ANSWER_MS = 5000; // then we say that Python does not answer
const TYPING_PAUSE_MS = 700; // then a typed number counts without Enter
const NUMBER_PAUSE_MS = 900; // digits typed closer together make one number
const SPOKEN_AFTER_MS = 600; // the readings are read aloud once the keys rest

const NO_KERNEL =
  "No kernel is running: this is the last setting, and the controls rest. " +
  "Run this cell to move them.";
const LOST =
  "The kernel no longer knows this panel, as after a restart. This is the last setting; " +
  "run this cell to move it.";
const NO_ANSWER =
  "Python does not answer. A long cell may still be running; after a restart of the kernel, " +
  "run this cell again.";

let pages = 0;

function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value !== undefined) element.setAttribute(name, value);
  }
  element.append(...children);
  return element;
}

// Controls: each returns { element, show(value, words), fields } and calls report(value).

function slider(control, id, report) {
  const limits = { min: control.min, max: control.max, step: control.step };
  const range = make("input", { type: "range", id, ...limits, ...QUIET });
  const box = make("input", { type: "number", ...limits, ...QUIET });
  const unit = control.unit ? ` ${control.unit}` : "";
  box.setAttribute("aria-label", `${control.label}, type a number${unit && ` in${unit}`}`);
  const hint = make("span", { class: "cb-hint", id: `${id}-hint`, role: "alert" });
  const refuse = (refused) => {
    const say = `Accepted: ${control.min} to ${control.max}${unit}`.replaceAll("-", "−");
    hint.textContent = refused ? say : "";
    refused ? box.setAttribute("aria-invalid", "true") : box.removeAttribute("aria-invalid");
  };
  box.setAttribute("aria-describedby", hint.id);
  let last; // the number shown or reported last
  range.addEventListener("input", () => {
    last = Number(range.value);
    box.value = last;
    refuse(false);
    report(last);
  });
  let typing;
  // A number counts when it is finished: Enter, an arrow key, leaving the box, or a pause.
  const finish = () => {
    clearTimeout(typing);
    const value = box.valueAsNumber;
    const refused = Number.isNaN(value) || value < control.min || value > control.max;
    refuse(refused);
    if (refused || value === last) return;
    range.value = last = value;
    report(value);
  };
  box.addEventListener("input", () => {
    clearTimeout(typing);
    typing = setTimeout(finish, TYPING_PAUSE_MS);
  });
  box.addEventListener("change", finish);
  box.addEventListener("keydown", (event) => event.key === "Enter" && finish());
  box.addEventListener("blur", () => {
    if (box.hasAttribute("aria-invalid")) box.value = last; // the reason stays to be read
  });
  const show = (value, words) => {
    const moved = last !== value;
    range.value = last = value;
    range.setAttribute("aria-valuetext", words);
    if (!moved && document.activeElement === box) return; // do not disturb the typing
    if (moved || !box.hasAttribute("aria-invalid")) box.value = value;
    if (moved) refuse(false);
  };
  const element = make(
    "div",
    { class: "cb-control cb-slider" },
    make("label", { for: id }, control.label),
    range,
    make("span", { class: "cb-box" }, box, make("span", { class: "cb-unit" }, control.unit)),
    hint,
  );
  return { element, show, fields: [range, box] };
}

function menu(control, id, report) {
  const options = control.options.map(([value, words]) => make("option", { value }, words));
  const field = make("select", { id, ...QUIET }, ...options);
  field.addEventListener("change", () => report(field.value));
  const label = make("label", { for: id }, control.label);
  const element = make("div", { class: "cb-control" }, label, field);
  return { element, show: (value) => (field.value = value), fields: [field] };
}

function radio(control, id, report) {
  const fields = control.options.map(([value]) =>
    make("input", { type: "radio", name: id, id: `${id}-${value}`, value, ...QUIET }),
  );
  const options = fields.map((field, at) => {
    field.addEventListener("change", () => report(field.value));
    return make("label", { for: field.id }, field, ` ${control.options[at][1]}`);
  });
  const row = make("div", { class: "cb-options" }, ...options);
  const element = make(
    "fieldset",
    { class: "cb-control" },
    make("legend", {}, control.label),
    row,
  );
  const show = (value) => fields.forEach((field) => (field.checked = field.value === value));
  return { element, show, fields };
}

function toggle(control, id, report) {
  const field = make("input", { type: "checkbox", id, ...QUIET });
  field.addEventListener("change", () => report(field.checked));
  const element = make("div", { class: "cb-control" });
  element.append(make("label", { for: id }, field, ` ${control.label}`));
  return { element, show: (value) => (field.checked = value), fields: [field] };
}

function button(control, id, report) {
  const field = make("button", { type: "button", id, ...QUIET }, control.label);
  let presses = 0;
  field.addEventListener("click", () => report((presses += 1)));
  const element = make("div", { class: "cb-control" }, field);
  return { element, show: (value) => (presses = value), fields: [field] };
}

const BUILDERS = { slider, menu, radio, toggle, button };

// QUIET also keeps "save" from JupyterLab: send that one on, from an element without QUIET.
function passSaveOn(event) {
  const control = (event.ctrlKey || event.metaKey) && !event.shiftKey;
  const save = control && event.key.toLowerCase() === "s"; // "S" with caps lock
  if (!save || event.target === event.currentTarget) return;
  event.preventDefault();
  const { key, code, keyCode, ctrlKey, metaKey } = event;
  const copy = { key, code, keyCode, ctrlKey, metaKey, bubbles: true, cancelable: true };
  event.currentTarget.dispatchEvent(new KeyboardEvent("keydown", copy));
}

// Points of a drawing that mouse and keys reach: buttons over the picture. One tab stop; arrow
// keys go to the nearest point that way, digits to the point of that number. Enter or a click sets
// the first control of spec.sets, with Shift the second. spec.keys [key -> name of a button, or
// name and value of another control].
function targets(spec, svg, actions) {
  const box = svg.viewBox.baseVal;
  const help = make("p", { class: "cb-spoken", id: `${actions.id}-help` }, spec.help);
  const [first, second = first] = spec.sets ?? ["red", "black"];
  const orders = spec.keys ?? { m: spec.press };
  const fields = spec.points.map(([value, words, x, y, wide, high]) => {
    const field = make("button", { type: "button", class: "cb-target", ...QUIET });
    if (wide) {
      field.classList.add("cb-target-box");
      field.style.width = `${(100 * wide) / box.width}%`;
      field.style.height = `${(100 * high) / box.height}%`;
    }
    field.style.left = `${(100 * x) / box.width}%`;
    field.style.top = `${(100 * y) / box.height}%`;
    field.tabIndex = -1;
    field.setAttribute("aria-describedby", help.id);
    return Object.assign(field, { cbPoint: { value, words, x, y } });
  });
  const stop = (field) => fields.forEach((other) => (other.tabIndex = other === field ? 0 : -1));
  if (fields.length) stop(fields[0]);
  const go = (field) => {
    stop(field);
    field.focus();
  };
  const place = (field, shift) => actions.place(shift ? second : first, field.cbPoint.value);
  const nearest = (from, dx, dy) => {
    const cost = (field) => {
      const [across, down] = [field.cbPoint.x - from.x, field.cbPoint.y - from.y];
      const ahead = across * dx + down * dy;
      return ahead > 1 ? ahead + 2.5 * Math.abs(across * dy + down * dx) : Infinity;
    };
    const best = fields.reduce((a, b) => (cost(b) < cost(a) ? b : a));
    return cost(best) < Infinity ? best : undefined;
  };
  let typed = { number: "", at: 0 };
  const jump = (digit, now) => {
    const going = now - typed.at < NUMBER_PAUSE_MS ? typed.number : "";
    typed = { number: going + digit, at: now };
    const field = fields.find(({ cbPoint }) => cbPoint.value === typed.number);
    if (field) go(field);
  };
  const ARROWS = {
    ArrowLeft: [-1, 0],
    ArrowRight: [1, 0],
    ArrowUp: [0, -1],
    ArrowDown: [0, 1],
  };
  const keys = (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const field = event.currentTarget;
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    if (!/^\d$/.test(key)) typed.number = ""; // the next digit begins another number
    const order = Object.hasOwn(orders, key) ? orders[key] : undefined;
    if (order) Array.isArray(order) ? actions.place(...order) : actions.press(order);
    else if (key in ARROWS) {
      const next = nearest(field.cbPoint, ...ARROWS[key]);
      if (next) go(next);
    } else if (key === "Home" || key === "End") go(fields.at(key === "Home" ? 0 : -1));
    else if (/^\d$/.test(key)) jump(key, event.timeStamp);
    else if (key === "Enter" || key === " ") place(field, event.shiftKey);
    else if (!spec.sets && (key === "r" || key === "b")) place(field, key === "b");
    else return;
    event.preventDefault();
  };
  fields.forEach((field) => {
    field.addEventListener("keydown", keys);
    field.addEventListener("keyup", (event) => event.key === " " && event.preventDefault());
    field.addEventListener("focus", () => go(field));
    field.addEventListener("click", (event) => place(field, event.shiftKey));
    field.addEventListener("contextmenu", (event) => {
      event.preventDefault();
      place(field, true);
    });
  });
  const frame = make("div", { class: "cb-target-frame", role: "group", "aria-label": spec.label });
  frame.style.cssText = svg.style.cssText;
  frame.style.minWidth = `${Math.round(0.78 * box.width)}px`; // below that it would be too small
  svg.replaceWith(frame);
  frame.append(svg, ...fields, help);
  const marks = spec.marks ?? ["red lead here", "black lead here"];
  const show = (values) =>
    fields.forEach((field) => {
      const { value, words } = field.cbPoint;
      const here = [first, second].map((name, at) => value === values[name] && marks[at]);
      const name = [words, ...here.filter(Boolean)].join(", ");
      if (field.getAttribute("aria-label") !== name) field.setAttribute("aria-label", name);
    });
  const chosen = (values) => fields.find(({ cbPoint }) => cbPoint.value === values[first]);
  return { fields, show, chosen, go, stop };
}

class PanelPage {
  constructor(model, el) {
    this.model = model;
    this.page = `${Date.now().toString(36)}-${(pages += 1)}`;
    this.number = 0; // of the last request sent
    this.waiting = new Map(); // control name -> change not yet answered
    this.live = false;
    this.pictures = {};
    this.build(el);
    this.onFrame = () => this.frame();
    model.on("change:_frame", this.onFrame);
    // A link that is cut or joined anew, as by a restart of the kernel: does Python answer?
    this.onLink = () => this.ask(FIRST_ANSWER_MS, LOST);
    model.on("comm_live_update", this.onLink);
    this.frame();
    this.setLive(false, "");
    this.ask(FIRST_ANSWER_MS, NO_KERNEL);
  }

  build(el) {
    this.title = make("p", { class: "cb-title" });
    this.drawings = make("div", { class: "cb-pictures" });
    this.controls = make("div", { class: "cb-controls" });
    this.line = make("p", { class: "cb-line" });
    this.copy = make("button", { type: "button", class: "cb-copy", hidden: "", ...QUIET });
    this.copy.addEventListener("click", () => this.copyText());
    this.table = make("table", { class: "cb-table" });
    this.note = make("p", { class: "cb-note", role: "status" });
    this.spoken = make("p", { class: "cb-spoken", "aria-live": "polite" });
    this.lists = make("div", { class: "cb-lists" });
    const readings = make("div", { class: "cb-readings" });
    readings.append(this.line, this.copy, this.table, this.lists);
    this.work = make("div", { class: "cb-work" }, this.controls, readings);
    this.root = make("div", { class: "cb-panel", role: "group" });
    this.root.addEventListener("keydown", passSaveOn);
    this.help = make("p", { class: "cb-help" });
    this.parts = make("div", { class: "cb-body" }, this.drawings, this.work);
    this.root.append(this.title, this.parts, this.help, this.note, this.spoken);
    el.append(this.root);
  }

  // What Python sends rarely: title, controls, still parts of the drawings.
  stage(stage) {
    this.staged = stage;
    this.root.setAttribute("aria-label", stage.title);
    this.title.textContent = stage.title;
    if (stage.look) this.root.classList.add(stage.look);
    this.stageDrawings(stage);
    this.stageControls(stage.controls);
    const head = make("tr", {}, ...stage.columns.map((c) => make("th", { scope: "col" }, c)));
    const caption = make("caption", {}, stage.caption);
    this.body = make("tbody");
    this.table.replaceChildren(caption, make("thead", {}, head), this.body);
  }

  stageDrawings({ pictures, targets: spec, look }) {
    const drawn = JSON.stringify([pictures, spec]);
    if (drawn === this.drawn) return;
    this.drawn = drawn;
    const inside = this.targets?.fields.includes(document.activeElement);
    this.drawings.innerHTML = pictures.map(([, drawing]) => drawing).join("");
    pictures.forEach(([name], at) => {
      const svg = this.drawings.children[at];
      this.pictures[name] = {
        front: svg.querySelector(".cb-front"),
        words: svg.querySelector("desc"),
      };
    });
    this.targets = undefined;
    this.root.classList.toggle("cb-wide", Boolean(spec));
    // Tab goes as the style sheet sets them one under the other.
    const first = spec && look !== "cb-bench" ? this.work : this.drawings;
    if (this.parts.firstChild !== first) this.parts.prepend(first);
    if (!spec) return;
    const svg = this.pictures[spec.picture].front.closest("svg");
    this.targets = targets(spec, svg, {
      id: this.page,
      place: (name, value) => this.live && name in this.built && this.report({ name }, value),
      press: (name) => this.live && this.built[name]?.fields[0].click(),
    });
    this.help.textContent = spec.help;
    this.targets.fields.forEach((field) => (field.disabled = !this.live));
    const { values } = this.model.get("_frame");
    this.targets.show(values);
    const chosen = spec.sets && this.targets.chosen(values);
    if (chosen) inside ? this.targets.go(chosen) : this.targets.stop(chosen);
  }

  stageControls(controls) {
    const declared = JSON.stringify(controls);
    if (declared === this.declared) return;
    this.declared = declared;
    const focused = document.activeElement?.id;
    this.built = {};
    for (const control of controls) {
      const id = `${this.page}-${control.name}`;
      const report = (value) => this.report(control, value);
      this.built[control.name] = BUILDERS[control.role](control, id, report);
    }
    this.controls.replaceChildren(...this.grouped(controls));
    this.setLive(this.live);
    if (focused?.startsWith(this.page)) document.getElementById(focused)?.focus();
  }

  // Controls of one group stand together under its words, where its first control stands; a
  // button stands in the row of the menu before it.
  grouped(controls) {
    const groups = new Map();
    this.rows = new Map(); // control name -> the row of its group
    for (const { name, group, role } of controls) {
      const { element } = this.built[name];
      if (!group) {
        groups.set(name, { element });
        continue;
      }
      if (!groups.has(group)) {
        const element = make("fieldset", { class: "cb-group" }, make("legend", {}, group));
        groups.set(group, { element });
      }
      const here = groups.get(group);
      if (!(role === "button" && here.row && here.begins !== "slider")) {
        here.row = make("div", { class: "cb-row" });
        here.begins = role;
        here.element.append(here.row);
      }
      here.row.append(element);
      this.rows.set(name, here.row);
    }
    return [...groups.values()].map(({ element }) => element);
  }

  // What Python sends at every change. A new stage always comes together with a frame.
  frame() {
    const [stage, frame] = [this.model.get("_stage"), this.model.get("_frame")];
    if (stage !== this.staged) this.stage(stage);
    this.settle(frame.answers);
    for (const [name, [front, words]] of Object.entries(frame.pictures)) {
      const picture = this.pictures[name];
      if (!picture) continue;
      picture.front.innerHTML = front;
      picture.words.textContent = words;
    }
    this.line.textContent = frame.line;
    const [copyWords = "", toCopy] = frame.copy ?? [];
    if (toCopy !== this.toCopy) this.copy.textContent = copyWords;
    this.copy.hidden = !copyWords;
    this.toCopy = toCopy;
    this.fillTable(frame.rows);
    this.fillLists(frame.lists ?? []);
    if (this.waiting.size === 0) {
      this.showValues(frame);
      this.echo(frame.message || frame.line.split("\n")[0]);
    }
    if (this.live) this.note.textContent = frame.message;
    // Of two views of a panel the one that was worked speaks.
    if (!frame.answers || frame.answers[0] === this.page) this.speak(frame.line);
  }

  // Only words that changed are written: laying a table out anew takes time.
  fillTable(rows) {
    const words = rows.flat();
    let cells = this.body.querySelectorAll("th, td");
    if (cells.length !== words.length) {
      const cell = (_, at) => (at === 0 ? make("th", { scope: "row" }) : make("td"));
      this.body.replaceChildren(...rows.map((row) => make("tr", {}, ...row.map(cell))));
      cells = this.body.querySelectorAll("th, td");
    }
    words.forEach((word, at) => {
      if (cells[at].textContent !== word) cells[at].textContent = word;
    });
  }

  fillLists(lists) {
    const said = JSON.stringify(lists);
    if (said === this.said) return;
    this.said = said;
    const items = (lines) => make("ul", {}, ...lines.map((line) => make("li", {}, line)));
    const heading = (words) => make("p", { class: "cb-list-head" }, words);
    const block = ([words, lines]) => make("div", { class: "cb-list" }, heading(words), items(lines));
    this.lists.replaceChildren(...lists.map(block));
  }

  showValues({ values, words }) {
    for (const [name, control] of Object.entries(this.built)) {
      control.show(values[name], words[name]);
    }
    this.targets?.show(values);
  }

  speak(words) {
    clearTimeout(this.speaking);
    this.speaking = setTimeout(() => {
      if (this.live && this.spoken.textContent !== words) this.spoken.textContent = words;
    }, SPOKEN_AFTER_MS);
  }

  // Words of a line can be marked by mouse alone; this works by keyboard, and takes no word more.
  async copyText() {
    try {
      await navigator.clipboard.writeText(this.toCopy);
      this.copy.textContent = "Copied";
    } catch {
      this.copy.textContent = "The browser does not let it copy: mark the line and press Ctrl+C";
    }
    this.spoken.textContent = this.copy.textContent;
  }

  // Many instruments stand far below the line: what one said stands beside its button, too.
  echo(words) {
    if (!this.pressed || !words) return;
    this.saidHere ??= make("p", { class: "cb-echo", "aria-hidden": "true" });
    this.saidHere.textContent = words;
    this.pressed.after(this.saidHere);
    this.pressed = undefined;
  }

  // What the learner does.
  report(control, value) {
    this.saidHere?.remove();
    this.pressed = control.role === "button" ? this.rows.get(control.name) : undefined;
    this.waiting.set(control.name, { value, unit: control.unit, number: this.number + 1 });
    this.ask(LATER_ANSWER_MS, NO_ANSWER);
  }

  ask(patience, complaint) {
    this.number += 1;
    const changes = Object.fromEntries(this.waiting);
    this.model.set("_request", { page: this.page, number: this.number, changes });
    this.model.save_changes();
    this.watch(patience, complaint);
  }

  // An answer clears what it answers; an answer to somebody else clears nothing.
  settle(answers) {
    if (!answers || answers[0] !== this.page) return;
    for (const [name, change] of this.waiting) {
      if (change.number <= answers[1]) this.waiting.delete(name);
    }
    if (!this.live) this.setLive(true, "");
    clearTimeout(this.timer);
    this.timer = undefined;
    if (this.waiting.size > 0) this.watch(LATER_ANSWER_MS, NO_ANSWER);
  }

  watch(patience, complaint) {
    this.timer ??= setTimeout(() => this.rest(complaint), patience);
  }

  // Controls that rest show what the readings belong to; what is still waiting comes with its answer.
  rest(complaint) {
    this.setLive(false, complaint);
    this.showValues(this.model.get("_frame"));
  }

  setLive(live, note) {
    const focused = document.activeElement;
    if (!live && this.root.contains(focused)) this.returnTo = focused;
    this.live = live;
    const fields = Object.values(this.built).flatMap((control) => control.fields);
    fields.push(...(this.targets?.fields ?? []));
    fields.forEach((field) => (field.disabled = !live));
    this.root.classList.toggle("cb-resting", !live);
    if (note !== undefined) this.note.textContent = note;
    if (live && focused === document.body) this.returnTo?.focus();
    if (live) this.returnTo = undefined;
  }

  remove() {
    clearTimeout(this.timer);
    clearTimeout(this.speaking);
    this.model.off("change:_frame", this.onFrame);
    this.model.off("comm_live_update", this.onLink);
  }
}

export default {
  render({ model, el }) {
    const panel = new PanelPage(model, el);
    return () => panel.remove();
  },
};
