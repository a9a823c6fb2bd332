// The page: drop, name, choose, measure, read. Every text from a file is put in as text, never as markup.
(() => {
  "use strict";
  const $ = (id) => document.getElementById(id);
  const HEADERS = { "x-camwitness": "1" };
  let capture = null; // the capture shown
  let engine = null; // the engine chosen
  let file = null; // the file last dropped, to be read again with a rate
  let upload = null; // a running upload
  let running = null; // number of the running measurement
  let maxUpload = Infinity;
  const compared = new Set();

  const make = (tag, set = {}, ...inside) => {
    const element = Object.assign(document.createElement(tag), set);
    element.append(...inside);
    return element;
  };
  const option = (value, text) => make("option", { value, textContent: text });
  const megabytes = (bytes) => (bytes / 1e6).toFixed(bytes < 1e7 ? 1 : 0) + " MB";

  async function ask(address, options = {}) {
    let answer;
    try {
      answer = await fetch(address, { ...options, headers: { ...HEADERS, ...(options.headers || {}) } });
    } catch {
      throw new Error("The page does not answer any more. Start “camwitness page” again; results of the old session are gone.");
    }
    const body = await answer.json().catch(() => ({}));
    if (!answer.ok) throw new Error(body.error || "The page answered with status " + answer.status + ".");
    return body;
  }
  const send = (address, value) => ask(address, { method: "POST", body: JSON.stringify(value), headers: { "content-type": "application/json" } });

  // 1. Capture

  function drop(chosen) {
    if (!chosen) return;
    file = chosen;
    read();
  }

  function read(rate) {
    $("capture-error").textContent = "";
    $("rate-row").hidden = true;
    if (file.size > maxUpload) {
      $("capture-error").textContent = file.name + " has " + megabytes(file.size) + ", more than the " + megabytes(maxUpload) +
        " this page takes. Export a shorter capture, or start the page with a larger --max-upload.";
      return;
    }
    if (upload) upload.abort();
    const request = (upload = new XMLHttpRequest());
    const end = () => { if (upload === request) upload = null; $("uploading").hidden = true; };
    const fail = (message) => {
      end();
      $("capture-error").textContent = message;
      $("rate-row").hidden = !/rate/.test(message);
    };
    $("uploading").hidden = false;
    $("upload-bar").value = 0;
    $("upload-words").textContent = "taking " + file.name;
    request.upload.onprogress = (event) => { if (event.lengthComputable) $("upload-bar").value = event.loaded / event.total; };
    request.upload.onload = () => { $("upload-bar").removeAttribute("value"); $("upload-words").textContent = "reading " + file.name; };
    request.onerror = () => fail("The page does not answer any more, or the file changed while it was read. Drop it again.");
    request.onabort = () => { end(); $("capture-about").textContent = "Cancelled."; };
    request.onload = () => {
      let body = {};
      try { body = JSON.parse(request.responseText); } catch { /* told below */ }
      if (request.status !== 200) return fail(body.error || "The file could not be read.");
      end();
      showCapture(body);
    };
    const about = new URLSearchParams({ name: file.name });
    if (rate) about.set("rate", rate);
    request.open("POST", "/api/captures?" + about);
    request.setRequestHeader("x-camwitness", "1");
    request.send(file);
  }

  function showCapture(read) {
    capture = read;
    $("capture-about").textContent = read.name + ": " + read.seconds.toFixed(2) + " s, " + read.rows.toLocaleString("en") + " rows, " + read.kind +
      (read.rate ? ", " + Math.round(read.rate).toLocaleString("en") + " per second" : "");
    showChannels();
  }

  function roles() {
    return engine ? engine.roles : ["crank", "starter", "battery"];
  }

  // Which role a channel gets before the user says otherwise: its header, then the guess; cams in order.
  function suggested() {
    const free = engine ? engine.cams.slice() : [];
    const taken = new Set();
    const byHeader = capture.channels.map((channel) => roles().find((role) => role.toLowerCase() === channel.name.toLowerCase()));
    byHeader.forEach((role) => { if (role) { taken.add(role); if (free.includes(role)) free.splice(free.indexOf(role), 1); } });
    return capture.channels.map((channel, index) => {
      if (byHeader[index]) return byHeader[index];
      const role = channel.guess === "cam" ? free.shift() : channel.guess;
      if (!role || taken.has(role) || !roles().includes(role)) return "";
      taken.add(role);
      return role;
    });
  }

  function showChannels() {
    const list = $("channels");
    list.replaceChildren();
    if (!capture) return;
    const suggestions = suggested();
    capture.channels.forEach((channel, index) => {
      const guess = channel.guess ? "looks like: " + channel.guess : "no guess";
      const choice = make("select", { id: "role" + index, ariaLabel: "Role of " + channel.name });
      choice.append(option("", "not used"), ...roles().map((role) => option(role, role)));
      if (!engine && channel.guess === "cam") choice.append(option("cam", "a cam; choose an engine"));
      choice.value = suggestions[index] || (!engine && channel.guess === "cam" ? "cam" : "");
      const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
      svg.setAttribute("viewBox", "-1 -6 262 112");
      svg.setAttribute("preserveAspectRatio", "none");
      svg.setAttribute("role", "img");
      svg.setAttribute("aria-label", "Signal of " + channel.name);
      const outline = document.createElementNS("http://www.w3.org/2000/svg", "polygon");
      outline.setAttribute("points", channel.trace);
      svg.append(outline);
      const name = make("div", { className: "name" }, make("b", { textContent: channel.name }),
        make("small", { textContent: "column " + channel.column + ", " + channel.low.toPrecision(3) + " to " + channel.high.toPrecision(3) + " " + channel.unit + "; " + guess }));
      const scale = make("label", { className: "scale" }, "Clamp, amperes per volt ", make("input", { id: "scale" + index, size: 6, inputMode: "decimal" }));
      const showScale = () => { scale.hidden = choice.value !== "starter" || channel.unit !== "V"; };
      choice.addEventListener("change", () => { showScale(); ready(); });
      showScale();
      list.append(make("div", { className: "channel" }, name, choice, svg, scale));
    });
    ready();
  }

  // 2. Engine

  async function showEngines() {
    const session = await ask("/api/session");
    const chosen = engine ? String(engine.id) : $("engine").value;
    $("engine").replaceChildren(option("", "Choose an engine"), ...session.engines.map((one) => option(String(one.id), one.name)));
    $("engine").value = chosen;
    return session;
  }

  async function choose(id) {
    $("engine-error").textContent = "";
    try {
      use(id ? await ask("/api/engines/" + id) : null);
    } catch (error) {
      $("engine-error").textContent = error.message;
    }
  }

  function use(chosen) {
    engine = chosen;
    const save = $("engine-save");
    if (save.href) URL.revokeObjectURL(save.href);
    save.hidden = !engine;
    if (engine) save.href = URL.createObjectURL(new Blob([engine.toml], { type: "application/toml" }));
    showChannels();
    ready();
  }

  async function openEngine(chosen) {
    if (!chosen) return;
    $("engine-error").textContent = "";
    try {
      const added = await ask("/api/engines?" + new URLSearchParams({ name: chosen.name }), { method: "POST", body: chosen });
      use(added);
      await showEngines();
    } catch (error) {
      $("engine-error").textContent = error.message;
    }
  }

  // The form

  const CAM_FIELDS = [
    ["name", "Name", ""], ["bank", "Bank", "1"], ["shaft", "Shaft", ["intake", "exhaust", "single"]],
    ["wheel", "Wheel", "wheel"], ["sensor", "Sensor", ["hall", "reluctance"]], ["at", "Its zero stands at", ""],
    ["rest", "Phaser rests", ["retarded", "advanced"]], ["travel", "Phaser travel", ""],
  ];

  function addCam(values = {}) {
    const index = $("form-cams").childElementCount;
    const drawing = make("div", { className: "drawing", id: "cam-drawing" + index });
    const fields = make("div", { className: "fields" });
    CAM_FIELDS.forEach(([name, label, kind]) => {
      const input = Array.isArray(kind) ? make("select", {}, ...kind.map((value) => option(value, value))) : make("input");
      input.name = "cam" + index + "_" + name;
      if (kind === "wheel") { input.setAttribute("list", "wheels"); input.dataset.wheel = drawing.id; input.placeholder = "0..30 90..150 250..265"; }
      if (typeof kind === "string" && kind !== "wheel") input.value = kind;
      if (values[name]) input.value = values[name];
      fields.append(make("label", {}, label, input));
    });
    const remove = make("button", { type: "button", textContent: "Remove" });
    const box = make("div", { className: "cam withwheel" }, make("div", {}, fields, remove), drawing);
    remove.addEventListener("click", () => { box.remove(); renumber(); });
    $("form-cams").append(box);
  }
  function renumber() {
    [...$("form-cams").children].forEach((box, index) => {
      box.querySelectorAll("input, select").forEach((input) => { input.name = input.name.replace(/^cam\d+/, "cam" + index); });
    });
  }

  let typing = 0;
  function drawWheel(input) {
    const place = $(input.dataset.wheel);
    const spec = input.value.trim();
    if (!spec) { place.replaceChildren(); return; }
    clearTimeout(typing);
    typing = setTimeout(async () => {
      try {
        const wheel = await ask("/api/wheel?" + new URLSearchParams({ spec }));
        if (input.value.trim() !== spec) return;
        // Drawn by this program, which escapes every text in it.
        place.innerHTML = wheel.svg;
        if (wheel.repeats > 1) place.append(make("p", { textContent: "Looks the same every " + (360 / wheel.repeats).toFixed(0) + "°." }));
        input.removeAttribute("aria-invalid");
      } catch (error) {
        if (input.value.trim() === spec) place.replaceChildren(make("p", { textContent: error.message }));
      }
    }, 150);
  }

  async function saveForm(event) {
    event.preventDefault();
    const fields = $("form-fields");
    fields.querySelectorAll("[aria-invalid]").forEach((input) => input.removeAttribute("aria-invalid"));
    const value = (name) => fields.elements[name].value;
    const form = { cams: [] };
    for (const name of ["name", "firing_order", "bank1", "bank2", "crank_wheel", "crank_sensor", "crank_edge", "tdc", "tolerance", "chain_kind", "crank_teeth", "cam_teeth"]) form[name] = value(name);
    for (let i = 0; i < $("form-cams").childElementCount; i++) {
      form.cams.push(Object.fromEntries(CAM_FIELDS.map(([name]) => [name, value("cam" + i + "_" + name)])));
    }
    try {
      const answer = await send("/api/engines/form", form);
      if (!answer.engine) {
        $("form-error").textContent = answer.message;
        const wrong = answer.field && fields.elements[answer.field];
        if (wrong) { wrong.setAttribute("aria-invalid", "true"); wrong.focus(); }
        return;
      }
      $("form-error").textContent = "";
      $("form").close();
      use(answer.engine);
      await showEngines();
    } catch (error) {
      $("form-error").textContent = error.message;
    }
  }

  // 3. Measure

  function ready() {
    $("run").disabled = !capture || !engine || running !== null;
  }

  async function run() {
    $("run-error").textContent = "";
    const leads = [];
    capture.channels.forEach((channel, index) => {
      const role = $("role" + index).value;
      if (!role) return;
      const scale = parseFloat($("scale" + index).value.replace(",", "."));
      leads.push({ name: role, column: channel.column, amperes_per_volt: role === "starter" && Number.isFinite(scale) ? scale : null });
    });
    const job = {};
    for (const name of ["number", "vehicle", "mileage", "technician", "date"]) job[name] = $("job-" + name).value;
    const codes = $("job-codes").value.split(/[\s,;]+/).filter(Boolean);
    try {
      const started = await send("/api/runs", { capture: capture.id, engine: engine.id, leads, codes, job });
      running = started.id;
      ready();
      $("run-cancel").hidden = false;
      watch(started);
    } catch (error) {
      $("run-error").textContent = error.message;
    }
  }

  async function watch(run) {
    let now = run;
    try {
      while (now.state === "working") {
        $("run-words").textContent = now.message + " …";
        await new Promise((done) => setTimeout(done, 150));
        now = await ask("/api/runs/" + run.id);
      }
    } catch (error) {
      now = { state: "failed", message: error.message };
    }
    running = null;
    $("run-cancel").hidden = true;
    $("run-words").textContent = now.state === "cancelled" ? "Cancelled." : "";
    ready();
    if (now.state === "failed") $("run-error").textContent = now.message;
    if (now.state === "done") showReport(now);
    showList().catch(() => {});
  }

  const STATES = { in_time: "In time", jumped: "Timing has jumped", off_not_jumped: "Off, but not a jumped chain", cannot_tell: "Cannot tell" };

  function showReport(run) {
    $("report-part").hidden = false;
    $("finding").textContent = STATES[run.finding.state] + ". " + run.capture;
    $("finding").dataset.state = run.finding.state;
    const base = "/runs/" + run.id + "/";
    $("report").src = base + "report";
    const link = (text, name) => make("a", { className: "button", href: base + name, download: name, textContent: text });
    const own = make("a", { className: "button", href: base + "report", target: "_blank", rel: "noopener", textContent: "Open to print" });
    const pictures = make("details", {}, make("summary", { textContent: "Pictures" }),
      make("div", { className: "row" }, ...run.pictures.flatMap((name) => ["svg", "png"].map((end) => link(name + " " + end.toUpperCase(), name + "." + end)))));
    $("downloads").replaceChildren(own, link("Save report", "report.html"), link("Save result (JSON)", "result.json"), pictures);
  }

  // This session

  async function showList() {
    const session = await showEngines();
    maxUpload = session.max_upload;
    const done = session.runs.filter((run) => run.state === "done");
    $("list").hidden = !done.length;
    $("list-empty").hidden = !!done.length;
    $("list").querySelector("tbody").replaceChildren(...done.map((run) => {
      const tick = make("input", { type: "checkbox", checked: compared.has(run.id), ariaLabel: "Compare " + run.capture });
      tick.addEventListener("change", () => { tick.checked ? compared.add(run.id) : compared.delete(run.id); sideBySide(done); });
      const read = make("button", { type: "button", textContent: "Read" });
      read.addEventListener("click", () => showReport(run));
      const cams = run.finding.cams.map((cam) => cam.cam + " " + cam.off).join("; ");
      const row = make("tr", {}, ...[tick, run.capture, run.engine, STATES[run.finding.state], cams, read].map((cell) => make("td", {}, cell)));
      row.dataset.run = run.id;
      row.dataset.state = run.finding.state;
      return row;
    }));
    sideBySide(done);
  }

  function sideBySide(done) {
    const chosen = done.filter((run) => compared.has(run.id));
    $("compare").hidden = chosen.length < 2;
    if (chosen.length < 2) return;
    const names = [...new Set(chosen.flatMap((run) => run.finding.cams.map((cam) => cam.cam)))];
    const row = (first, cells) => make("tr", {}, make("th", { textContent: first }), ...cells.map((cell) => make("td", { textContent: cell })));
    const of = (run, name) => {
      const cam = run.finding.cams.find((one) => one.cam === name);
      return cam ? cam.off + (cam.teeth ? " (teeth: " + cam.teeth + ")" : "") : "";
    };
    $("compare-table").replaceChildren(row("", chosen.map((run) => run.capture)),
      row("Finding", chosen.map((run) => STATES[run.finding.state])), ...names.map((name) => row(name, chosen.map((run) => of(run, name)))));
  }

  // Hands

  const zone = $("drop");
  // Dropped anywhere, a file must not replace the page.
  ["dragover", "drop"].forEach((kind) => window.addEventListener(kind, (event) => event.preventDefault()));
  zone.addEventListener("dragover", () => zone.classList.add("over"));
  zone.addEventListener("dragleave", () => zone.classList.remove("over"));
  zone.addEventListener("drop", (event) => { zone.classList.remove("over"); drop(event.dataTransfer.files[0]); });
  const chosenOnce = (input, then) => input.addEventListener("change", () => { then(input.files[0]); input.value = ""; });
  chosenOnce($("file"), drop);
  chosenOnce($("engine-file"), openEngine);
  $("upload-cancel").addEventListener("click", () => upload && upload.abort());
  $("rate-go").addEventListener("click", () => read($("rate").value.replace(",", ".").replace(/\s/g, "")));
  $("engine").addEventListener("change", () => choose($("engine").value));
  $("form-open").addEventListener("click", () => { if (!$("form-cams").childElementCount) addCam({ name: "B1 intake" }); $("form").showModal(); });
  $("form-close").addEventListener("click", () => $("form").close());
  $("add-cam").addEventListener("click", () => addCam({ bank: "2" }));
  $("form-fields").addEventListener("submit", saveForm);
  $("form-fields").addEventListener("input", (event) => { if (event.target.dataset.wheel) drawWheel(event.target); });
  $("run").addEventListener("click", run);
  $("run-cancel").addEventListener("click", () => running !== null && ask("/api/runs/" + running + "/cancel", { method: "DELETE" }).catch(() => {}));
  window.addEventListener("focus", () => showList().catch(() => {}));
  showList().catch((error) => { $("capture-error").textContent = error.message; });
})();
