"use strict";
// Works on what is in the page already: without it everything can be read, only not moved or sorted.
(() => {
  const site = document.getElementById("site");
  const first = site.viewBox.baseVal;
  const whole = { x: first.x, y: first.y, width: first.width, height: first.height };
  const seen = { ...whole };
  const most = 40;
  const mostPrinted = 60;
  const factor = Number(site.dataset.factor);
  let enlarged = factor;

  // Units of the drawing in a pixel of the screen: marks, heads and letters keep their size there.
  const scale = () => seen.width / (site.clientWidth || whole.width);
  // Where many points lie close together marks are smaller.
  const roomy = 45;
  const crowd = () => {
    const wide = (site.clientWidth || whole.width) * whole.width / seen.width;
    const room = Math.sqrt(wide * wide * whole.height / whole.width / (marks.length + 1));
    return Math.min(1, Math.max(0.35, room / roomy));
  };

  function arrow(group) {
    const { x, y, e, s } = group.dataset;
    const east = e * enlarged;
    const south = s * enlarged;
    const length = Math.hypot(east, south);
    const head = Math.min(16 * scale() * crowd(), length);
    const along = length ? [east / length, south / length] : [0, 0];
    const neck = [east - along[0] * head, south - along[1] * head];
    const half = head * 0.36;
    const tip = `M${+x + east} ${+y + south} L${+x + neck[0] - along[1] * half} ${+y + neck[1] + along[0] * half} ` +
      `L${+x + neck[0] + along[1] * half} ${+y + neck[1] - along[0] * half} Z`;
    group.querySelector(".shaft").setAttribute("d", `M${x} ${y} l${neck[0]} ${neck[1]}`);
    let point = group.querySelector(".head");
    if (!point) {
      point = document.createElementNS(site.namespaceURI, "path");
      point.setAttribute("class", "head");
      group.append(point);
    }
    point.setAttribute("d", tip);
  }

  const vectors = [...site.querySelectorAll("g.vector")];
  const marks = [...site.querySelectorAll("g.mark")].map((mark) => ({
    mark,
    place: mark.getAttribute("transform").match(/[-\d.]+/g).map(Number),
    name: mark.querySelector(".label"),
  }));

  function names() {
    const unit = scale() * crowd();
    const taken = marks.map(({ place: [x, y] }) => [x - 9 * unit, y - 9 * unit, x + 9 * unit, y + 9 * unit]);
    for (const { place: [x, y], name } of marks) {
      const ends = [11 * unit, (12 + 9 * name.textContent.length) * unit];
      const left = name.classList.contains("left");
      const box = [left ? x - ends[1] : x + ends[0], y - 10 * unit, left ? x - ends[0] : x + ends[1], y + 10 * unit];
      const free = !taken.some((other) =>
        box[0] < other[2] && other[0] < box[2] && box[1] < other[3] && other[1] < box[3]);
      name.classList.toggle("out", !free);
      if (free) taken.push(box);
    }
  }

  const bar = site.querySelector(".scale");

  function draw() {
    site.setAttribute("viewBox", `${seen.x} ${seen.y} ${seen.width} ${seen.height}`);
    for (const { mark, place } of marks) {
      mark.setAttribute("transform", `translate(${place[0]} ${place[1]}) scale(${scale() * crowd()})`);
    }
    vectors.forEach(arrow);
    const near = seen.width < whole.width;
    site.classList.toggle("near", near);
    bar.classList.toggle("out", near);
    bar.querySelector("text").setAttribute("font-size", 15 * scale());
    names();
  }

  function look(x, y, width) {
    seen.width = Math.min(whole.width, Math.max(whole.width / most, width));
    seen.height = seen.width * whole.height / whole.width;
    seen.x = Math.min(whole.x + whole.width - seen.width, Math.max(whole.x, x));
    seen.y = Math.min(whole.y + whole.height - seen.height, Math.max(whole.y, y));
    draw();
  }

  function zoom(by, at = [seen.x + seen.width / 2, seen.y + seen.height / 2]) {
    const width = Math.min(whole.width, Math.max(whole.width / most, seen.width * by));
    const share = width / seen.width;
    look(at[0] - (at[0] - seen.x) * share, at[1] - (at[1] - seen.y) * share, width);
  }

  function under(event) {
    const box = site.getBoundingClientRect();
    return [
      seen.x + (event.clientX - box.left) / box.width * seen.width,
      seen.y + (event.clientY - box.top) / box.height * seen.height,
    ];
  }

  const zooms = { in: () => zoom(0.625), out: () => zoom(1.6), all: () => look(whole.x, whole.y, whole.width) };
  for (const button of document.querySelectorAll("[data-zoom]")) {
    button.addEventListener("click", zooms[button.dataset.zoom]);
  }
  site.addEventListener("wheel", (event) => {
    if (!event.ctrlKey && !event.metaKey) return;
    event.preventDefault();
    zoom(event.deltaY > 0 ? 1.25 : 0.8, under(event));
  }, { passive: false });
  site.addEventListener("keydown", (event) => {
    const step = seen.width / 8;
    const moves = {
      ArrowLeft: () => look(seen.x - step, seen.y, seen.width),
      ArrowRight: () => look(seen.x + step, seen.y, seen.width),
      ArrowUp: () => look(seen.x, seen.y - step, seen.width),
      ArrowDown: () => look(seen.x, seen.y + step, seen.width),
      "+": zooms.in, "=": zooms.in, "-": zooms.out, "0": zooms.all,
    };
    if (event.ctrlKey || event.metaKey || event.altKey || !moves[event.key]) return;
    event.preventDefault();
    moves[event.key]();
  });

  const fingers = new Map();
  let dragged = false;
  site.addEventListener("pointerdown", (event) => {
    fingers.set(event.pointerId, event);
    dragged = false;
  });
  site.addEventListener("pointermove", (event) => {
    const before = fingers.get(event.pointerId);
    if (!before) return;
    const box = site.getBoundingClientRect();
    const moved = [event.clientX - before.clientX, event.clientY - before.clientY];
    if (!dragged && Math.hypot(...moved) < 4) return;
    if (!dragged) site.setPointerCapture(event.pointerId);
    dragged = true;
    if (fingers.size === 2) {
      const [other] = [...fingers].filter(([id]) => id !== event.pointerId).map(([, finger]) => finger);
      const apart = (finger) => Math.hypot(finger.clientX - other.clientX, finger.clientY - other.clientY);
      zoom(apart(before) / Math.max(apart(event), 1), under(event));
    } else {
      look(seen.x - moved[0] / box.width * seen.width, seen.y - moved[1] / box.height * seen.height, seen.width);
    }
    fingers.set(event.pointerId, event);
  });
  for (const kind of ["pointerup", "pointercancel", "pointerleave"]) {
    site.addEventListener(kind, (event) => fingers.delete(event.pointerId));
  }
  site.addEventListener("click", (event) => {
    if (dragged) event.preventDefault();
    dragged = false;
  }, true);

  const slider = document.getElementById("enlarge");
  const steps = [1, 2, 5];
  function stepped(times) {
    const power = Math.floor(Math.log10(factor) + 1e-9);
    const start = 3 * power + steps.indexOf(Math.round(factor / 10 ** power));
    const place = start + times;
    return steps[((place % 3) + 3) % 3] * 10 ** Math.floor(place / 3);
  }
  slider.addEventListener("input", () => {
    enlarged = Number(slider.value) ? stepped(Number(slider.value)) : factor;
    const words = String(Number(enlarged.toPrecision(3)));
    document.getElementById("enlarged").textContent = `${words} times`;
    document.getElementById("key-factor").textContent = words;
    slider.setAttribute("aria-valuetext", `${words} times`);
    vectors.forEach(arrow);
  });
  for (const box of document.querySelectorAll("[data-show]")) {
    box.addEventListener("change", () => site.classList.toggle(`no-${box.dataset.show}`, !box.checked));
  }

  function sorted(table, column, kind, down) {
    const body = table.tBodies[0];
    const key = (row) => {
      const cell = row.cells[column];
      if (kind === "words") return cell.textContent;
      return cell.dataset.number === undefined ? null : Math.abs(Number(cell.dataset.number));
    };
    const compare = (one, other) => {
      if (one === null || other === null) return (one === null) - (other === null);
      const order = kind === "words" ? one.localeCompare(other, "en", { numeric: true }) : one - other;
      return down ? -order : order;
    };
    body.append(...[...body.rows].sort((one, other) => compare(key(one), key(other))));
  }
  for (const table of document.querySelectorAll("table.sortable")) {
    const heads = [...table.tHead.rows[0].cells];
    heads.forEach((head, column) => {
      const button = document.createElement("button");
      button.type = "button";
      button.append(...head.childNodes);
      head.append(button);
      button.addEventListener("click", () => {
        const numeric = head.dataset.sort === "number";
        const now = head.getAttribute("aria-sort");
        const down = now ? now === "ascending" : numeric;
        heads.forEach((other) => other.removeAttribute("aria-sort"));
        head.setAttribute("aria-sort", down ? "descending" : "ascending");
        sorted(table, column, head.dataset.sort, down);
      });
    });
  }

  const points = [...document.querySelectorAll("details.point")];
  function open() {
    const target = document.getElementById(location.hash.slice(1));
    if (target instanceof HTMLDetailsElement) {
      target.open = true;
      target.querySelector("summary").focus({ preventScroll: true });
      target.scrollIntoView();
    }
  }
  let closed = [];
  addEventListener("beforeprint", () => {
    closed = points.length > mostPrinted ? [] : points.filter((point) => !point.open);
    closed.forEach((point) => { point.open = true; });
  });
  addEventListener("afterprint", () => closed.forEach((point) => { point.open = false; }));
  addEventListener("hashchange", open);
  addEventListener("resize", draw);
  for (const button of document.querySelectorAll("[data-open]")) {
    button.addEventListener("click", () => points.forEach((point) => { point.open = button.dataset.open === "all"; }));
  }
  for (const hidden of document.querySelectorAll(".controls, .sorting")) hidden.hidden = false;
  draw();
  open();
})();
