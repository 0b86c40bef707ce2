// One whip: the stack at the station under the pointer, read from the table of stations on the page.

const figure = document.querySelector(".figure");
if (figure) showStations(figure);

for (const link of document.querySelectorAll("[data-more]")) bringMore(link);

function showStations(figure) {
  const picture = figure.querySelector("svg.whip-drawing");
  const cursor = picture.querySelector(".cursor");
  const slide = figure.querySelector(".slide");
  const slider = slide.querySelector("input");
  const panel = document.querySelector(".here");
  const rows = [...document.querySelectorAll(".stations tbody tr")];
  const readings = [...document.querySelectorAll("data.read")];
  const { unit, mmPerUnit, step } = figure.dataset;
  const start = Number(picture.dataset.start);
  const end = Number(picture.dataset.end);
  const perUnit = Number(mmPerUnit);
  const stepMm = Number(step) * perUnit;

  slider.min = start;
  slider.max = end;
  slider.step = "any";
  const width = picture.viewBox.baseVal.width;
  const [x0, x1] = [Number(picture.dataset.x0), Number(picture.dataset.x1)];
  slide.hidden = false;
  panel.hidden = false;

  /** A length as it is read: halves of an inch as 1/2, else a plain number. */
  function told(mm) {
    const value = Math.round(mm / perUnit / step) * step;
    const whole = Math.trunc(value);
    const half = unit === "in" && Math.abs(value - whole) === 0.5;
    if (!half) return `${Number(value.toFixed(2))} ${unit}`;
    const sign = value < 0 ? "-" : "";
    return `${sign}${Math.abs(whole) || ""}${whole ? " " : ""}1/2 ${unit}`;
  }

  function pair(name, words) {
    const [term, said] = [document.createElement("dt"), document.createElement("dd")];
    term.textContent = name;
    said.textContent = words;
    return [term, said];
  }

  function show(mm, marked = true) {
    const at = Math.min(Math.max(mm, start), end);
    slider.value = at;
    const x = x0 + ((at - start) / (end - start)) * (x1 - x0);
    cursor.setAttribute("x1", x);
    cursor.setAttribute("x2", x);
    cursor.classList.toggle("on", marked);
    const row = rows.findLast((one) => Number(one.dataset.from) <= at);
    rows.forEach((one) => one.classList.toggle("now", one === row));
    document.getElementById("here-at").textContent = `At ${told(at)}`;
    const pairs = [];
    if (row === undefined) pairs.push(...pair("here", "the handle"));
    else {
      const predicted = row.querySelector("[data-predicted]");
      const reason = row.querySelector("[data-reason]");
      if (predicted) pairs.push(...pair("predicted", `${predicted.textContent}, 90 %: ${row.querySelector("[data-interval]").textContent}`));
      if (reason) pairs.push(...pair("predicted", `not known: ${reason.textContent}`));
      for (const cell of row.querySelectorAll("[data-layer]")) {
        if (!cell.textContent) continue;
        const of = cell.dataset.madeOf ? ` of ${cell.dataset.madeOf}` : "";
        pairs.push(...pair(cell.dataset.layer, `${cell.textContent}${of}`));
      }
    }
    const near = readings.reduce((best, one) => (best && Math.abs(best.value - at) <= Math.abs(one.value - at) ? best : one), null);
    if (near) pairs.push(...pair("nearest reading", near.textContent));
    document.getElementById("here").replaceChildren(...pairs);
    const said = pairs.filter((one) => one.tagName === "DD").map((one) => one.textContent);
    slider.setAttribute("aria-valuetext", `${told(at)}: ${said.join("; ")}`);
  }

  function under(event) {
    const box = picture.getBoundingClientRect();
    const x = ((event.clientX - box.left) / box.width) * width;
    show(start + ((x - x0) / (x1 - x0)) * (end - start));
  }

  picture.addEventListener("pointermove", under);
  picture.addEventListener("pointerdown", under);
  slider.addEventListener("input", () => show(Number(slider.value)));
  // A click on the drawing leaves the keys with the figure, a step with Tab further they are the slider's.
  figure.addEventListener("keydown", (event) => {
    const by = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1, PageUp: 12, PageDown: -12 }[event.key];
    if (by === undefined || event.ctrlKey || event.altKey || event.metaKey) return;
    event.preventDefault();
    show((Math.round(Number(slider.value) / stepMm) + by) * stepMm);
    const x = (Number(cursor.getAttribute("x1")) / width) * picture.getBoundingClientRect().width;
    if (x < figure.scrollLeft || x > figure.scrollLeft + figure.clientWidth) figure.scrollLeft = x - figure.clientWidth / 2;
  });
  show(Math.max(start, 0), false);
}

/** What takes longer to work out than the page itself is fetched when the page is there. */
async function bringMore(link) {
  try {
    const answer = await fetch(`${link.pathname}?more=part`, { headers: { Accept: "text/html" } });
    if (answer.ok) document.getElementById("more").innerHTML = await answer.text();
  } catch {
    // The link stays, and leads to the same.
  }
}
