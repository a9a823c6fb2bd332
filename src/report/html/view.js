// The interactive view of the report: one chart per lead, all on one x axis.
(() => {
  "use strict";
  const holder = document.getElementById("charts");
  const data = JSON.parse(document.getElementById("signals").textContent);
  if (!window.uPlot || !data.channels) return;

  const bytes = (text) => Uint8Array.from(atob(text), (c) => c.charCodeAt(0)).buffer;
  const doubles = (text) => new Float64Array(bytes(text));
  const count = bytes(data.channels[0].values).byteLength / 2;
  const times = data.times ? doubles(data.times) : Float64Array.from({ length: count }, (_, i) => i * data.step);
  const columns = data.channels.map((channel) => {
    const steps = new Uint16Array(bytes(channel.values));
    const scale = (channel.high - channel.low) / 65535;
    return Float64Array.from(steps, (step) => channel.low + step * scale);
  });

  // Crank angle of every value; not a number outside the stretch that was used and in holes.
  const pairs = doubles(data.angles);
  const angles = new Float64Array(times.length).fill(NaN);
  for (let i = 0, k = 0; i < times.length && pairs.length > 3; i++) {
    while (k + 3 < pairs.length && pairs[k + 2] < times[i]) k += 2;
    if (k + 3 >= pairs.length || times[i] < pairs[k]) continue;
    const share = (times[i] - pairs[k]) / (pairs[k + 2] - pairs[k]);
    angles[i] = pairs[k + 1] + share * (pairs[k + 3] - pairs[k + 1]);
  }
  const turning = Uint32Array.from(times.keys()).filter((i) => Number.isFinite(angles[i]));
  const pick = (column, rows) => Float64Array.from(rows, (i) => column[i]);

  const charts = [];
  let against = turning.length > 1 ? "angle" : "time";
  let rows = null; // index of each drawn value in the whole capture
  let limits = [0, 1];
  let shown = [0, 1];
  const marks = { first: null, second: null };
  let reading = null;

  const inCycle = (degrees) => ((degrees % 720) + 720) % 720;
  const tick = (value, step) => {
    if (against === "time") return (value + data.start).toFixed(step < 0.001 ? 4 : step < 0.1 ? 3 : 1);
    return inCycle(value).toFixed(step < 1 ? 1 : 0) + "°";
  };
  const STEPS = {
    angle: [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 30, 60, 90, 120, 180, 360, 720, 1440, 3600, 7200, 14400, 36000],
    time: [0.0001, 0.0002, 0.0005, 0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 60],
  };

  function build() {
    charts.splice(0).forEach((chart) => chart.destroy());
    holder.textContent = "";
    rows = against === "angle" ? turning : Uint32Array.from(times.keys());
    const x = pick(against === "angle" ? angles : times, rows);
    limits = [x[0], x[x.length - 1]];
    shown = limits.slice();
    data.channels.forEach((channel, index) => {
      const last = index === data.channels.length - 1;
      const name = channel.column === channel.name ? channel.name : channel.name + " (" + channel.column + ")";
      const box = holder.appendChild(document.createElement("div"));
      const label = box.appendChild(document.createElement("div"));
      label.className = "lead";
      label.textContent = name;
      charts.push(new uPlot({
        width: holder.clientWidth, height: last ? 128 : 92, legend: { show: false }, pxAlign: 0, padding: [8, 16, 4, 0],
        cursor: { sync: { key: "signals", scales: ["x", null] }, drag: { x: false, y: false }, y: false, points: { size: 7 } },
        scales: { x: { time: false, range: () => shown }, y: { range: (u, low, high) => [low - (high - low) * 0.06 - 1e-9, high + (high - low) * 0.06 + 1e-9] } },
        axes: [
          { show: last, incrs: STEPS[against], space: 64, size: 36, values: (u, splits, a, s, step) => splits.map((v) => tick(v, step)),
            label: against === "angle" ? "crank degrees in the cycle" : "seconds", labelSize: 16, labelFont: "12px sans-serif" },
          { size: 58, space: 22, values: (u, splits) => splits.map((v) => +v.toFixed(3) + (channel.unit ? " " + channel.unit : "")) },
        ],
        series: [{}, { stroke: index ? "#005c96" : "#606060", width: 1, points: { show: false },
          paths: data.stepped ? uPlot.paths.stepped({ align: 1 }) : uPlot.paths.linear() }],
        hooks: { setCursor: [index ? () => {} : read], draw: [mark] },
      }, [x, pick(columns[index], rows)], box));
    });
    charts.forEach((chart) => hands(chart));
    report();
  }

  function show(from, to) {
    const whole = limits[1] - limits[0];
    const least = Math.min(whole, against === "angle" ? 0.5 : 0.0005);
    const width = Math.min(Math.max(to - from, least), whole);
    const start = Math.min(Math.max(from + (to - from - width) / 2, limits[0]), limits[1] - width);
    shown = [start, start + width];
    charts.forEach((chart) => chart.setScale("x", { min: shown[0], max: shown[1] }));
  }
  const zoom = (factor, at) => {
    const middle = at ?? (shown[0] + shown[1]) / 2;
    show(middle - (middle - shown[0]) * factor, middle + (shown[1] - middle) * factor);
  };
  const pan = (share) => { const by = share * (shown[1] - shown[0]); show(shown[0] + by, shown[1] + by); };

  // Wheel, drag and two fingers.
  function hands(chart) {
    const over = chart.over;
    const held = new Map();
    let moved = 0;
    over.style.touchAction = "none";
    over.addEventListener("wheel", (event) => {
      event.preventDefault();
      zoom(event.deltaY < 0 ? 0.8 : 1.25, chart.posToVal(event.offsetX, "x"));
    }, { passive: false });
    over.addEventListener("pointerdown", (event) => {
      held.set(event.pointerId, event.clientX);
      moved = 0;
      over.setPointerCapture(event.pointerId);
    });
    over.addEventListener("pointermove", (event) => {
      if (!held.has(event.pointerId)) return;
      const before = held.get(event.pointerId);
      const perPixel = (shown[1] - shown[0]) / over.clientWidth;
      if (held.size === 1) {
        moved += Math.abs(event.clientX - before);
        const by = (before - event.clientX) * perPixel;
        show(shown[0] + by, shown[1] + by);
      } else {
        const other = [...held].find(([id]) => id !== event.pointerId)[1];
        const factor = Math.max(Math.abs(before - other), 1) / Math.max(Math.abs(event.clientX - other), 1);
        zoom(Math.min(Math.max(factor, 0.5), 2));
        moved = 99;
      }
      held.set(event.pointerId, event.clientX);
    });
    const release = (event) => {
      if (!held.delete(event.pointerId) || event.type === "pointercancel") return;
      if (moved < 4) {
        const left = event.clientX - over.getBoundingClientRect().left;
        reading = chart.posToIdx(left);
        set(event.shiftKey || (marks.first !== null && marks.second === null) ? "second" : "first");
      }
    };
    over.addEventListener("pointerup", release);
    over.addEventListener("pointercancel", release);
    over.addEventListener("dblclick", () => { marks.first = marks.second = null; show(...limits); report(); });
  }

  function set(which) {
    if (reading === null) return;
    marks[which] = reading;
    if (which === "first") marks.second = null;
    charts.forEach((chart) => chart.redraw(false));
    report();
  }

  // Lines of the two marks.
  function mark(chart) {
    for (const [name, index] of Object.entries(marks)) {
      if (index === null) continue;
      const at = chart.valToPos(chart.data[0][index], "x", true);
      const { left, top, width, height } = chart.bbox;
      if (at < left || at > left + width) continue;
      const ctx = chart.ctx;
      ctx.save();
      ctx.strokeStyle = ctx.fillStyle = "#c84c00";
      ctx.lineWidth = devicePixelRatio;
      if (name === "second") ctx.setLineDash([6, 4]);
      ctx.beginPath(); ctx.moveTo(at, top); ctx.lineTo(at, top + height); ctx.stroke();
      ctx.font = "bold " + 13 * devicePixelRatio + "px sans-serif";
      ctx.fillText(name, at + 4 * devicePixelRatio, top + 13 * devicePixelRatio);
      ctx.restore();
    }
  }

  function read(chart) {
    reading = chart.cursor.idx ?? null;
    report();
  }

  // The table of readings. Every text goes in as text.
  function report() {
    const table = document.getElementById("readout");
    const heads = ["mark", "crank", "time", ...data.channels.map((channel) => channel.name)];
    const line = (cells, tag) => {
      const row = document.createElement("tr");
      cells.forEach((cell, i) => {
        const box = document.createElement(i && tag === "td" ? "td" : "th");
        box.textContent = cell;
        if (i) box.dataset.head = heads[i];
        row.appendChild(box);
      });
      return row;
    };
    const unit = (channel) => (channel.unit ? " " + channel.unit : "");
    // No -0.00.
    const fixed = (value, digits) => value.toFixed(digits).replace(/^-(0\.?0*)$/, "$1");
    const reads = (name, index) => {
      if (index === null || index === undefined) return [name, "", "", ...data.channels.map(() => "")];
      const i = rows[index];
      const degrees = Number.isFinite(angles[i]) ? fixed(inCycle(angles[i]), 1) + "°" : "not turning";
      return [name, degrees, fixed(times[i] + data.start, 4) + " s",
        ...columns.map((column, k) => fixed(column[i], 2) + unit(data.channels[k]))];
    };
    const between = () => {
      const name = "second after first";
      if (marks.first === null || marks.second === null) return reads(name, null);
      const [a, b] = [rows[marks.first], rows[marks.second]];
      const turned = angles[b] - angles[a];
      return [name, Number.isFinite(turned) ? fixed(turned, 1) + "°" : "", fixed((times[b] - times[a]) * 1000, 2) + " ms",
        ...columns.map((column, k) => fixed(column[b] - column[a], 2) + unit(data.channels[k]))];
    };
    table.replaceChildren(
      line(heads, "th"),
      line(reads("reading", reading), "td"), line(reads("first mark", marks.first), "td"),
      line(reads("second mark", marks.second), "td"), line(between(), "td"));
  }

  const actions = {
    in: () => zoom(0.5), out: () => zoom(2), all: () => show(...limits), first: () => set("first"), second: () => set("second"),
  };
  document.querySelectorAll("#view [data-do]").forEach((button) => {
    button.addEventListener("click", () => actions[button.dataset.do]());
  });
  document.querySelectorAll("#view input[name=against]").forEach((input) => {
    if (input.value === "angle" && turning.length < 2) input.disabled = true;
    input.checked = input.value === against;
    input.addEventListener("change", () => {
      against = input.value;
      marks.first = marks.second = reading = null;
      build();
    });
  });
  holder.addEventListener("keydown", (event) => {
    const chart = charts[0];
    const step = (by) => {
      const left = Math.min(Math.max((chart.cursor.left < 0 ? chart.over.clientWidth / 2 : chart.cursor.left) + by, 0), chart.over.clientWidth);
      chart.setCursor({ left, top: 10 });
    };
    const keys = {
      ArrowLeft: () => (event.shiftKey ? step(-2) : pan(-0.1)), ArrowRight: () => (event.shiftKey ? step(2) : pan(0.1)),
      "+": () => zoom(0.7), "=": () => zoom(0.7), "-": () => zoom(1 / 0.7), Home: actions.all, 1: actions.first, 2: actions.second,
    };
    if (!keys[event.key] || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    keys[event.key]();
  });
  let waiting = 0;
  window.addEventListener("resize", () => {
    clearTimeout(waiting);
    waiting = setTimeout(() => charts.forEach((chart) => chart.setSize({ width: holder.clientWidth, height: chart.height })), 100);
  });

  document.getElementById("view").hidden = false;
  if (data.rows_per_pair > 1) {
    document.getElementById("thinned").textContent =
      "Thinned for the report: least and greatest of every " + data.rows_per_pair + " samples are kept.";
  }
  build();
  if (against === "angle") show(limits[0], Math.min(limits[0] + 1440, limits[1]));
})();
