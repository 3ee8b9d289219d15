// The picture of a plan with its tools. The script draws what `scene` holds and reports clicks, keys and texts; where a
// click falls, and what it does, is decided in Python. Texts are set as text, never as HTML.

const SVG = "http://www.w3.org/2000/svg";
const ZOOM_STEP = 1.25, MAX_ZOOM = 16, MARGIN = 0.98;
const ANSWER_MS = 800;
const STEPS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const MARKS = {
  free: "M-5,0H5M0,-5V5",
  square: "M-5,-5H5V5H-5Z",
  corner: "M0,-6A6,6 0 1 1 -0.01,-6Z",
  "first corner": "M0,-9A9,9 0 1 1 -0.01,-9ZM0,-4A4,4 0 1 1 -0.01,-4Z",
  wall: "M0,-7L7,0L0,7L-7,0Z",
  "in line": "M0,-7L7,5H-7Z",
};

const html = (name, attributes = {}, ...inside) => fill(document.createElement(name), attributes, inside);
const svg = (name, attributes = {}, ...inside) => fill(document.createElementNS(SVG, name), attributes, inside);

function fill(element, attributes, inside) {
  for (const [key, value] of Object.entries(attributes)) {
    if (value !== false) element.setAttribute(key, value === true ? "" : value);
  }
  element.append(...inside);
  return element;
}

// A picture of `size` in a box: zoom, and the place of its top left corner, in pixels of the screen.
export function fitted(size, box) {
  const zoom = MARGIN * Math.min(box[0] / size[0], box[1] / size[1]);
  return { zoom, x: (box[0] - zoom * size[0]) / 2, y: (box[1] - zoom * size[1]) / 2 };
}

// The same view enlarged about a point of the screen that stays where it is.
export function zoomedAbout(view, at, factor, least) {
  const zoom = Math.min(Math.max(view.zoom * factor, least), MAX_ZOOM);
  const share = zoom / view.zoom;
  return { zoom, x: at[0] - share * (at[0] - view.x), y: at[1] - share * (at[1] - view.y) };
}

function render({ model, el }) {
  const picture = svg("image"), drawn = svg("g"), aim = svg("g", { class: "hlt-aim" });
  const canvas = svg("svg", { class: "hlt-canvas", tabindex: "0", role: "application" }, picture, drawn, aim);
  const tools = html("div", { class: "hlt-row", role: "toolbar", "aria-label": "Tools" });
  const fields = html("div", { class: "hlt-row" }), views = html("div", { class: "hlt-row hlt-views" });
  const status = html("div", { class: "hlt-status", role: "status" });
  const figures = html("div", { class: "hlt-figures" });
  const keys = html("details", { class: "hlt-keys" }, html("summary", {}, "Keys and mouse"), html("p", {},
    "Wheel zooms, the right or middle button, or Space held down, moves the plan. S, R, D, W, G, E choose a tool. " +
    "Arrow keys move the pointer, with Shift by ten; N places a point, Enter closes a room, Backspace takes a point " +
    "back, Escape drops all points, Delete removes what is selected. Shift while clicking: no snapping. " +
    "Ctrl Z undoes, Ctrl Y repeats; plus, minus and 0 zoom."));
  const root = html("div", { class: "hlt" }, tools,
    html("div", { class: "hlt-row" }, fields, views), canvas, status, figures, keys);
  el.append(root);

  let view = null, pointer = null, free = false, panning = null, spaced = false;
  let turn = 0, asked = 0, waiting = false, moved = false, answer = null, address = "", question = "", offered = "";

  const scene = () => model.get("scene");
  const onScreen = ([x, y]) => [view.x + view.zoom * x, view.y + view.zoom * y];
  const onPicture = ([x, y]) => [(x - view.x) / view.zoom, (y - view.y) / view.zoom];
  const box = () => [canvas.clientWidth, canvas.clientHeight];
  const middle = () => [box()[0] / 2, box()[1] / 2];
  const report = (event, values = {}) => model.send({ event, ...values });

  function place(event) {
    const { x, y } = new DOMPoint(event.clientX, event.clientY).matrixTransform(canvas.getScreenCTM().inverse());
    return [x, y]; // of the drawing: its frame has a border
  }

  function position() {
    const [x, y] = onPicture(pointer);
    return { x, y, screen_px: 1 / view.zoom, free };
  }

  // One question at a time about where a click would fall; the newest place is asked for when the answer is there.
  function ask() {
    if (!pointer || !view) return;
    if (waiting && performance.now() - asked < ANSWER_MS) { moved = true; return; }
    waiting = true; moved = false; asked = performance.now(); turn += 1;
    report("move", { ...position(), turn });
  }

  function heard(message) {
    if (!message || message.turn !== turn) return;
    waiting = false; answer = message;
    drawAim();
    if (moved) ask();
  }

  function fit() {
    if (canvas.clientWidth === 0) return;
    view = fitted(scene().size, box());
    draw();
  }

  function zoom(factor, at) {
    view = zoomedAbout(view, at, factor, 0.5 * fitted(scene().size, box()).zoom);
    draw(); ask();
  }

  function clickHere() {
    report("click", position());
    answer = null;
  }

  function undo() { report("key", { key: "undo" }); }
  function redo() { report("key", { key: "redo" }); }

  function button(label, action, more = {}) {
    const made = html("button", { type: "button", class: "hlt-button", ...more }, label);
    made.addEventListener("click", () => { action(); canvas.focus({ preventScroll: true }); });
    return made;
  }

  function drawTools(s) {
    const now = JSON.stringify([s.tool, s.can_undo, s.can_redo, s.can_delete]);
    if (now === offered) return;
    offered = now;
    const chosen = s.tools.map((tool) => button(tool.label, () => report("tool", { tool: tool.id }), {
      "aria-pressed": String(tool.id === s.tool), "data-tool": tool.id, title: `${tool.label}: key ${tool.key.toUpperCase()}`,
    }));
    tools.replaceChildren(...chosen, html("span", { class: "hlt-gap" }),
      button("Undo", undo, { disabled: !s.can_undo, "data-do": "undo" }),
      button("Redo", redo, { disabled: !s.can_redo, "data-do": "redo" }),
      button("Delete", () => report("key", { key: "Delete" }), { disabled: !s.can_delete, "data-do": "delete" }));
  }

  // A text is taken by Enter, and where the field is left for the plan or a tool; Escape leaves all as it was.
  function input(label, value, name, enter) {
    const field = html("input", { type: "text", value, name, autocomplete: "off", spellcheck: "false" });
    let taken = false;
    const take = () => { if (!taken) { taken = true; enter(field.value); } };
    field.addEventListener("input", () => { taken = false; });
    field.addEventListener("change", take);
    field.addEventListener("keydown", (event) => {
      event.stopPropagation();
      if (event.key === "Enter") { event.preventDefault(); taken = false; take(); canvas.focus({ preventScroll: true }); }
      if (event.key === "Escape") { taken = true; report("key", { key: "Escape" }); canvas.focus({ preventScroll: true }); }
    });
    return [html("label", { class: "hlt-label" }, label, field), field];
  }

  function drawFields(s) {
    const now = JSON.stringify([s.ask && s.ask.id, s.level, s.page, s.pages]);
    if (now === question) return;
    question = now;
    fields.replaceChildren();
    if (s.pages.length > 1) {
      const choice = html("select", { name: "page" }, ...s.pages.map((name, index) =>
        html("option", { value: index, selected: index === s.page }, name)));
      choice.addEventListener("change", () => report("page", { index: Number(choice.value) }));
      choice.addEventListener("keydown", (event) => event.stopPropagation());
      fields.append(html("label", { class: "hlt-label" }, "Page", choice));
    }
    fields.append(input("Level, m", s.level, "level", (text) => report("level", { text }))[0]);
    if (s.ask) {
      const [asked, field] = input(s.ask.label, s.ask.value, "asked", (text) => report("text", { text }));
      asked.classList.add("hlt-asked");
      fields.append(asked);
      field.focus({ preventScroll: true });
      field.select();
    }
  }

  function words(at, lines, name) {
    const spans = lines.map((line, index) =>
      svg("tspan", { x: at[0], y: at[1] + 16 * (index - (lines.length - 1) / 2) }, line));
    return svg("text", { class: name }, ...spans);
  }

  const path = (points, closed) => "M" + points.map((point) => onScreen(point).join(",")).join("L") + (closed ? "Z" : "");

  function room(one) {
    const state = `${one.selected ? " hlt-chosen" : ""}${one.here ? "" : " hlt-away"}`;
    return svg("g", { class: `hlt-room${state}` }, svg("path", { d: path(one.corners, true) }),
      words(onScreen(one.label_at), one.labels, "hlt-name"));
  }

  // A plate behind the name of each room, since the plan has its own names below it.
  function plates() {
    for (const name of drawn.querySelectorAll(".hlt-name")) {
      const { x, y, width, height } = name.getBBox();
      name.before(svg("rect", { x: x - 5, y: y - 3, width: width + 10, height: height + 6, rx: 3 }));
    }
  }

  function opening(one) {
    const [a, b] = one.ends.map(onScreen);
    const across = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1;
    const [nx, ny] = [(5 * (a[1] - b[1])) / across, (5 * (b[0] - a[0])) / across];
    const stops = [a, b].map(([x, y]) => `M${x - nx},${y - ny}L${x + nx},${y + ny}`).join("");
    const at = [(a[0] + b[0]) / 2 + 3 * nx, (a[1] + b[1]) / 2 + 3 * ny];
    const name = `hlt-opening hlt-${one.mark.toLowerCase()}${one.selected ? " hlt-chosen" : ""}`;
    return svg("g", { class: name }, svg("path", { d: `M${a.join(",")}L${b.join(",")}${stops}` }), words(at, [one.mark], "hlt-mark"));
  }

  function drawPlan(s) {
    const parts = s.rooms.map(room).concat(s.openings.map(opening));
    if (s.scale) {
      const ends = s.scale.ends.map(onScreen);
      parts.push(svg("g", { class: "hlt-scale" }, svg("path", { d: path(s.scale.ends, false) }),
        ...ends.map(([x, y]) => svg("path", { d: `M${x - 5},${y - 5}L${x + 5},${y + 5}M${x - 5},${y + 5}L${x + 5},${y - 5}` })),
        words([(ends[0][0] + ends[1][0]) / 2, (ends[0][1] + ends[1][1]) / 2 - 12], [s.scale.label], "hlt-mark")));
    }
    if (s.points.length) {
      parts.push(svg("g", { class: "hlt-points" }, svg("path", { d: path(s.points, false) }),
        ...s.points.map((point) => { const [x, y] = onScreen(point); return svg("circle", { cx: x, cy: y, r: 4 }); })));
    }
    drawn.replaceChildren(...parts);
    plates();
  }

  function drawAim() {
    aim.replaceChildren();
    if (!view || !pointer || !answer || !answer.point) return;
    const s = scene(), [x, y] = onScreen(answer.point);
    const drawsLine = s.points.length && (s.tool === "room" || s.points.length < 2);
    if (drawsLine) aim.append(svg("path", { class: "hlt-next", d: path([s.points[s.points.length - 1], answer.point], false) }));
    aim.append(svg("path", { class: "hlt-snap", d: MARKS[answer.kind] || MARKS.free, transform: `translate(${x},${y})` }));
    if (answer.words) {
      const right = x > box()[0] - 260, below = y < 40;
      const text = svg("text", { class: "hlt-words", x: x + (right ? -12 : 12), y: y + (below ? 26 : -14),
        "text-anchor": right ? "end" : "start" }, answer.words);
      aim.append(text);
    }
  }

  function draw() {
    const s = scene();
    drawTools(s);
    drawFields(s);
    status.textContent = (s.refused ? "Not done: " : "") + s.status;
    status.classList.toggle("hlt-refused", s.refused);
    figures.textContent = `${s.figures} ${s.saved}.`;
    canvas.setAttribute("aria-label", `Plan. ${s.status}`);
    if (!view) return;
    fill(picture, { x: view.x, y: view.y, width: view.zoom * s.size[0], height: view.zoom * s.size[1] }, []);
    drawPlan(s);
    drawAim();
  }

  function show() {
    const bytes = model.get("picture");
    if (address) URL.revokeObjectURL(address);
    address = URL.createObjectURL(new Blob([bytes], { type: model.get("media_type") }));
    picture.setAttribute("href", address);
    fit();
  }

  canvas.addEventListener("pointermove", (event) => {
    const at = place(event);
    if (panning) {
      view = { ...view, x: view.x + at[0] - panning[0], y: view.y + at[1] - panning[1] };
      panning = at;
      draw();
      return;
    }
    pointer = at; free = event.shiftKey;
    ask();
  });
  canvas.addEventListener("pointerdown", (event) => {
    event.preventDefault();
    canvas.focus({ preventScroll: true });
    if (!view) return;
    if (event.button !== 0 || spaced) { panning = place(event); canvas.setPointerCapture(event.pointerId); return; }
    pointer = place(event); free = event.shiftKey;
    clickHere();
  });
  canvas.addEventListener("pointerup", () => { panning = null; });
  canvas.addEventListener("pointerleave", () => { if (!panning) { pointer = null; answer = null; drawAim(); } });
  canvas.addEventListener("contextmenu", (event) => event.preventDefault());
  canvas.addEventListener("wheel", (event) => {
    event.preventDefault();
    event.stopPropagation();
    zoom(event.deltaY < 0 ? ZOOM_STEP : 1 / ZOOM_STEP, place(event));
  }, { passive: false });
  canvas.addEventListener("keyup", (event) => { if (event.key === " ") spaced = false; event.stopPropagation(); });
  canvas.addEventListener("keydown", (event) => {
    event.stopPropagation(); // Enter, Backspace and letters are commands of the notebook
    if (event.key === "Tab") return;
    event.preventDefault();
    const key = event.key.toLowerCase(), step = STEPS[event.key];
    if (event.ctrlKey || event.metaKey) {
      if (key === "z") (event.shiftKey ? redo : undo)();
      if (key === "y") redo();
      return;
    }
    const tool = scene().tools.find((one) => one.key === key);
    if (step) {
      const [x, y] = pointer || middle, far = event.shiftKey ? 10 : 1;
      pointer = [x + far * step[0], y + far * step[1]]; free = false;
      ask();
    } else if (event.key === " ") spaced = true;
    else if (key === "n" && pointer) clickHere();
    else if (key === "+" || key === "=") zoom(ZOOM_STEP, pointer || middle());
    else if (key === "-") zoom(1 / ZOOM_STEP, pointer || middle());
    else if (key === "0") fit();
    else if (tool) report("tool", { tool: tool.id });
    else if (["Enter", "Backspace", "Escape", "Delete"].includes(event.key)) report("key", { key: event.key });
  });

  views.append(
    button("+", () => zoom(ZOOM_STEP, middle()), { "aria-label": "Enlarge" }),
    button("−", () => zoom(1 / ZOOM_STEP, middle()), { "aria-label": "Reduce" }),
    button("Whole page", fit));

  const redraw = () => {
    draw();
    const field = fields.querySelector("input[name=asked]");
    if (scene().refused && field) { field.focus({ preventScroll: true }); field.select(); }
    if (pointer) { waiting = false; ask(); }
  };
  model.on("change:scene", redraw);
  model.on("change:picture", show);
  model.on("msg:custom", heard);
  const seen = new ResizeObserver(() => { if (!view) show(); else draw(); });
  seen.observe(canvas);
  draw();
  show();
  return () => {
    seen.disconnect();
    model.off("change:scene", redraw);
    model.off("change:picture", show);
    model.off("msg:custom", heard);
    URL.revokeObjectURL(address);
  };
}

export default { render };
