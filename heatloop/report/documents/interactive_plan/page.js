"use strict";
(() => {
  const find = (id) => document.getElementById(id);
  const all = (selector) => [...document.querySelectorAll(selector)];
  const data = JSON.parse(find("data").textContent);
  const texts = data.texts.split("|");
  const order = ["room", "piece", "pipe", "valve", "loop"];
  const sliders = { flow: find("flow"), outdoor: find("outdoor") };
  let chosen = null;

  const place = (name) => Number(sliders[name].value);

  function values(kind, index) {
    const flow = place("flow");
    const outdoor = place("outdoor");
    if (kind !== "room") return data.kinds[kind].by[flow][index].map((text) => texts[text]);
    return [
      data.loss[outdoor][index],
      data.heat[flow][index],
      data.margin[flow][outdoor][index],
      data.coverage[flow][outdoor][index],
      data.words[data.state[flow][outdoor][index]],
    ];
  }

  function sentence(kind, index) {
    const found = values(kind, index);
    return data.kinds[kind].text[index].replace(/[\u0001-\u0009]/g, (slot) => found[slot.charCodeAt(0) - 1]);
  }

  function showThing(kind, index) {
    const drawn = find(`${kind}-${index + 1}`);
    const row = find(`row-${kind}-${index + 1}`);
    if (drawn) drawn.querySelector("title").textContent = sentence(kind, index);
    [...row.querySelectorAll(".v")].forEach((cell, column) => {
      cell.textContent = values(kind, index)[column];
    });
    if (kind !== "room") return;
    const state = data.states[data.state[place("flow")][place("outdoor")][index]];
    row.className = state;
    if (drawn) drawn.setAttribute("class", `room ${state}`);
  }

  function show() {
    for (const name of ["flow", "outdoor"]) {
      const text = `${data[`${name}Text`][place(name)]} °C`;
      find(`${name}-text`).textContent = text;
      sliders[name].setAttribute("aria-valuetext", text);
    }
    for (const kind of order) data.kinds[kind].text.forEach((_, index) => showThing(kind, index));
    for (const figure of all("[data-room]")) {
      figure.textContent = `${values("room", Number(figure.dataset.room) - 1)[3]} %`;
    }
    find("say").textContent = `${data.rooms[place("flow")][place("outdoor")]} ${data.source[place("flow")]}`;
    if (chosen) find("detail-text").textContent = sentence(chosen.kind, chosen.index);
  }

  function parts(thing) {
    const [kind, number] = thing.id.split("-");
    return { kind, index: Number(number) - 1 };
  }

  function choose(thing) {
    chosen = parts(thing);
    find("detail-text").textContent = sentence(chosen.kind, chosen.index);
    find("detail-row").hidden = false;
    find("detail-row").href = thing.getAttribute("href");
    for (const lit of all(".lit")) lit.classList.remove("lit");
    if (chosen.kind !== "loop") return;
    for (const kind of ["piece", "pipe", "valve"]) {
      data.kinds[kind].loop.forEach((loop, index) => {
        const drawn = loop === chosen.index && find(`${kind}-${index + 1}`);
        if (drawn) drawn.classList.add("lit");
      });
    }
    for (const line of all(`.crossing[data-loop="${chosen.index + 1}"]`)) line.classList.add("lit");
  }

  function next(things, thing, key) {
    const { kind } = parts(thing);
    const same = things.filter((one) => parts(one).kind === kind);
    const at = same.indexOf(thing);
    if (key === "Home") return same[0];
    if (key === "End") return same[same.length - 1];
    if (key === "ArrowRight") return same[(at + 1) % same.length];
    if (key === "ArrowLeft") return same[(at + same.length - 1) % same.length];
    const kinds = order.filter((name) => things.some((one) => parts(one).kind === name));
    const step = key === "ArrowDown" ? 1 : kinds.length - 1;
    const other = kinds[(kinds.indexOf(kind) + step) % kinds.length];
    return things.find((one) => parts(one).kind === other);
  }

  for (const plan of all(".plan")) {
    const things = [...plan.querySelectorAll("a")];
    const stop = (thing) => things.forEach((one) => one.setAttribute("tabindex", one === thing ? "0" : "-1"));
    stop(things[0]);
    for (const thing of things) {
      thing.addEventListener("mouseenter", () => choose(thing));
      thing.addEventListener("focus", () => {
        stop(thing);
        choose(thing);
      });
      thing.addEventListener("click", (event) => {
        if (event.detail === 0) return; // by keys: the link is followed
        event.preventDefault();
        thing.focus();
      });
      thing.addEventListener("keydown", (event) => {
        const keys = ["ArrowRight", "ArrowLeft", "ArrowDown", "ArrowUp", "Home", "End"];
        if (!keys.includes(event.key)) return;
        event.preventDefault();
        next(things, thing, event.key).focus();
      });
    }
  }

  function set(flow, outdoor) {
    sliders.flow.value = flow;
    sliders.outdoor.value = outdoor;
    show();
  }

  function open() {
    const asked = new URLSearchParams(location.hash.slice(1));
    const found = [["flow", "flow"], ["outdoor", "out"]].map(([axis, key]) =>
      asked.has(key) ? data[axis].indexOf(Number(asked.get(key))) : -1,
    );
    if (found.every((index) => index < 0)) return;
    set(...found.map((index, axis) => (index < 0 ? place(["flow", "outdoor"][axis]) : index)));
  }

  for (const name of ["flow", "outdoor"]) {
    sliders[name].max = data[name].length - 1;
    sliders[name].addEventListener("input", show);
  }
  find("reset").addEventListener("click", () => set(...data.design));
  let kept = null;
  addEventListener("beforeprint", () => {
    kept = [place("flow"), place("outdoor")];
    set(...data.design);
  });
  addEventListener("afterprint", () => set(...kept));
  addEventListener("hashchange", open);
  for (const id of ["controls", "detail", "keys"]) find(id).hidden = false;
  find("still").hidden = true;
  set(...data.design);
  open();
})();
